import numpy as np
import pytest
from numpy.testing import assert_allclose

from ebbline.core.curve.normal import REACH, bell_nodes, normal_cdf, normal_pdf


@pytest.mark.parametrize(("x", "value"), [(6.0, 1.0), (-6.0, 0.0), (0.0, 0.5)])
def test_far_out_the_distribution_function_is_0_or_1(x: float, value: float) -> None:
    """Beyond 5.5 sd the rest is 2e-8."""
    assert normal_cdf(x) == value


def test_the_two_tails_mirror_each_other() -> None:
    """A symmetric density."""
    x = np.linspace(0.1, 5.4, 20)
    assert_allclose([normal_cdf(-a) for a in x], [1.0 - normal_cdf(a) for a in x], atol=1e-15)
    assert_allclose([normal_pdf(-a) for a in x], [normal_pdf(a) for a in x], rtol=1e-15)


@pytest.mark.parametrize("sharpness", [0.0, 0.3, 2.0, 10.0])
def test_the_nodes_reach_the_tails_and_grow_finer_with_what_is_averaged(sharpness: float) -> None:
    """The trapezoids over the nodes give the average of a step so much sharper than the bell."""
    nodes, step = bell_nodes(sharpness)
    assert nodes * step >= REACH
    z = np.arange(-nodes, nodes + 1) * step
    weight = np.exp(-0.5 * z * z)
    average = np.sum(weight * [normal_cdf(1.0 + sharpness * a) for a in z]) / np.sum(weight)
    assert_allclose(average, normal_cdf(1.0 / np.hypot(1.0, sharpness)), rtol=0, atol=1e-5)
