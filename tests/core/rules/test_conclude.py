from tests.core.rules.rows import symptom_row
from tests.helpers import (
    VALID,
    build_test,
    finding_of,
    interpreted,
    rule_set,
    statement_row,
)

MINUTES = [0, 60, 120]
SHORT = statement_row(id="h2", needs_minutes=120)
METHANE = statement_row(id="ch4", gas="ch4", threshold_ppm=10, needs_minutes=120)
LONG = statement_row(id="long", gas="ch4", threshold_ppm=10, needs_minutes=180)
BAND = statement_row(id="band", gas="h2_plus_2ch4", threshold_ppm=53, undecided_from_ppm=18,
                     needs_minutes=120)  # fmt: skip
MALABSORPTION = "carbohydrate-malabsorption"


def test_a_positive_finding_tells_the_statements_that_are_met() -> None:
    """And no others."""
    result = interpreted(build_test(MINUTES, [5, 30, 9], [1, 2, 1]), rule_set(SHORT, METHANE))
    (finding,) = result.findings
    assert finding.because == "30 \N{MINUS SIGN} 5 = 25 ppm at 60 min; at least 20 asked"


def test_a_negative_finding_tells_all_its_statements() -> None:
    """Each of them had to be not met."""
    result = interpreted(build_test(MINUTES, [5, 9, 6], [1, 2, 1]), rule_set(SHORT, METHANE))
    assert result.findings[0].because == (
        "9 \N{MINUS SIGN} 5 = 4 ppm at 60 min at most; at least 20 asked. "
        "2 \N{MINUS SIGN} 1 = 1 ppm at 60 min at most; at least 10 asked"
    )


def test_an_indeterminate_finding_tells_what_leaves_it_open() -> None:
    """What cannot be judged, and what lies in a band."""
    result = interpreted(build_test(MINUTES, [5, 9, 6], [1, 9, 1]), rule_set(SHORT, LONG, BAND))
    assert result.findings[0].because == (
        "the last CH4 reading was at 120 min; readings to 180 min are needed before it can be not "
        "met. 27 \N{MINUS SIGN} 7 = 20 ppm at 60 min at most; at least 53 asked; from 18 ppm the "
        "rule set leaves it undecided"
    )


def test_an_invalid_finding_tells_why_the_test_is_invalid() -> None:
    """All validity rows that fail, and no statement."""
    methane = {**VALID, "id": "methane", "gas": "ch4", "threshold_ppm": 1, "says": "Methane"}
    fine = {**VALID, "id": "fine", "threshold_ppm": 90, "says": "not said"}
    own = rule_set(SHORT, validity=[VALID, fine, methane])
    (finding,) = interpreted(build_test(MINUTES, [15, 60, 9], [1, 2, 1]), own).findings
    assert finding.finding == "invalid"
    assert finding.because == "Fasting H2 of 15 ppm or more; Methane"


def test_questions_of_one_rule_set_have_a_finding_each() -> None:
    """Symptoms are apart from malabsorption."""
    own = rule_set(SHORT, symptom_row())
    test = build_test(
        MINUTES, [5, 9, 6], [1, 2, 1], symptoms=[{"pain": 0}, {"pain": 4}, {"pain": 1}]
    )
    result = interpreted(test, own)
    assert finding_of(result, "own", MALABSORPTION).finding == "negative"
    provoked = finding_of(result, "own", "symptoms-provoked")
    assert (provoked.finding, provoked.because) == (
        "positive",
        "4 points at 60 min; at least 2 asked",
    )


def test_rule_sets_that_agree_do_not_disagree() -> None:
    """Nothing is said where there is nothing to say."""
    test = build_test(MINUTES, [5, 30, 9], [1, 2, 1])
    assert interpreted(test, rule_set(SHORT), rule_set(SHORT, id="two")).disagreements == ()


def test_a_disagreement_names_every_rule_set_by_its_title() -> None:
    """In the order shown, one sentence a question."""
    sets = [
        rule_set({**SHORT, "threshold_ppm": ppm}, id=f"at-{ppm}", title=f"Set {ppm}")
        for ppm in (20, 12, 21)
    ]
    result = interpreted(build_test(MINUTES, [5, 25, 9], [1, 2, 1]), *sets)
    assert result.disagreements == (
        "Carbohydrate malabsorption: positive by Set 20, Set 12; negative by Set 21.",
    )
