from dataclasses import replace

from ebbline.adapters.pdf.conduct import baseline_rows, conduct_lines, preparation_rows
from ebbline.core.rules.interpretation import Interpretation
from tests.adapters.pdf.issues import adult, with_facts


def told(interpretation: Interpretation, stopped: str = "") -> dict[str, str]:
    """Return every field of the conduct by its label."""
    lines = conduct_lines(interpretation, stopped=stopped)
    return {one["label"]: one["value"] for line in lines for one in line}


def test_preparation_is_told_line_by_line() -> None:
    """Item, answer, and the decision where it was not kept."""
    rows = preparation_rows(adult())
    assert len(rows) == 8
    assert rows[0] == ["Medicines as prescribed", "yes", ""]
    assert rows[-1] == [
        "Teeth brushed",
        "no",
        "went ahead after a rinse, K. Dune: brushed the night before",
    ]


def test_every_baseline_is_told_with_its_use() -> None:
    """B1 was not used, and why."""
    assert baseline_rows(adult()) == [
        ["B1", "08:31", "H2 22 ppm, CH4 4 ppm", "not used: before the rinse"],
        ["B2", "08:46", "H2 6 ppm, CH4 3 ppm", "used"],
    ]


def test_what_was_missed_repeated_or_off_its_time_is_told(
    glucose: Interpretation, with_a_missed_sample: Interpretation
) -> None:
    """With the operator's note; being off counts from the tolerance of the settings on."""
    assert told(with_a_missed_sample)["Missed"] == "60 min (patient was out of the room)"
    assert told(with_a_missed_sample)["Repeated"] == "none"
    assert told(glucose)["Repeated"] == "28 min (stopped blowing too soon)"
    assert told(glucose)["Off their time"] == "none by more than 3 min"
    strict = replace(glucose, settings=replace(glucose.settings, minute_tolerance=1.0))
    assert told(strict)["Off their time"] == "75 min, 2 min late"
    early = replace(strict.samples[3], planned_minute=32.5)
    samples = (*strict.samples[:3], early, *strict.samples[4:])
    assert told(replace(strict, samples=samples))["Off their time"] == (
        "32.5 min, 2.5 min early; 75 min, 2 min late"
    )
    unplanned = tuple(replace(one, planned_minute=None) for one in strict.samples)
    assert told(replace(strict, samples=unplanned))["Off their time"] == "none by more than 1 min"


def test_a_try_that_a_later_one_replaced_was_repeated(glucose: Interpretation) -> None:
    """Without a note the minute stands alone."""
    replaced = replace(glucose.not_counted[0], reason="replaced", note="")
    assert told(replace(glucose, not_counted=(replaced,)))["Repeated"] == "28 min"


def test_the_rest_is_told_as_it_was_recorded(hydrogen_only: Interpretation) -> None:
    """What nobody recorded stays empty, but no event and no early stop are facts of a record."""
    found = told(adult(), "after 120 min: the patient was tired")
    assert found["Stopped early"] == "after 120 min: the patient was tired"
    assert found["Events"] == "08:33 rinsed; 10:20 walked to the window"
    assert found["Stored samples"] == "not stored"
    assert found["Earlier tests"] == "2025-03-02 glucose: criterion not met"
    assert found["Baseline used"] == "B2, the last: B1 fell after rinsing; K. Dune"
    bare = told(hydrogen_only)
    assert (bare["Stopped early"], bare["Events"]) == ("no", "none recorded")
    assert (bare["Stored samples"], bare["Earlier tests"], bare["Baseline used"]) == ("", "", "")


def test_another_baseline_is_told_where_it_was_looked_at() -> None:
    """Below the one that was used; a test with one fasting sample has no such line."""
    told = with_facts(adult(), {"baseline_effect": "the findings are the same"})
    assert conduct_lines(told, stopped="")[1] == [
        {"label": "Another baseline", "value": "the findings are the same"}
    ]


def test_two_short_fields_share_a_line() -> None:
    """A long one has a line of its own."""
    lines = conduct_lines(adult(), stopped="")
    assert [[one["label"] for one in line] for line in lines] == [
        ["Baseline used"],
        ["Missed", "Repeated"],
        ["Stopped early", "Stored samples"],
        ["Off their time"],
        ["Events"],
        ["Earlier tests"],
    ]
    long = conduct_lines(with_facts(adult(), {"sample_age": "2 h to 3 h in bags"}), stopped="")
    assert [one["label"] for one in long[2]] == ["Stopped early"]
