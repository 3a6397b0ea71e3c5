"""Readings against known truth over the ranges of physiology, 500 blows in each regime.

The ranges stand with their sources in `ebbline.simulate.ranges.TYPICAL`; the same code over ten
thousand and more is ``python -m benchmarks.coverage`` (docs/explanation/coverage.md).
"""

from functools import lru_cache

import numpy as np
import pytest

from benchmarks.coverage import BAD, KINDS, Outcome, many, score
from ebbline.simulate.exhalation import Event
from ebbline.simulate.ranges import Kind

SEED = 20261125
COUNT = 500


@lru_cache(maxsize=3)
def found(kind: Kind) -> list[Outcome]:
    """Return the outcomes of one regime, computed once."""
    return many(kind, COUNT, SEED, None, flow=True)


@pytest.mark.parametrize("gas", [0, 1], ids=["h2", "ch4"])
@pytest.mark.parametrize("kind", KINDS)
def test_readings_are_true_and_their_intervals_hold(kind: Kind, gas: int) -> None:
    """Bias below 1 % or 0.3 ppm, 93 to 97 % of 95 % intervals, a third of the habits' error."""
    s = score(found(kind), gas)
    assert s.count >= 350
    assert abs(s.bias) < s.largest_bias
    assert 0.93 <= s.covered <= 0.97
    assert s.error <= s.last_error / 3.0
    assert s.error <= s.highest_error / 3.0


@pytest.mark.parametrize("kind", KINDS)
def test_few_good_blows_are_refused(kind: Kind) -> None:
    """At most 2 % of blows of 3 s or more in which nothing went wrong."""
    good = [one for one in found(kind) if one.good]
    assert len(good) >= 350
    assert sum(one.quality == "refused" for one in good) <= 0.02 * len(good)


@pytest.mark.parametrize("kind", ["chamber", "bag"])
def test_a_chamber_is_watched_for_less_than_three_fifths_of_its_response(kind: Kind) -> None:
    """The median cycle over the time to 99 %, at 1 ppm or 5 %."""
    shares = [one.cycle_share for one in found(kind) if one.quality != "refused"]
    assert np.nanmedian(shares) <= 0.6


@pytest.mark.parametrize("flow", [True, False], ids=["flow", "no flow"])
@pytest.mark.parametrize("event", BAD)
@pytest.mark.parametrize("kind", ["stream", "chamber"])
def test_a_bad_blow_is_never_accepted(kind: Kind, event: Event, flow: bool) -> None:
    """Neither an inhalation nor an early stop passes, with or without a flow sensor."""
    outcomes = many(kind, 100, SEED + 1, (event,), flow=flow)
    assert {one.quality for one in outcomes} == {"refused"}


@pytest.mark.parametrize("kind", KINDS)
def test_gas_too_dilute_is_never_accepted(kind: Kind) -> None:
    """Whatever happened: below the limit of the alveolar fraction nothing counts."""
    dilute = [one for one in found(kind) if one.too_dilute]
    assert all(one.quality == "refused" for one in dilute)
    assert len(dilute) >= 5
