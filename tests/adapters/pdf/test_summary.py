from dataclasses import replace

from ebbline.adapters.pdf.summary import (
    finding_lines,
    symptom_lines,
    tested_line,
    validity_line,
)
from ebbline.core.rules.interpretation import Interpretation


def test_what_was_tested_names_drink_gases_and_length(hydrogen_only: Interpretation) -> None:
    """A gas that was not measured is not named."""
    assert tested_line(hydrogen_only) == "Fructose 25 g; breath hydrogen to 180 min."


def test_a_spoilt_test_is_not_valid_and_says_why(lactose: Interpretation) -> None:
    """All findings invalid: the test is; one of them: only that question."""
    why = "fasting hydrogen 31 ppm, above 20"
    spoilt = tuple(replace(f, finding="invalid", because=why) for f in lactose.findings)
    text = validity_line(replace(lactose, findings=spoilt))
    assert text == f"Not valid: {why}. 10 samples counted."
    assert finding_lines(replace(lactose, findings=spoilt))[0]["words"] == (
        "invalid, no finding, the test is not valid for it"
    )
    one = (spoilt[0], *lactose.findings[1:])
    text = validity_line(replace(lactose, findings=one))
    assert text == f"Not valid for carbohydrate malabsorption: {why}. 10 samples counted."


def test_validity_counts_what_became_of_every_sample(
    glucose: Interpretation, with_a_missed_sample: Interpretation
) -> None:
    """Scaled, refused, repeated and missed samples are told."""
    assert validity_line(glucose) == (
        "Valid test. 9 samples counted, 3 of them normalised, 1 refused, 1 repeated."
    )
    assert validity_line(with_a_missed_sample) == "Valid test. 8 samples counted, 1 missed."


def test_a_test_that_decides_nothing_does_not_pass_for_valid(lactose: Interpretation) -> None:
    """Indeterminate findings throughout are said in the line that says whether it was valid."""
    open_findings = tuple(replace(f, finding="indeterminate") for f in lactose.findings)
    text = validity_line(replace(lactose, findings=open_findings))
    assert text == "Valid only in part: no question can be decided. 10 samples counted."


def test_without_an_adopted_rule_set_nothing_is_concluded(lactose: Interpretation) -> None:
    """Comparisons never step into its place."""
    sets = tuple(replace(used, adopted=False) for used in lactose.rule_sets)
    alone = replace(lactose, rule_sets=sets)
    assert finding_lines(alone) == [
        {
            "question": "No finding",
            "words": "no rule set is adopted here, so nothing is concluded",
        }
    ]
    assert validity_line(alone) == "Validity was not judged. 10 samples counted."


def test_an_adopted_rule_set_that_is_silent_is_named(lactose: Interpretation) -> None:
    """The reader learns that the criterion has nothing to say about this sugar."""
    silent = replace(lactose, findings=())
    assert finding_lines(silent)[0]["words"] == (
        "North American Consensus 2017 says nothing about lactose"
    )


def test_symptoms_are_told_by_score(
    hydrogen_only: Interpretation, with_a_missed_sample: Interpretation
) -> None:
    """Not asked is not the same as none felt."""
    assert symptom_lines(hydrogen_only) == ["Symptoms were not scored."]
    assert symptom_lines(with_a_missed_sample) == ["Flatulence: 0 at first, highest 4 at 92 min."]
    calm = tuple(replace(sample, symptoms={"pain": 0.0}) for sample in with_a_missed_sample.samples)
    assert symptom_lines(replace(with_a_missed_sample, samples=calm)) == ["Pain: 0 throughout."]
