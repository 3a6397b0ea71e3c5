import math
from itertools import product

import numpy as np
from numpy.testing import assert_allclose, assert_array_equal

from ebbline.core.cohort.compiled import compiled
from ebbline.core.curve.chance import chance_of_reaching
from ebbline.core.curve.measures import areas
from ebbline.core.curve.normal import normal_cdf


def plus_one(x: float) -> float:
    """Return x + 1; a plain function outside the project."""
    return x + 1.0


def test_a_compiled_loop_gives_the_same_answer_to_the_last_bit() -> None:
    """Sums of products in the same order are the same sums."""
    minute = np.array([0.0, 17.0, 30.0, 61.0, 95.0])
    value = np.array([5.0, np.nan, 3.1, 27.7, 14.2])
    assert_array_equal(compiled(areas)(minute, value, 5.5), areas(minute, value, 5.5))


def test_a_compiled_chance_differs_from_the_plain_one_in_the_last_bits_at_most() -> None:
    """Compiled exponentials may differ in the last bit; the chance by 1e-12 at most."""
    mean = np.array([6.0, 5.0, 14.0, 22.0, 18.0])
    sd = np.hypot(1.5, 0.1 * mean)
    moving = np.array([5.5, 0.0, 13.5, 21.5, 0.0])
    twin = compiled(chance_of_reaching)
    for measure, rule, u_gain, u_reference in product((0, 1, 2), (0, 1, 2), (0.0, 0.05), (0, 0.07)):
        first = 0 if measure == 0 else 2
        arguments = (measure, 15.0, mean, sd, moving, 5, 2, first, rule, u_gain, u_reference)
        assert_allclose(twin(*arguments), chance_of_reaching(*arguments), rtol=0, atol=1e-12)


def test_a_function_is_compiled_once() -> None:
    """A second request gives the same twin, with the functions that it calls."""
    assert compiled(normal_cdf) is compiled(normal_cdf)
    assert_allclose(compiled(normal_cdf)(1.0), 0.5 * math.erfc(-math.sqrt(0.5)), rtol=1e-15)


def test_functions_of_other_projects_are_left_to_the_compiler() -> None:
    """Only ebbline's own functions are replaced by their twins."""
    assert compiled(plus_one)(2.0) == 3.0
