from collections.abc import Mapping
from typing import Any

import pytest

from ebbline.core.breath.noise import Noise
from ebbline.core.curve.breath_test import BreathTest
from ebbline.core.rules.grammar import RuleSet
from ebbline.core.rules.interpretation import Settings
from tests.core.rules.rows import overgrowth, symptom_row
from tests.helpers import (
    O2,
    a_dilution,
    build_test,
    finding_of,
    interpreted,
    library,
    rule_set,
    statement_row,
    the_settings,
)

MALABSORPTION = "carbohydrate-malabsorption"
OVERGROWTH = "bacterial-overgrowth"
METHANE = rule_set(
    statement_row(gas="ch4", measure="level", threshold_ppm=10, question="methanogen-overgrowth",
                  substrates=["lactose", "fructose", "glucose", "lactulose"]),
    id="methane",
)  # fmt: skip
MINUTES = [0, 30, 60, 90, 180]
FLAT = [3, 4, 3, 5, 4]
NO_METHANE_MADE = [1, 1, 2, 1, 1]


def caveats(
    test: BreathTest, *sets: RuleSet, question: str, settings: Settings | None = None
) -> tuple[str, ...]:
    """Return the caveats of the finding of the first of some rule sets."""
    result = interpreted(test, *sets, settings=settings)
    return finding_of(result, sets[0].id, question).caveats


def sugar(**parts: Any) -> tuple[str, ...]:
    """Return the caveats of malabsorption by a plain row."""
    parts = {"minutes": MINUTES, "h2": FLAT, "ch4": NO_METHANE_MADE} | parts
    return caveats(build_test(**parts), rule_set(), question=MALABSORPTION)


def small(**parts: Any) -> tuple[str, ...]:
    """Return the caveats of overgrowth by a plain row, after lactulose unless said otherwise."""
    parts = {
        "minutes": MINUTES,
        "h2": FLAT,
        "ch4": NO_METHANE_MADE,
        "substrate": "lactulose",
    } | parts
    return caveats(build_test(**parts), overgrowth(), question=OVERGROWTH)


def said(name: str, found: tuple[str, ...], **words: str) -> bool:
    """Whether a caveat of data/wording.toml, filled in, is among those found."""
    return library().wording.caveats[name].format(**words) in found


def test_a_plain_negative_test_has_no_caveat() -> None:
    """A curve with some rise, some methane and a usual baseline."""
    assert sugar(h2=[4, 6, 9, 12, 8], ch4=[2, 3, 2, 3, 2]) == ()


@pytest.mark.parametrize(
    ("h2", "ch4", "is_said"),
    [
        ([3, 4, 3, 8, 4], [1, 1, 4.9, 1, 1], True),
        ([3, 4, 3, 8.5, 4], [1, 1, 4.9, 1, 1], False),
        ([3, 4, 3, 8, 4], [1, 1, 5, 1, 1], False),
        ([3, 4, 3, 40, 4], [1, 1, 1, 1, 1], False),
        ([9, 4, 3, 3, 4], [1, 1, 1, 1, 1], True),
    ],
)
def test_flat_in_both_gases_does_not_exclude_a_non_producer(
    h2: list[float], ch4: list[float], is_said: bool
) -> None:
    """Up to 5 ppm of rise and below 5 ppm of methane; not where a rise or methane is there."""
    assert said("non_producer", sugar(h2=h2, ch4=ch4)) is is_said


def test_flat_hydrogen_without_methane_measured_says_so_instead() -> None:
    """Nothing is known of methane, so nothing is said of non-producers by it."""
    found = sugar(ch4=None)
    assert said("methane_not_measured", found)
    assert not said("non_producer", found)
    assert not said("methane_not_measured", sugar(h2=[3, 4, 3, 8.5, 4], ch4=None))


@pytest.mark.parametrize("stopped", [True, False])
def test_a_flat_curve_is_called_negative_only_where_the_finding_is(stopped: bool) -> None:
    """A test that stopped at 60 min is indeterminate; no caveat beside it may say negative."""
    n = 3 if stopped else 5
    test = build_test(MINUTES[:n], FLAT[:n], NO_METHANE_MADE[:n])
    (finding,) = interpreted(test, rule_set()).findings
    assert finding.finding == ("indeterminate" if stopped else "negative")
    assert any("negative" in text for text in finding.caveats) is not stopped


def test_a_methane_finding_says_nothing_of_flat_hydrogen() -> None:
    """It is not about a rise."""
    test = build_test(MINUTES, FLAT, NO_METHANE_MADE)
    assert caveats(test, METHANE, question="methanogen-overgrowth") == ()


def test_no_rise_after_lactulose_is_slow_transit_or_no_hydrogen() -> None:
    """After another sugar it is not said."""
    assert said("lactulose_flat", small())
    assert not said("lactulose_flat", small(substrate="glucose"))
    assert not said("lactulose_flat", small(h2=[3, 4, 9, 9, 9]))


@pytest.mark.parametrize(
    ("minute", "substrate", "is_said"),
    [(60, "lactulose", True), (90, "lactulose", True), (60, "glucose", False)],
)
def test_an_early_rise_after_lactulose_may_be_rapid_transit(
    minute: float, substrate: str, is_said: bool
) -> None:
    """Source: Yu D, et al. Gut 2011;60:334-340. After glucose it is not said."""
    found = small(minutes=[0, 30, minute, 120], h2=[3, 4, 30, 40], ch4=[1] * 4, substrate=substrate)
    assert said("lactulose_early", found, minute=str(minute)) is is_said


def test_a_negative_lactulose_test_has_no_early_rise() -> None:
    """Its rise came after the window."""
    found = small(minutes=[0, 60, 90, 120], h2=[3, 4, 10, 40], ch4=[1] * 4)
    assert not any("goes with overgrowth" in text for text in found)


@pytest.mark.parametrize(("minute", "is_said"), [(60, True), (61, False)])
def test_an_early_rise_after_a_sugar_may_be_rapid_transit_or_overgrowth(
    minute: float, is_said: bool
) -> None:
    """By 60 min it is said."""
    found = sugar(minutes=[0, 30, minute, 180], h2=[3, 4, 30, 40], ch4=[1] * 4)
    assert said("sugar_early", found, minute=str(minute)) is is_said


@pytest.mark.parametrize(
    ("minute", "h2", "is_said"),
    [
        (15, [3, 23, 5, 5, 5], True),
        (20, [3, 13, 7.9, 5, 5], True),
        (21, [3, 23, 5, 5, 5], False),
        (15, [3, 12.9, 5, 5, 5], False),
        (15, [3, 23, 13, 5, 5], False),
        (15, [3, 23, 12.9, 5, 5], True),
    ],
)
def test_an_early_sample_that_rises_alone_may_be_from_the_mouth(
    minute: float, h2: list[float], is_said: bool
) -> None:
    """By 20 min, by 10 ppm, and the next one keeps less than half of it (Rumessen 1987)."""
    found = sugar(minutes=[0, minute, 60, 90, 180], h2=h2)
    assert any("possibly sugar fermented in the mouth" in text for text in found) is is_said


def test_the_mouth_is_told_once_with_its_numbers() -> None:
    """The first such sample is enough."""
    found = sugar(minutes=[0, 5, 10, 15, 20, 180], h2=[3, 23, 5, 24, 5, 5], ch4=[1] * 6)
    assert said("mouth", found, minute="5", rise="20")
    assert sum("fermented in the mouth" in text for text in found) == 1


def test_a_last_sample_cannot_fall_back() -> None:
    """What comes after it is not known."""
    test = build_test([0, 15], [3, 23], [1, 1])
    found = caveats(test, rule_set(), question=MALABSORPTION)
    assert not any("fermented in the mouth" in text for text in found)


@pytest.mark.parametrize(("baseline", "is_said"), [(15, True), (14.9, False)])
def test_a_high_fasting_value_is_looked_at(baseline: float, is_said: bool) -> None:
    """15 ppm or more, as the European guideline is reported to say."""
    found = sugar(h2=[baseline, 16, 17, 18, 19])
    assert any(text.startswith("Fasting hydrogen was") for text in found) is is_said
    if is_said:
        assert said("high_fasting", found, baseline="15")


@pytest.mark.parametrize(
    ("substrate", "surgery", "is_said"),
    [("glucose", "yes", True), ("glucose", "no", False), ("glucose", "unknown", False),
     ("lactulose", "yes", False)],
)  # fmt: skip
def test_glucose_after_surgery_reflects_transit(
    substrate: str, surgery: str, is_said: bool
) -> None:
    """Only a head that says yes, and only for glucose."""
    found = small(substrate=substrate, facts={"surgery": surgery})
    assert said("surgery", found) is is_said


@pytest.mark.parametrize(
    ("substrate", "age", "is_said"),
    [("fructose", 4.9, True), ("fructose", 5.0, False), ("lactose", 3.0, False),
     ("fructose", None, False)],
)  # fmt: skip
def test_fructose_in_a_young_child_may_rise_normally(
    substrate: str, age: float | None, is_said: bool
) -> None:
    """Source: Jones HF, et al. J Pediatr Gastroenterol Nutr 2011;52:581-584: under 5 years."""
    own = rule_set(statement_row(substrates=["lactose", "fructose"]))
    test = build_test(MINUTES, [3, 4, 9, 40, 9], [1] * 5, substrate=substrate, age_years=age)
    found = caveats(test, own, question=MALABSORPTION)
    assert said("young_child", found, years="5") is is_said


@pytest.mark.parametrize(
    ("ch4", "is_said"), [([12, 9, 7, 8, 9], True), ([12, 9, 7.1, 8, 9], False)]
)
def test_methane_that_falls_makes_a_rise_look_smaller(ch4: list[float], is_said: bool) -> None:
    """By 5 ppm or more, where the finding uses methane."""
    test = build_test(MINUTES, FLAT, ch4)
    found = caveats(test, METHANE, question="methanogen-overgrowth")
    assert said("methane_dip", found, fall="5") is is_said
    assert not any("Methane fell" in text for text in sugar(ch4=ch4))


def test_methane_without_a_reading_after_the_drink_has_not_fallen() -> None:
    """There is nothing to compare."""
    test = build_test(MINUTES, FLAT, [12, None, None, None, None])
    found = caveats(test, METHANE, question="methanogen-overgrowth")
    assert not any("Methane fell" in text for text in found)


@pytest.mark.parametrize(
    ("rinse", "is_said"), [("baseline", True), ("every", False), ("none", False)]
)
def test_a_rinse_before_the_baseline_only_is_told(rinse: str, is_said: bool) -> None:
    """Later samples may carry gas from the mouth that the baseline does not."""
    assert said("rinse_once", sugar(facts={"rinse": rinse})) is is_said


@pytest.mark.parametrize(
    ("population", "age", "name"),
    [
        ("children", 18, "children_only"),
        ("children", 17.9, None),
        ("adults", 17.9, "adults_only"),
        ("adults", 18, None),
        ("any", 8, None),
        ("children", None, None),
    ],
)
def test_a_rule_set_for_another_age_says_so(
    population: str, age: float | None, name: str | None
) -> None:
    """From 18 years on a patient is an adult (common practice, no source)."""
    test = build_test(MINUTES, [4, 6, 9, 12, 8], [2, 3, 2, 3, 2], age_years=age)
    found = caveats(test, rule_set(population=population), question=MALABSORPTION)
    if name is None:
        assert found == ()
    else:
        assert said(name, found, years=f"{age:g}")


@pytest.mark.parametrize(
    ("doses", "dose", "age", "text"),
    [
        ([25], 50.0, None, "The criterion was published for 25 g; this test used 50 g."),
        ([25], 25.0, 40.0, None),
        ([5, 10], 7.5, 40.0, None),
        ([5, 10], 12.5, 40.0, "The criterion was published for 5 to 10 g; this test used 12.5 g."),
        ([25], 12.0, 9.0, None),
        ([25], None, 40.0, None),
        (None, 50.0, 40.0, None),
    ],
)
def test_a_dose_that_the_criterion_was_not_published_for_is_told(
    doses: list[float] | None, dose: float | None, age: float | None, text: str | None
) -> None:
    """A child's dose follows the weight and is not compared."""
    row = statement_row() if doses is None else statement_row(doses_g=doses)
    test = build_test(MINUTES, [4, 6, 9, 12, 8], [2, 3, 2, 3, 2], dose_g=dose, age_years=age)
    found = caveats(test, rule_set(row), question=MALABSORPTION)
    assert found == (() if text is None else (text,))


def test_a_finding_that_raw_values_would_turn_says_so() -> None:
    """18 ppm raw are 25.7 normalised at 16 % of O2."""
    test = build_test(MINUTES, [4, 6, 9, 18, 8], [2] * 5, o2=[13.9, 13.9, 13.9, 16.0, 13.9])
    settings = the_settings(dilution=a_dilution(O2))
    found = caveats(test, rule_set(), question=MALABSORPTION, settings=settings)
    assert said("normalised", found, finding="negative")
    plain = the_settings(dilution=a_dilution())
    assert not any("raw" in text for text in caveats(test, rule_set(), question=MALABSORPTION,
                                                     settings=plain))  # fmt: skip


def test_a_sample_that_counts_by_tolerance_only_is_told() -> None:
    """With its minute and the tolerance."""
    test = build_test([0, 60, 93], [5, 9, 40], [2] * 3, substrate="glucose")
    late = caveats(test, overgrowth(), question=OVERGROWTH,
                   settings=the_settings(minute_tolerance=5.0))  # fmt: skip
    assert said("late", late, minute="93", tolerance="5")
    in_time = build_test([0, 60, 90], [5, 9, 40], [2] * 3, substrate="glucose")
    assert not any("tolerance" in text for text in caveats(
        in_time, overgrowth(), question=OVERGROWTH,
        settings=the_settings(minute_tolerance=5.0)))  # fmt: skip


@pytest.mark.parametrize(("top", "is_said"), [(27, True), (45, False), (9, False)])
def test_a_finding_that_noise_could_turn_is_told_with_its_chance(top: float, is_said: bool) -> None:
    """Where the chance lies between 0.05 and 0.95."""
    result = interpreted(build_test(MINUTES, [5, 6, 7, top, 6], [2] * 5), rule_set())
    (row,) = result.statements
    assert row.chance is not None
    found = result.findings[0].caveats
    assert said("borderline", found, chance=f"{row.chance:.2f}") is is_said
    assert (0.05 < row.chance < 0.95) is is_said


def test_two_statements_that_noise_could_turn_give_both_chances() -> None:
    """In their order."""
    own = rule_set(statement_row(), statement_row(id="low", threshold_ppm=22))
    result = interpreted(build_test(MINUTES, [5, 6, 7, 26, 6], [2] * 5), own)
    chances = [f"{row.chance:.2f}" for row in result.statements if row.chance is not None]
    assert said("borderline", result.findings[0].caveats, chance=" and ".join(chances))


def test_without_noise_nothing_is_borderline() -> None:
    """The chance is then 0 or 1."""
    quiet = the_settings(noise=Noise(ppm=0.0, fraction=0.0, gain_fraction=0.0))
    test = build_test(MINUTES, [5, 6, 7, 27, 6], [2] * 5)
    found = caveats(test, rule_set(), question=MALABSORPTION, settings=quiet)
    assert not any("Close to the threshold" in text for text in found)


@pytest.mark.parametrize(
    ("provenance", "confirmed", "is_said"),
    [("memory", {}, True), ("reported", {}, False),
     ("memory", {"confirmed_by": "R. Tamsin", "confirmed_on": "2026-11-24"}, False)],
)  # fmt: skip
def test_rows_that_nobody_has_checked_are_named(
    provenance: str, confirmed: Mapping[str, str], is_said: bool
) -> None:
    """With their ids, until a named person confirms them."""
    own = rule_set(
        statement_row(provenance=provenance, **confirmed), statement_row(id="read", gas="ch4")
    )
    test = build_test(MINUTES, [4, 6, 9, 12, 8], [2, 3, 2, 3, 2])
    found = caveats(test, own, question=MALABSORPTION)
    assert found == (("Not checked against the paper: row.",) if is_said else ())


def test_symptoms_have_only_the_caveats_of_their_rows() -> None:
    """A high baseline, a rinse or flat hydrogen say nothing of symptoms."""
    own = rule_set(symptom_row(provenance="memory"), id="scores", population="children")
    test = build_test(
        MINUTES, [40, 40, 40, 40, 40], NO_METHANE_MADE, age_years=40.0,
        facts={"rinse": "baseline", "surgery": "yes"},
        symptoms=[{"pain": 0}, {"pain": 1}, {"pain": 1}, {"pain": 1}, {"pain": 0}],
    )  # fmt: skip
    assert caveats(test, own, question="symptoms-provoked") == (
        "This rule set was written for children; this patient is 40 years old.",
        "Not checked against the paper: row.",
    )


def test_every_caveat_of_the_wording_is_tried_here() -> None:
    """A new one needs a curve that calls it and a near miss that does not."""
    assert set(library().wording.caveats) == {
        "non_producer", "methane_not_measured", "lactulose_early", "lactulose_flat", "sugar_early",
        "mouth", "high_fasting", "surgery", "young_child", "methane_dip", "rinse_once",
        "children_only", "adults_only", "dose", "normalised", "late", "borderline",
    }  # fmt: skip
