import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.integrate import cumulative_trapezoid

from ebbline.core.errors import SettingError
from ebbline.simulate.exhalation import (
    Flow,
    Hold,
    Hyperventilation,
)
from tests.simulate.givens import BLOW, BREATH, COUGH, PERSON


@pytest.mark.parametrize(
    ("flow", "seconds"),
    [
        (Flow("constant", 0.25, 0.25), 8.0),
        (Flow("ramp", 0.1, 0.4), 8.0),
        (Flow("decaying", 0.4, 0.2), 2.0 * math.log(2.0) / 0.2),
    ],
)
def test_the_flow_carries_the_planned_volume_in_its_time(flow: Flow, seconds: float) -> None:
    """And runs from the first rate to the last, which the volume at each moment agrees with."""
    assert_allclose(flow.seconds(2.0, 2.0), seconds)
    at = np.linspace(0.0, seconds, 2001)
    volume = flow.volume_l(at, 2.0)
    rate = flow.rate_l_per_s(volume, 2.0)
    assert_allclose(volume[[0, -1]], [0.0, 2.0], atol=1e-12)
    assert_allclose(rate[[0, -1]], [flow.start_l_per_s, flow.end_l_per_s])
    assert_allclose(cumulative_trapezoid(rate, at, initial=0), volume, atol=1e-6)
    assert_allclose([flow.seconds(float(v), 2.0) for v in volume[::200]], at[::200], atol=1e-12)


@pytest.mark.parametrize(
    ("part", "change", "text"),
    [
        ("person", {"dead_space_l": 0.001}, "person dead_space_l cannot be used; allowed: 0.01 to"),
        ("person", {"lung_l": math.nan}, "person lung_l cannot be used; allowed: 0.1 to 10"),
        ("person", {"transition_l": 0.2}, "person transition_l cannot be used; allowed: 0.0001 to"),
        ("", {"expired_l": 0.2}, "expired_l cannot be used; allowed: 0.22 to 10; came: 0.2"),
        ("", {"apparatus_l": -0.1}, "apparatus_l cannot be used; allowed: 0 to 1; came: -0.1"),
        ("", {"stop_l": 2.5}, "stop_l cannot be used; allowed: 0.001 to 2; came: 2.5"),
        ("", {"flow": Flow("constant", 20.0, 20.0)}, "flow start_l_per_s cannot be used"),
        ("", {"hold": Hold(90.0, 0.0, 0.0, 0.0)}, "hold seconds cannot be used; allowed: 0 to 60"),
        ("", {"hyperventilation": Hyperventilation(2.0, 1.0)}, "hyperventilation marker_share"),
        ("", {"cough": replace(COUGH, spike=0.5)}, "cough spike cannot be used; allowed: 1 to 20"),
        ("", {"inhalation": replace(BREATH, volume_l=9.0)}, "inhalation volume_l cannot be used"),
    ],
)
def test_a_setting_outside_its_limits_is_refused(
    part: str, change: dict[str, Any], text: str
) -> None:
    """The message names it, its limits and what came."""
    with pytest.raises(SettingError) as caught:
        replace(BLOW, **({"person": replace(PERSON, **change)} if part else change))
    assert str(caught.value).startswith(f"virtual {text}")


def test_a_flow_that_is_not_of_its_kind_is_refused() -> None:
    """A constant flow has one rate and a decaying one falls."""
    for kind, start, end in (("constant", 0.2, 0.3), ("decaying", 0.2, 0.2)):
        with pytest.raises(SettingError) as caught:
            Flow("constant" if kind == "constant" else "decaying", start, end)
        assert str(caught.value) == (
            "virtual flow cannot be used; allowed: constant with equal flows, decaying with a "
            f"lower flow at the end, or ramp; came: {kind} from {start:g} to {end:g} L/s"
        )
