import numpy as np
import pytest
from numpy.testing import assert_allclose

from ebbline.core.breath.cycle import Cycle, marker_channel
from ebbline.core.breath.sensor import Sensor, Sensors
from ebbline.core.breath.trace import Channel
from ebbline.core.errors import InputError
from tests.core.breath.givens import (
    DILUTION,
    FAST,
    MARKERS,
    PERCENT,
    SETTINGS,
    SLOW,
    STREAM,
    a_sensor,
    without,
)
from tests.helpers import a_dilution


def a_cycle(sensors: Sensors, *leave_out: str) -> Cycle:
    """Return a blow with these channels and without some markers."""
    return Cycle(sensors, "blow", SETTINGS, without(DILUTION, *leave_out))


@pytest.mark.parametrize(
    ("sensors", "came"), [({}, "none"), ({"ch4_ppm": FAST, "o2_pct": PERCENT}, "ch4_ppm, o2_pct")]
)
def test_a_cycle_without_hydrogen_is_refused(sensors: Sensors, came: str) -> None:
    """The test is about hydrogen; the message lists what came."""
    with pytest.raises(InputError) as caught:
        a_cycle(sensors)
    assert str(caught.value) == (
        f"reduction: channels cannot be used; allowed: h2_ppm among them; came: {came}"
    )


def test_a_channel_without_a_reference_for_room_air_is_refused() -> None:
    """Its zero could not be told."""
    with pytest.raises(InputError) as caught:
        a_cycle(STREAM, "co2")
    assert str(caught.value) == (
        "reduction: a channel has no reference for room air; allowed: h2_ppm, ch4_ppm or o2_pct; "
        "came: co2_pct"
    )


def test_room_air_is_that_of_the_references() -> None:
    """Trace gases in ppm and markers in percent."""
    dilution = a_dilution(*MARKERS, ambient_h2_ppm=0.5, ambient_ch4_ppm=1.9)
    cycle = Cycle(STREAM, "blow", SETTINGS, dilution)
    assert_allclose([cycle.ambient(name) for name in STREAM], [0.5, 1.9, 20.9, 0.04])


def test_the_first_marker_that_the_analyser_has_is_watched() -> None:
    """In the order of the service's references; None where it has neither."""
    watched = a_cycle(STREAM).watched
    assert watched is not None
    assert (watched.channel, watched.sensor) == ("o2_pct", PERCENT)
    watched = a_cycle({"h2_ppm": FAST, "co2_pct": PERCENT}).watched
    assert watched is not None
    assert watched.channel == "co2_pct"
    assert Cycle({"h2_ppm": FAST}, "bag", SETTINGS, DILUTION).watched is None
    assert [marker_channel(marker) for marker in MARKERS] == ["o2_pct", "co2_pct"]


def test_a_share_is_the_way_from_room_air_to_alveolar_gas() -> None:
    """For both markers, gaps kept; the noise of one sample is a share too."""
    oxygen = a_cycle(STREAM).watched
    carbon = a_cycle({"h2_ppm": FAST, "co2_pct": a_sensor(noise=0.1)}).watched
    assert oxygen is not None
    assert carbon is not None
    assert_allclose(oxygen.share(np.array([20.9, 17.4, np.nan, 13.9])), [0.0, 0.5, np.nan, 1.0])
    assert_allclose(carbon.share(np.array([0.04, 2.52, 5.0])), [0.0, 0.5, 1.0])
    assert_allclose([oxygen.sd_share, carbon.sd_share], [0.02 / 7.0, 0.1 / 4.96])


@pytest.mark.parametrize("marker", [{}, {"o2_pct": SLOW}], ids=["no marker", "one in the chamber"])
def test_a_blow_that_nothing_shows_is_refused(marker: dict[Channel, Sensor]) -> None:
    """A stream needs a marker that sees it pass; a bag or a chamber does not."""
    sensors = {"h2_ppm": FAST, **marker}
    with pytest.raises(InputError) as caught:
        Cycle(sensors, "blow", SETTINGS, DILUTION)
    assert str(caught.value) == (
        "reduction: a blow cannot be seen as it passes; allowed: O2 or CO2 of the stream regime "
        "among the channels; came: h2_ppm of it"
    )
    assert Cycle(sensors, "bag", SETTINGS, DILUTION).method == "bag"
    assert Cycle({"h2_ppm": SLOW, **marker}, "blow", SETTINGS, DILUTION).method == "blow"
