"""Rows of the virtual analyser: room air, a breath, room air again."""

from dataclasses import replace
from itertools import islice

import numpy as np
import pytest
from numpy.testing import assert_allclose
from numpy.typing import NDArray

from ebbline.adapters.instrument.profile import Profile, What
from ebbline.adapters.instrument.virtual_rows import virtual_rows
from tests.adapters.instrument.live import CHAMBER, SERIAL, STREAM


def first(profile: Profile, what: What, seconds: int) -> NDArray[np.float64]:
    """Return time and H2 of so many seconds, (n_lines, 2)."""
    rows = islice(virtual_rows(profile, what=what, seed=4), 10 * seconds)
    return np.array([(time_s, values["h2_ppm"]) for time_s, values in rows])


def test_the_same_seed_gives_the_same_rows_and_another_others() -> None:
    """A lesson can be given twice."""
    rows = list(islice(virtual_rows(STREAM, what="stream", seed=4), 900))
    assert rows == list(islice(virtual_rows(STREAM, what="stream", seed=4), 900))
    assert rows != list(islice(virtual_rows(STREAM, what="stream", seed=5), 900))


@pytest.mark.parametrize(
    ("profile", "what"), [(STREAM, "stream"), (SERIAL, "chamber"), (CHAMBER, "bag")]
)
def test_rows_have_the_profiles_channels_ten_times_a_second(profile: Profile, what: What) -> None:
    """Times rise over two breaths and more."""
    rows = list(islice(virtual_rows(profile, what=what, seed=4), 5000))
    assert set(rows[0][1]) == {one.channel for one in profile.channels}
    gaps = np.diff([time_s for time_s, _ in rows])
    assert np.all(gaps > 0.0)
    assert_allclose(gaps, 0.1, atol=0.03)


@pytest.mark.parametrize("seed", range(12))
def test_the_first_breath_goes_well(seed: int) -> None:
    """O2 falls to alveolar air and stays for 2 s and more; later ones may stop early."""
    rows = list(islice(virtual_rows(STREAM, what="stream", seed=seed), 1200))
    o2 = np.array([values["o2_pct"] for time_s, values in rows if time_s < 100.0])
    assert np.count_nonzero(o2 < 16.0) > 20


def test_room_air_stands_for_65_s_before_the_first_breath() -> None:
    """With the invented room and offset: H2 at 1.6 ppm, and its noise."""
    time_s, h2 = first(STREAM, "stream", 64).T
    assert time_s[0] < 0.1
    assert abs(float(np.mean(h2)) - 1.6) < 0.1
    assert 0.4 < float(np.std(h2)) < 0.8


def test_a_breath_comes_after_room_air() -> None:
    """H2 rises far above the noise soon after 65 s."""
    time_s, h2 = first(STREAM, "stream", 85).T
    high = time_s[h2 > 10.0]
    assert high.size > 0
    assert high[0] > 65.0


def test_a_slow_sensor_comes_down_to_room_air_before_the_next_breath() -> None:
    """What is left of the breath before goes with its time constant, without a step."""
    quiet = {
        name: replace(one, noise=0.01, noise_fraction=0.0, resolution=0.0)
        for name, one in CHAMBER.sensors.items()
    }
    time_s, h2 = first(replace(CHAMBER, sensors=quiet), "bag", 400).T
    # The next breath comes after 330 s at the earliest.
    top = int(np.argmax(h2[:2400]))
    assert 160.0 < time_s[top] < 200.0
    # 6 time constants leave 0.25 % of the step; the delay and 65 s of room air come on top.
    settled = top + 10 * 150
    assert_allclose(h2[settled - 200 : settled], 1.6, atol=0.05 + 0.0025 * h2[top])
    falls = h2[top + 30 : top + 600]
    assert np.all(np.diff(falls) < 0.1)
    assert np.max(np.abs(np.diff(falls))) < 0.02 * h2[top]
