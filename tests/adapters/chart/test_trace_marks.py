import numpy as np
from numpy.testing import assert_allclose

from ebbline.adapters.chart.theme import PRINT
from ebbline.adapters.chart.trace_frame import time_frame
from ebbline.adapters.chart.trace_marks import Stretch, gas_fitted, gas_samples, stretches, thinned
from ebbline.adapters.chart.trace_parts import Fitted, Gas, Samples

FRAME = time_frame(0.0, 10.0, 0.0, 50.0, width=400.0, height=200.0)


def samples(count: int) -> Samples:
    """Return a level record with one peak and one dip."""
    value = np.full(count, 20.0)
    value[count // 3], value[count // 2] = 45.0, 1.0
    return Samples(np.linspace(0.0, 10.0, count), value, np.zeros(count, np.intp))


def gas(name: str, record: Samples, fitted: Fitted | None = None) -> Gas:
    """Return a gas without a value."""
    return Gas(name, record, None, fitted)


def test_a_long_record_keeps_its_ends_its_peak_and_its_dip() -> None:
    """What is thinned is no smoother than what was measured."""
    kept = thinned(samples(8000))
    assert kept.time_s.size <= 262
    assert_allclose(kept.time_s[[0, -1]], [0.0, 10.0])
    assert_allclose([kept.value.max(), kept.value.min()], [45.0, 1.0])
    assert np.all(np.diff(kept.time_s) > 0.0)


def test_a_short_record_is_drawn_sample_by_sample() -> None:
    """Nothing is left out where there is room."""
    record = samples(260)
    assert thinned(record) is record


def test_markers_of_two_gases_stand_at_different_samples() -> None:
    """Where both lie at one level neither hides the other."""
    record = samples(160)
    h2 = gas_samples(gas("h2", record), FRAME, "#332288", PRINT)[1]["data"]["values"]
    ch4 = gas_samples(gas("ch4", record), FRAME, "#117733", PRINT)[1]["data"]["values"]
    assert 8 <= len(h2) <= 16
    assert {row["s"] for row in h2}.isdisjoint(row["s"] for row in ch4)


def test_a_gas_without_samples_has_no_marks() -> None:
    """A channel may be all gap."""
    empty = Samples(np.empty(0), np.empty(0), np.empty(0, np.intp))
    assert gas_samples(gas("h2", empty), FRAME, "#332288", PRINT) == []
    assert gas_fitted(gas("h2", empty), FRAME, "#332288", counts=True) == []


def test_a_band_ends_where_the_plot_does() -> None:
    """An uncertainty larger than the picture does not draw over its words."""
    fitted = Fitted(2.0, 8.0, 20.0, 22.0, 100.0, settles=False)
    band = gas_fitted(gas("h2", samples(10), fitted), FRAME, "#332288", counts=True)[0]
    for row in band["data"]["values"]:
        assert (row["low"], row["high"]) == (0.0, 50.0)


def test_a_bracket_has_an_end_at_each_side_of_a_part() -> None:
    """Without parts there is none."""
    line, ends = stretches((Stretch(2.0, 4.0, "I", "dead space"),), 210.0, PRINT)
    assert [(row["s"], row["to_s"]) for row in line["data"]["values"]] == [(2.0, 4.0)]
    assert [row["s"] for row in ends["data"]["values"]] == [2.0, 4.0]
    assert stretches((), 210.0, PRINT) == []
