from dataclasses import replace
from typing import Any

import pytest

from ebbline.core.errors import InputError, ProfileError, TraceFileError
from ebbline.services.prepare_cycle import Said
from ebbline.services.reduce_traces import ReducedTrace, ReduceTraces
from tests.helpers import library
from tests.services.instruments import (
    AnInstrument,
    ARecord,
    Shelf,
    a_trace,
    an_instrument,
)

STREAM = an_instrument()
BLOW = ARecord("a.csv", a_trace(STREAM), kind="blow", on_for_min=30.0)
NOTHING: dict[str, Any] = dict.fromkeys(("method", "begun_s", "on_for_min", "reference"))


def run(
    *records: ARecord, instrument: AnInstrument = STREAM, profile: str = "our.toml", **said: Any
) -> list[ReducedTrace]:
    """Reduce records."""
    shelf = Shelf(instrument, *records)
    use_case = ReduceTraces(library(), shelf.read_trace, shelf.read_instrument)
    names = [record.file for record in records]
    return use_case(names, profile=profile, said=Said(**{**NOTHING, **said}))


def codes(reduced: ReducedTrace) -> list[str]:
    """Return the codes of the reasons against a breath."""
    return [reason.code for reason in reduced.reduction.reasons]


def test_traces_are_answered_in_the_order_given() -> None:
    """One reduction each, with what it was reduced by."""
    results = run(replace(BLOW, file="b.csv"), BLOW)
    assert [one.file for one in results] == ["b.csv", "a.csv"]
    assert {one.engine for one in results} == {library().engine}
    assert {one.instrument for one in results} == {"our analyser"}
    assert results[0].words == library().quality
    assert results[0].reduction.settings == library().reduction


def test_a_level_breath_is_accepted_with_its_value() -> None:
    """40 ppm of H2 and 8 ppm of CH4 at full alveolar fraction."""
    (reduced,) = run(BLOW)
    reading = reduced.reduction.reading
    assert (reduced.reduction.quality, codes(reduced)) == ("accepted", [])
    assert reading is not None
    assert reading.h2.raw_ppm == pytest.approx(40.0, abs=0.5)
    assert reading.ch4 is not None
    assert reading.ch4.raw_ppm == pytest.approx(8.0, abs=0.5)


def test_one_file_that_is_refused_leaves_all_unanswered() -> None:
    """All are read before anything is answered."""
    shelf = Shelf(STREAM, BLOW)
    use_case = ReduceTraces(library(), shelf.read_trace, shelf.read_instrument)
    with pytest.raises(TraceFileError, match=r"b\.csv: no such file"):
        use_case(["a.csv", "b.csv"], profile="our.toml", said=Said(**NOTHING))


def test_a_profile_that_is_refused_is_said_before_any_trace_is_read() -> None:
    """Nothing can be reduced without one."""
    with pytest.raises(ProfileError, match=r"other\.toml: no such file"):
        run(BLOW, profile="other.toml")


def test_a_trace_that_is_neither_blow_nor_bag_is_refused() -> None:
    """The head says it, or a person does."""
    with pytest.raises(InputError) as caught:
        run(replace(BLOW, kind=None))
    assert str(caught.value) == (
        "a.csv: it is not said whether a patient blew or a bag was emptied; allowed: a line "
        "'# kind: blow' or '# kind: bag' in the head, or --blow or --bag; came: neither"
    )
    assert run(replace(BLOW, kind=None), method="blow")[0].reduction.method == "blow"


def test_what_a_person_says_overrides_the_head() -> None:
    """Kind and warm-up."""
    (reduced,) = run(BLOW, on_for_min=5.0)
    assert (reduced.on_for_min, codes(reduced)) == (5.0, ["still_warming"])
    (bag,) = run(
        replace(BLOW, trace=a_trace(an_instrument(regime="chamber"), breath_s=(65.0, 999.0))),
        instrument=an_instrument(regime="chamber"),
        method="bag",
    )
    assert bag.reduction.method == "bag"


def test_a_warm_up_that_nobody_knows_is_not_judged() -> None:
    """It is told as not known."""
    (reduced,) = run(replace(BLOW, on_for_min=None))
    assert (reduced.on_for_min, codes(reduced)) == (None, [])


def test_a_trace_that_cannot_be_reduced_is_refused_by_its_name() -> None:
    """Here nothing shows when breath began."""
    h2_only = an_instrument("h2_ppm", regime="chamber")
    record = ARecord("h2.csv", a_trace(h2_only, breath_s=(65.0, 999.0)), kind="bag")
    with pytest.raises(InputError, match=r"^h2\.csv: reduction: nothing shows when breath began"):
        run(record, instrument=h2_only)


def test_without_a_marker_a_person_says_when_it_began() -> None:
    """In the head, or beside it; what is said beside it counts."""
    h2_only = an_instrument("h2_ppm", regime="chamber")
    record = ARecord("h2.csv", a_trace(h2_only, breath_s=(65.0, 999.0)), kind="bag", begun_s=65.0)
    (reduced,) = run(record, instrument=h2_only)
    assert reduced.reduction.times.onset_s == 65.0
    assert reduced.marker is None
    (later,) = run(record, instrument=h2_only, begun_s=66.0)
    assert later.reduction.times.onset_s == 66.0


def test_the_marker_is_the_first_one_that_has_a_value() -> None:
    """CO2 where O2 was not measured, or where it was asked for."""
    assert run(BLOW)[0].marker == library().markers["o2"]
    without_o2 = replace(BLOW, trace=a_trace(STREAM, without=("o2_pct",)))
    (reduced,) = run(without_o2)
    assert reduced.marker == library().markers["co2"]
    assert reduced.remarks == ("The profile has o2_pct and the trace does not.",)
    (asked,) = run(BLOW, reference="co2 5.5")
    assert asked.marker == replace(library().markers["co2"], alveolar_pct=5.5)


@pytest.mark.parametrize(("record", "instrument"), [(True, False), (False, True)])
def test_what_is_invented_anywhere_is_invented(record: bool, instrument: bool) -> None:
    """Trace or profile."""
    (reduced,) = run(
        replace(BLOW, invented=record), instrument=replace(STREAM, invented=instrument)
    )
    assert reduced.invented
    assert not run(BLOW)[0].invented
