"""The document of a reduced trace: what is in it, and the schema that describes it."""

import json
from typing import Any

import jsonschema
import numpy as np
import pytest

from ebbline.adapters.files.library import DATA
from ebbline.adapters.files.reduction_document import document, document_line
from ebbline.core.breath.reading import Reading
from ebbline.core.breath.trace import Trace
from ebbline.services.prepare_cycle import Said
from ebbline.services.reduce_traces import ReducedTrace, ReduceTraces
from tests.helpers import known, library
from tests.services.instruments import (
    AnInstrument,
    ARecord,
    Shelf,
    a_trace,
    an_instrument,
    with_sensor,
)

SCHEMA = json.loads((DATA / "schema" / "reduction.v1.json").read_text(encoding="utf-8"))
STREAM = an_instrument()
CHAMBER = an_instrument(regime="chamber")
H2_ONLY = an_instrument("h2_ppm")
BAG = a_trace(CHAMBER, breath_s=(65.0, 999.0), end_s=120.0)
EMPTY = Trace(
    time_s=np.arange(0.0, 80.0, 0.1),
    h2_ppm=np.full(800, np.nan),
    ch4_ppm=None,
    o2_pct=np.full(800, 20.9),
    co2_pct=None,
    flow_l_per_s=None,
)


def reduced(
    trace: Trace, instrument: AnInstrument = STREAM, **record: Any
) -> tuple[ReducedTrace, dict[str, Any]]:
    """Return a reduced trace and its document, as it is read back."""
    shelf = Shelf(instrument, ARecord("a.csv", trace, **{"kind": "blow", **record}))
    use_case = ReduceTraces(library(), shelf.read_trace, shelf.read_instrument)
    said = Said(method=None, begun_s=None, on_for_min=None, reference=None)
    (result,) = use_case(["a.csv"], profile="our.toml", said=said)
    line = document_line(result)
    assert "\n" not in line
    return result, json.loads(line)


def reading_of(result: ReducedTrace) -> Reading:
    """Return the reading, which must be there."""
    assert result.reduction.reading is not None
    return result.reduction.reading


def test_the_schema_is_a_schema() -> None:
    """It follows the draft that it names."""
    jsonschema.Draft202012Validator.check_schema(SCHEMA)


@pytest.mark.parametrize(
    ("trace", "instrument", "record"),
    [
        (a_trace(STREAM), STREAM, {}),
        (BAG, CHAMBER, {"kind": "bag", "on_for_min": 3.0}),
        (a_trace(STREAM, breath_s=(65.0, 66.0)), STREAM, {"invented": True}),
        (EMPTY, an_instrument("h2_ppm", "o2_pct"), {}),
        (a_trace(H2_ONLY, breath_s=(65.0, 999.0)), H2_ONLY, {"kind": "bag", "begun_s": 65.0}),
        (
            a_trace(STREAM, without=("ch4_ppm",)),
            with_sensor(STREAM, "h2_ppm", u_gain_fraction=None),
            {"facts": {"note": "x"}, "unused": {"Room": "3"}},
        ),
    ],
    ids=["blow", "bag", "short", "empty", "no marker", "no calibration"],
)
def test_every_document_is_as_the_schema_says(
    trace: Trace, instrument: AnInstrument, record: dict[str, Any]
) -> None:
    """Accepted, refused, without a reading, without a marker."""
    _, found = reduced(trace, instrument, **record)
    jsonschema.validate(found, SCHEMA, cls=jsonschema.Draft202012Validator)


def test_numbers_are_rounded_nowhere() -> None:
    """The document has the reading's own bits."""
    result, found = reduced(a_trace(STREAM))
    reading = reading_of(result)
    assert found["reading"]["h2_ppm"]["value"] == reading.h2.value_ppm
    assert found["reading"]["h2_ppm"]["u"] == reading.h2.u_ppm
    assert found["reading"]["alveolar_fraction"] == reading.alveolar_fraction
    assert found["raw"]["h2_ppm"]["value"] == result.reduction.values["h2_ppm"].raw
    assert found["raw"]["h2_ppm"]["farthest_shown"] == result.reduction.values["h2_ppm"].peak
    assert found["covariance"][0][0] == result.reduction.covariance[0, 0]
    assert found["instrument"]["channels"]["o2_pct"]["tau_s"] == (
        result.sensors["o2_pct"].response.tau_s
    )


def test_the_parts_of_u_add_as_squares() -> None:
    """To the whole that stands above them."""
    _, found = reduced(a_trace(STREAM))
    for raw in found["raw"].values():
        assert np.hypot.reduce(list(raw["u_parts"].values())) == pytest.approx(raw["u"], rel=1e-12)


def test_a_calibration_that_is_not_known_is_null_and_not_0() -> None:
    """A program must not take it for a perfect one."""
    instrument = with_sensor(STREAM, "h2_ppm", u_gain_fraction=None)
    _, found = reduced(a_trace(STREAM), instrument)
    assert found["raw"]["h2_ppm"]["u_parts"]["calibration"] is None
    assert found["raw"]["ch4_ppm"]["u_parts"]["calibration"] > 0.0
    assert found["instrument"]["channels"]["h2_ppm"]["u_gain_fraction"] is None


def test_each_reason_comes_with_what_it_means_and_what_to_do() -> None:
    """In the words of data/quality.toml."""
    _, found = reduced(a_trace(STREAM), on_for_min=3.0)
    words = library().quality.reasons["still_warming"]
    assert found["quality"] == "refused"
    (reason,) = found["reasons"]
    assert reason["code"] == "still_warming"
    assert (reason["means"], reason["do"]) == (words.means, words.do)
    assert found["reading"]["h2_ppm"]["value"] is None
    assert found["raw"]["h2_ppm"]["value"] == pytest.approx(40.0, abs=0.5)


def test_a_trace_without_breath_has_no_reading() -> None:
    """Null, not a row of nulls; and no zero."""
    _, found = reduced(EMPTY, an_instrument("h2_ppm", "o2_pct"))
    assert (found["reading"], found["raw"], found["zeros"]) == (None, {}, {})
    assert [reason["code"] for reason in found["reasons"]] == ["no_breath"]


def test_the_document_carries_the_caution_and_what_it_was_reduced_by() -> None:
    """Every reading has both."""
    result, _ = reduced(a_trace(STREAM))
    found = document(result)
    assert found["cautions"] == [library().quality.caution]
    assert found["settings"]["reduction"]["warm_up_s"] == library().reduction.warm_up_s
    assert found["settings"]["dilution"]["markers"][0]["gas"] == "o2"
    assert found["times"]["onset_s"] == known(result.reduction.times.onset_s)
