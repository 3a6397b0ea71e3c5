from ebbline.adapters.pdf.facts import (
    RECORD_FACTS,
    in_one_line,
    record_identity,
    rows_of,
)
from ebbline.core.rules.interpretation import Interpretation
from tests.adapters.pdf.issues import FACTS, adult, with_facts


def told(interpretation: Interpretation) -> dict[str, str]:
    """Return every identity field of a record by its label."""
    columns = record_identity(interpretation)
    return {one["label"]: one["value"] for column in columns for line in column for one in line}


def test_rows_have_the_cells_that_are_asked_for() -> None:
    """What is missing is empty, what is more joins the last, and empty lines are no rows."""
    assert rows_of("a\tb\tc\n\nd\ne\tf\tg\th", 3) == [
        ["a", "b", "c"],
        ["d", "", ""],
        ["e", "f", "g, h"],
    ]
    assert rows_of("", 3) == []
    assert in_one_line(" a \n\nb") == "a; b"


def test_a_record_tells_what_a_file_does_not() -> None:
    """Second identifier, request, method, check of the day, dose and definition of minute 0."""
    found = told(with_facts(adult(), {"t0_defined_as": "start of the drink"}))
    assert found["National no."] == "INV 943 476"
    assert found["Requested"] == "2026-10-30"
    assert found["Method"] == "electrochemical cells"
    assert found["Check that day"] == "passed at 08:05 by R. Tamsin"
    assert found["Dose"] == "1 g/kg × 71 kg = 71 g, limit 25 g reached"
    assert found["Minute 0 is"] == "start of the drink"


def test_surgery_and_kit_join_the_fields_they_belong_to() -> None:
    """Which surgery stands behind yes, and the kit behind the site."""
    found = told(
        with_facts(
            adult(), {"surgery": "yes", "surgery_words": "Billroth II, 2009", "kit_no": "88-1"}
        )
    )
    assert found["Surgery"] == "yes, Billroth II, 2009"
    assert found["Site"] == "Room 2, home kit no. 88-1"
    assert told(with_facts(adult(), {"site": "", "kit_no": "88-1"}))["Site"] == "home kit no. 88-1"


def test_nothing_is_told_twice_and_nothing_is_lost() -> None:
    """Settings are in the methods, conduct in its section; a fact without a place comes last."""
    found = told(with_facts(adult(), {"criterion": "north-american-2017", "chair": "4"}))
    assert found["Chair"] == "4"
    for label in ("Criterion", "Baselines", "Preparation items", "Events", "Surgery words"):
        assert label not in found


def test_every_fact_of_a_record_is_known_to_the_examples() -> None:
    """Only kits and surgery are left to tests of their own."""
    assert set(RECORD_FACTS) - set(FACTS) == {"kit_no", "surgery_words"}
