import re
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from numpy.testing import assert_allclose

from ebbline.core.breath.noise import Noise
from ebbline.core.curve.breath_test import BreathTest
from ebbline.core.curve.protocol import BaselineRule
from ebbline.core.errors import AdoptionError
from ebbline.core.rules.grammar import RuleSet
from ebbline.core.rules.interpret import check_adoption, interpret
from ebbline.core.rules.interpretation import (
    Interpretation,
    RuleSetUsed,
    Settings,
    Transit,
)
from tests.helpers import (
    O2,
    SUBSTRATES,
    VALID,
    a_dilution,
    a_try,
    build_test,
    finding_of,
    interpreted,
    library,
    missed,
    of_tries,
    published,
    rule_set,
    statement_of,
    statement_row,
    the_settings,
)

MINUTES = [0, 60, 120, 180]
MEMORY = rule_set(
    statement_row(id="a", provenance="memory"),
    statement_row(id="b"),
    statement_row(id="c", provenance="memory"),
    validity=[{**VALID, "provenance": "memory"}],
    id="from-memory",
)
REFUSED = (
    "from-memory, key provenance: cannot be the reporting criterion while rows are not checked "
    "against the paper; allowed: confirmed_by and confirmed_on in each such row; "
    "came: memory in a, c, fasting"
)


def lactose() -> BreathTest:
    """Return a plain lactose test."""
    return build_test(MINUTES, [5, 12, 30, 9], [1, 2, 3, 1])


def test_a_rule_set_with_rows_from_memory_cannot_be_adopted() -> None:
    """The rows are named, validity rows too."""
    with pytest.raises(AdoptionError) as caught:
        check_adoption(MEMORY)
    assert str(caught.value) == REFUSED


def test_an_interpretation_with_such_a_criterion_is_refused() -> None:
    """It is refused whole, before anything is judged."""
    with pytest.raises(AdoptionError) as caught:
        interpreted(lactose(), MEMORY, criterion="from-memory")
    assert str(caught.value) == REFUSED


def test_such_a_rule_set_may_be_shown_beside_another_criterion() -> None:
    """It is marked as unchecked and not adopted."""
    own = rule_set(id="own")
    assert interpreted(lactose(), own, MEMORY, criterion="own").rule_sets == (
        RuleSetUsed("own", "1", "Own", "invented", checked=True, adopted=True),
        RuleSetUsed("from-memory", "1", "Own", "invented", checked=False, adopted=False),
    )


def test_a_rule_set_can_be_adopted_once_each_row_is_confirmed() -> None:
    """By a named person, on a day."""
    said = {"confirmed_by": "R. Tamsin", "confirmed_on": "2026-11-24"}
    checked = rule_set(
        statement_row(provenance="memory", **said),
        validity=[{**VALID, "provenance": "memory", **said}],
    )
    check_adoption(checked)
    assert interpreted(lactose(), checked, criterion="own").rule_sets[0].adopted


def test_the_bundled_sets_that_were_read_can_be_adopted_and_the_others_cannot() -> None:
    """Source: provenance of the rows under data/rules."""
    free = {found.id for found in published() if not found.unchecked}
    assert free == {
        "north-american-2017",
        "asian-pacific-2022",
        "hovde-farup-2009",
        "kerlin-wong-1988",
    }
    assert library().criterion in free


def test_a_whole_test_is_interpreted_with_all_that_belongs_to_it() -> None:
    """Samples, setbacks, measures, statements and settings are in the result."""
    test = of_tries(
        a_try(0, 5, 2, planned=0, o2=13.9, symptoms={"pain": 0}),
        a_try(28, 44, 3, planned=30, note="coughed"),
        a_try(31, 14, 4, planned=30, o2=16.0, note="slow", symptoms={"pain": 3}),
        missed(60, "left"),
        a_try(90, 3, 2, planned=90, o2=19.0),
        a_try(180, 9, 2, planned=180, co2=4.0),
    )
    settings = the_settings(dilution=a_dilution(O2))
    result = interpreted(test, rule_set(), criterion="own", settings=settings)
    assert (result.engine, result.test, result.settings) == ("ebbline test", test, settings)
    assert [(s.minute, s.planned_minute, s.quality) for s in result.samples] == [
        (0, 0, "accepted"),
        (31, 30, "normalised"),
        (90, 90, "refused"),
        (180, 180, "accepted"),
    ]
    second = result.samples[1]
    assert second.notes == ("O2 16 %: alveolar fraction 0.70, scaled by 1.43", "slow")
    assert (second.o2_pct, second.co2_pct, second.symptoms) == (16.0, None, {"pain": 3})
    assert second.alveolar_fraction is not None
    assert_allclose(second.alveolar_fraction, 0.7)
    assert second.h2_ppm.value_ppm is not None
    assert_allclose(second.h2_ppm.value_ppm, 20.0)
    assert [(s.minute, s.reason, s.note) for s in result.not_counted] == [
        (28, "replaced", "coughed"),
        (60, "missed", "left"),
    ]
    assert set(result.measures) == {"h2_ppm", "ch4_ppm", "h2_plus_2ch4_ppm", "h2_plus_4ch4_ppm"}
    assert result.measures["h2_ppm"].max_rise is not None
    assert_allclose(result.measures["h2_ppm"].max_rise, 15.0)
    (row,) = result.statements
    assert (row.rule_set, row.statement, row.gas, row.unit) == ("own", "row", "h2", "ppm")
    assert (row.threshold, row.comparison, row.by_minute) == (20, "at least", None)
    assert (row.result, row.first_minute, row.late, row.undecided) == (
        "not met",
        None,
        False,
        False,
    )
    assert (row.checked, row.source, row.measure) == (True, "invented; invented",
                                                      "rise over baseline")  # fmt: skip
    assert row.chance is not None
    assert result.findings[0].finding == "negative"


def test_what_cannot_be_judged_has_neither_value_nor_chance() -> None:
    """None, never zero."""
    (row,) = interpreted(build_test(MINUTES, [None, 9, 30, 40]), rule_set()).statements
    assert (row.result, row.value, row.first_minute, row.chance) == (
        "cannot be judged", None, None, None,
    )  # fmt: skip
    assert row.because == "no fasting H2 reading that counts; at least 20 asked"


def test_a_test_without_any_reading_is_answered_too() -> None:
    """Every sample was missed: nothing is measured, nothing is positive or negative."""
    result = interpreted(build_test(MINUTES, [None] * 4))
    assert result.samples == ()
    assert {f.finding for f in result.findings} == {"indeterminate"}
    assert {m.peak for m in result.measures.values()} == {None}


def test_a_late_sample_is_marked_where_it_decides() -> None:
    """It counted through the tolerance only."""
    own = rule_set(statement_row(by_minute=90))
    test = build_test([0, 60, 93], [5, 9, 40], planned=[0, 60, 90])
    (row,) = interpreted(test, own, settings=the_settings(minute_tolerance=5.0)).statements
    assert (row.result, row.late, row.first_minute) == ("met", True, 93.0)
    (strict,) = interpreted(test, own).statements
    assert (strict.result, strict.late) == ("cannot be judged", False)


def test_a_rise_over_the_lowest_tells_the_lowest_it_counts_from() -> None:
    """Not the baseline."""
    own = rule_set(statement_row(measure="rise over lowest earlier"))
    (row,) = interpreted(build_test(MINUTES, [15, 2, 23, 9]), own).statements
    assert row.because == "23 \N{MINUS SIGN} 2 = 21 ppm at 120 min; at least 20 asked"


def test_only_rule_sets_that_cover_the_substrate_are_told() -> None:
    """The others say nothing of this test."""
    result = interpreted(build_test(MINUTES, [5, 6, 7, 8], substrate="sorbitol"))
    assert [used.id for used in result.rule_sets] == ["german-2005", "symptom-scores"]
    assert {row.rule_set for row in result.statements} == {"german-2005", "symptom-scores"}


def test_the_baseline_setting_is_the_one_that_is_computed_with() -> None:
    """Fasting readings of 4 and 10."""
    test = build_test([-10, 0, 60, 180], [4, 10, 25, 9])
    values = {}
    rules: tuple[BaselineRule, ...] = ("mean", "last", "lowest")
    for rule in rules:
        result = interpreted(test, rule_set(), settings=the_settings(baseline=rule))
        values[rule] = (result.measures["h2_ppm"].baseline, result.statements[0].value)
    assert values == {"mean": (7.0, 18.0), "last": (10.0, 15.0), "lowest": (4.0, 21.0)}


@pytest.mark.parametrize(
    ("h2", "transit"),
    [([5, 6, 20, 30], (60.0, 120.0)), ([5, 6, 7, 8], (180.0, None))],
)
def test_transit_is_told_after_lactulose(
    h2: list[float], transit: tuple[float, float | None]
) -> None:
    """As an interval, under the name of its definition."""
    result = interpreted(build_test(MINUTES, h2, substrate="lactulose"))
    assert result.transit == Transit(library().transit.title, *transit)


def test_transit_is_not_told_after_other_sugars_or_without_what_it_needs() -> None:
    """No baseline, or no reading after the drink: nothing is said."""
    assert interpreted(lactose()).transit is None
    alone: list[float | None] = [5, None, None, None]
    unfasted: list[float | None] = [None, 6, 20, 30]
    for h2 in (alone, unfasted):
        assert interpreted(build_test(MINUTES, h2, substrate="lactulose")).transit is None


def test_cautions_are_those_of_the_substrate() -> None:
    """Hazards of lactose, not those of fructose."""
    cautions = interpreted(lactose()).cautions
    assert any(text.startswith("Galactosaemia") for text in cautions)
    assert not any(text.startswith("Hereditary fructose") for text in cautions)


def test_the_chance_uses_the_noise_of_the_settings() -> None:
    """More noise brings the chance of a rise of 25 nearer to a half."""
    chances = [
        interpreted(
            lactose(), rule_set(), settings=the_settings(noise=Noise(ppm=a, fraction=0.1,
                                                                     gain_fraction=0.05))
        ).statements[0].chance
        for a in (0.5, 5.0)
    ]  # fmt: skip
    assert chances[0] is not None
    assert chances[1] is not None
    assert 0.5 < chances[1] < chances[0] < 1.0


def test_a_negative_finding_by_values_and_its_raw_twin_are_compared() -> None:
    """A finding that both agree on carries no such caveat."""
    finding = finding_of(interpreted(lactose(), rule_set()), "own", "carbohydrate-malabsorption")
    assert not any("raw" in text for text in finding.caveats)


def identity(test: BreathTest) -> str:
    """Return the id of a plain interpretation."""
    return interpreted(test, rule_set(), criterion="own").id


def test_the_same_inputs_give_the_same_id() -> None:
    """Twelve hexadecimal digits in three groups."""
    assert identity(lactose()) == identity(lactose())
    assert re.fullmatch(r"[0-9a-f]{4}(-[0-9a-f]{4}){2}", identity(lactose()))


@pytest.mark.parametrize(
    "change",
    [
        lambda t: replace(t, substrate="fructose"),
        lambda t: replace(t, dose_g=25.0),
        lambda t: replace(t, weight_kg=64.0),
        lambda t: replace(t, age_years=41.0),
        lambda t: replace(t, protocol="own"),
        lambda t: replace(t, facts={"patient": "Mara Feld"}),
        lambda t: replace(t, tries=t.tries[:-1]),
        lambda t: replace(t, tries=(*t.tries[:-1], replace(t.tries[-1], h2_ppm=9.1))),
        lambda t: replace(t, tries=(*t.tries[:-1], replace(t.tries[-1], note="x"))),
    ],
)
def test_any_change_of_the_test_changes_the_id(change: Callable[[BreathTest], BreathTest]) -> None:
    """What was drunk, by whom, and every row."""
    own = rule_set(statement_row(substrates=["lactose", "fructose"]))
    ids = [interpreted(test, own).id for test in (lactose(), change(lactose()))]
    assert ids[0] != ids[1]


@pytest.mark.parametrize(
    "settings",
    [
        the_settings(noise=Noise(ppm=1.6, fraction=0.1, gain_fraction=0.0)),
        the_settings(baseline="last"),
        the_settings(minute_tolerance=1.0),
        the_settings(dilution=a_dilution(O2)),
        the_settings(dilution=a_dilution(ambient_h2_ppm=0.5)),
        replace(the_settings(), noise_source="elsewhere"),
    ],
)
def test_any_change_of_a_setting_changes_the_id(settings: Settings) -> None:
    """Noise, baseline, tolerance, dilution, and where the noise comes from."""
    own = rule_set()
    changed = interpreted(lactose(), own, settings=settings)
    assert changed.id != interpreted(lactose(), own).id


def other(**changes: Any) -> Interpretation:
    """Return a plain interpretation with one input of `interpret` changed."""
    inputs: dict[str, Any] = {
        "rule_sets": (rule_set(statement_row(substrates=["lactulose"])),),
        "criterion": None,
        "settings": the_settings(),
        "substrates": SUBSTRATES,
        "wording": library().wording,
        "transit": library().transit,
        "engine": "ebbline test",
    }
    test = build_test(MINUTES, [5, 8, 10, 9], [1, 1, 1, 1], substrate="lactulose")
    return interpret(test, **{**inputs, **changes})


def lactulose(**changes: Any) -> RuleSet:
    """Return a plain rule set for lactulose."""
    return rule_set(statement_row(substrates=["lactulose"]), **changes)


@pytest.mark.parametrize(
    "changes",
    [
        {"criterion": "own"},
        {"rule_sets": (lactulose(version="2"),)},
        {"rule_sets": (lactulose(), lactulose(id="second"))},
        {"rule_sets": (rule_set(statement_row(substrates=["lactulose"], threshold_ppm=21)),)},
        {"engine": "ebbline next"},
    ],
)
def test_any_change_of_the_rules_or_the_engine_changes_the_id(changes: dict[str, Any]) -> None:
    """Whatever the result depends on is in its id."""
    assert other(**changes).id != other().id


def test_another_definition_of_transit_gives_another_id() -> None:
    """With 3 ppm in place of 10 the transit told is another one, so the result is another one."""
    sooner = other(transit=replace(library().transit, rise_ppm=3.0))
    assert sooner.transit != other().transit
    assert sooner.id != other().id


def test_another_limit_of_a_caveat_gives_another_id() -> None:
    """A rise of 5 ppm is flat by a limit of 5 and not by one of 4: another caveat is told."""
    words = library().wording
    narrow = other(wording=replace(words, limits={**words.limits, "flat_rise_ppm": 4.0}))
    assert narrow.findings != other().findings
    assert narrow.id != other().id


def test_two_rule_sets_of_one_id_do_not_spoil_each_other() -> None:
    """A service's own edition of a bundled set beside it: each has its own validity rows."""
    plain = rule_set(statement_row(id="a"), title="Plain")
    careful = rule_set(statement_row(id="b"), validity=[VALID], title="Careful")
    test = build_test(MINUTES, [20, 21, 22, 20], [1, 1, 1, 1])
    findings = [finding.finding for finding in interpreted(test, plain, careful).findings]
    assert findings == ["negative", "invalid"]


def test_a_statement_keeps_its_place_in_the_list_of_its_rule_set() -> None:
    """Statements are grouped by question, in the order of the file."""
    result = interpreted(lactose(), *published("north-american-2017", "european-2022"))
    assert [(row.rule_set, row.statement) for row in result.statements] == [
        ("north-american-2017", "h2-rise-sugar"),
        ("north-american-2017", "ch4-level-sugar-test"),
        ("european-2022", "h2-rise-sugar"),
        ("european-2022", "ch4-rise-sugar"),
    ]
    assert statement_of(result, "european-2022", "h2-rise-sugar").value == 25.0
