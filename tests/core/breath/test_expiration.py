"""A blow against time and volume with its lag undone, where the truth is known."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from ebbline.adapters.files.library import load_library
from ebbline.core.breath.cycle import Cycle
from ebbline.core.breath.expiration import Expiration, expiration_of
from ebbline.core.breath.reduce import reduce
from ebbline.simulate.blow import TYPICAL, Blow, known_sensors, trace_of, virtual_blow
from ebbline.simulate.ranges import Span
from tests.core.breath.test_plateau_models import NO, WASHOUT

LIBRARY = load_library()


def described(blow: Blow, *, flow: bool, age_years: float | None = None) -> Expiration | None:
    """Reduce and describe a virtual blow with sensors that are known without error."""
    sensors = known_sensors(np.random.default_rng(0), blow, u_tau_fraction=0.0, u_delay_s=0.0)
    trace = trace_of(blow)
    if not flow:
        trace = replace(trace, flow_l_per_s=None)
    reduction = reduce(
        trace,
        sensors=sensors,
        method="blow" if blow.kind != "bag" else "bag",
        settings=LIBRARY.reduction,
        dilution=LIBRARY.dilution,
        begun_s=None,
        switched_on_s=None,
    )
    cycle = Cycle(sensors, "blow", LIBRARY.reduction, LIBRARY.dilution)
    return expiration_of(
        trace, reduction, cycle, washout=WASHOUT, exhaled_no=NO, age_years=age_years
    )


def a_blow(seed: int, rate_hz: float) -> Blow:
    """Return a good blow at some sampling rate."""
    ranges = replace(TYPICAL, rate_hz=Span(rate_hz, rate_hz), dropped_share=Span(0.0, 0.0))
    return virtual_blow(np.random.default_rng(seed), ranges=ranges, kind="stream", events=())


@pytest.mark.parametrize("seed", range(8))
def test_the_dead_space_of_a_virtual_breath_is_found(seed: int) -> None:
    """At 50 Hz within 20 mL of the middle of the transition, anatomical and apparatus together."""
    blow = a_blow(seed, 50.0)
    found = described(blow, flow=True)
    assert found is not None
    assert found.volumes is not None
    assert_allclose(found.volumes.fowler_l, blow.exhalation.dead_space_l, atol=0.02)
    assert_allclose(found.volumes.expired_l, blow.exhalation.end_l, atol=0.06)
    assert found.no_volumes == ""
    assert found.noise_gain > 0.0


def test_without_flow_there_is_no_volume_and_the_words_say_so() -> None:
    """The blow is still described against time."""
    found = described(a_blow(1, 50.0), flow=False)
    assert found is not None
    assert (found.volumes, found.volume_l) == (None, None)
    assert found.no_volumes == "no flow was measured"


def test_slow_sampling_tells_no_dead_space() -> None:
    """The front passes between two samples."""
    found = described(a_blow(1, 5.0), flow=True)
    assert found is not None
    assert found.volumes is None
    assert found.no_volumes.endswith(" samples a second, at least 10 are needed")


def test_a_bag_is_not_a_blow() -> None:
    """Nothing passes, so there is nothing to describe."""
    bag = virtual_blow(np.random.default_rng(1), ranges=TYPICAL, kind="bag", events=())
    assert described(bag, flow=False) is None
