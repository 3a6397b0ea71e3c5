"""What holds for the verdicts on every curve."""

from dataclasses import replace

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_array_equal

from ebbline.core.rules.codes import (
    CANNOT_BE_JUDGED,
    MET,
    NEGATIVE,
    NOT_ASKED,
    NOT_MET,
    POSITIVE,
)
from ebbline.core.rules.interpretation import Interpretation
from tests.helpers import (
    CO2,
    O2,
    SUBSTRATES,
    a_dilution,
    a_try,
    array,
    interpreted,
    missed,
    of_tries,
    published,
    rule_set,
    statement_row,
    table_of,
    the_settings,
    verdicts_of,
)
from tests.properties.curves import NAMES, PLACE, TABLE, Drawn, all_kinds, drawn_tests

TOLERANCE = st.sampled_from([0.0, 3.0, 15.0])
RULES = st.sampled_from([0, 1, 2])


@settings(max_examples=80)
@given(drawn_tests(), RULES, TOLERANCE, st.integers(0, 6), st.integers(1, 40))
def test_raising_a_reading_after_the_drink_never_turns_met_into_not_met(
    drawn: Drawn, rule: int, tolerance: float, which: int, by: int
) -> None:
    """More gas after the drink is never less of a rise over baseline or of a level."""
    at = drawn.fasting + which % (len(drawn.minutes) - drawn.fasting)
    value = drawn.h2[at]
    if value is None:
        return
    higher = drawn.with_h2([*drawn.h2[:at], value + by, *drawn.h2[at + 1 :]])
    before = verdicts_of(drawn.curves(), TABLE, baseline_rule=rule, tolerance=tolerance)
    after = verdicts_of(higher.curves(), TABLE, baseline_rule=rule, tolerance=tolerance)
    rows = [PLACE[name] for name in NAMES if name != "lowest"]
    met = before.result[0, rows] == MET
    assert_array_equal(after.result[0, rows][met], MET)


@settings(max_examples=60)
@given(drawn_tests(), RULES, TOLERANCE, st.permutations(list(range(6))))
def test_the_order_of_the_rows_changes_nothing_but_their_order(
    drawn: Drawn, rule: int, tolerance: float, order: list[int]
) -> None:
    """Each row is judged by itself, and a finding does not depend on which row comes first."""
    rows = all_kinds()
    other = table_of(replace(rows, statements=tuple(rows.statements[i] for i in order)))
    before = verdicts_of(drawn.curves(), TABLE, baseline_rule=rule, tolerance=tolerance)
    after = verdicts_of(drawn.curves(), other, baseline_rule=rule, tolerance=tolerance)
    place = {row.id: column for column, (_, row) in enumerate(other.statements)}
    there = [place[name] for name in NAMES]
    here = [PLACE[name] for name in NAMES]
    for part in ("result", "reason", "at"):
        assert_array_equal(getattr(after, part)[0, there], getattr(before, part)[0, here])
    findings = [
        {question: int(code) for (_, question), code in zip(table.findings, found, strict=True)}
        for table, found in ((TABLE, before.finding[0]), (other, after.finding[0]))
    ]
    assert findings[0] == findings[1]


def without_order(result: Interpretation) -> tuple[object, ...]:
    """Return what an interpretation says, whatever the order of its rule sets."""
    return (
        sorted(repr(row) for row in result.statements),
        sorted(repr(finding) for finding in result.findings),
        result.samples,
        result.measures,
    )


@settings(max_examples=15)
@given(drawn_tests(), st.permutations(list(range(5))))
def test_the_order_of_the_rule_sets_changes_nothing_but_their_order(
    drawn: Drawn, order: list[int]
) -> None:
    """No rule set sees another one."""
    names = ("north-american-2017", "european-2022", "rome-2009", "german-2005",
             "hovde-farup-2009")  # fmt: skip
    sets = published(*names)
    rows = zip(drawn.minutes, drawn.h2, drawn.ch4, strict=True)
    test = of_tries(*(a_try(m, h, c) if h is not None else missed(m) for m, h, c in rows))
    usual = interpreted(test, *sets)
    other = interpreted(test, *(sets[i] for i in order))
    assert without_order(usual) == without_order(other)
    assert [r.id for r in other.rule_sets] == [sets[i].id for i in order]


@settings(max_examples=80)
@given(drawn_tests(), RULES, TOLERANCE, st.integers(1, 200), st.booleans())
def test_one_more_missed_or_refused_sample_makes_no_new_verdict(
    drawn: Drawn, rule: int, tolerance: float, minute: int, is_refused: bool
) -> None:
    """A slot without a usable value can only take a verdict back, never turn it round."""
    if float(minute) in drawn.minutes:
        return
    at = int(np.searchsorted(drawn.minutes, minute))
    more = Drawn(
        (*drawn.minutes[:at], float(minute), *drawn.minutes[at:]),
        (*drawn.h2[:at], None, *drawn.h2[at:]),
        # A refused sample loses both gases; one without methane keeps its hydrogen.
        (*drawn.ch4[:at], None, *drawn.ch4[at:]),
        drawn.fasting,
    )
    curves = more.curves()
    if is_refused:
        curves = replace(curves, planned_minute=array([m - 1.0 for m in more.minutes])[None, :])
    before = verdicts_of(drawn.curves(), TABLE, baseline_rule=rule, tolerance=tolerance)
    after = verdicts_of(curves, TABLE, baseline_rule=rule, tolerance=tolerance)
    assert_array_equal(after.result == MET, before.result == MET)
    not_met = after.result == NOT_MET
    assert_array_equal(before.result[not_met], NOT_MET)
    assert_array_equal(after.finding == POSITIVE, before.finding == POSITIVE)
    assert_array_equal(before.finding[after.finding == NEGATIVE], NEGATIVE)


@settings(max_examples=25)
@given(drawn_tests(gaps=False), st.integers(1, 200), st.sampled_from([20.0, 20.9, 18.5]))
def test_a_diluted_sample_that_is_refused_never_makes_negative_out_of_positive(
    drawn: Drawn, minute: int, o2: float
) -> None:
    """The same through the whole path, from rows with O2 to findings."""
    if float(minute) in drawn.minutes:
        return
    tries = [
        a_try(m, h, c, o2=13.9) for m, h, c in zip(drawn.minutes, drawn.h2, drawn.ch4, strict=True)
    ]
    extra = a_try(float(minute), 1.0, 1.0, o2=o2)
    settings_ = the_settings(dilution=a_dilution(O2, CO2))
    rows = rule_set(statement_row(by_minute=90), statement_row(id="any", needs_minutes=60))
    before = interpreted(of_tries(*tries), rows, settings=settings_)
    both = sorted([*tries, extra], key=lambda one: one.minute)
    after = interpreted(of_tries(*both), rows, settings=settings_)
    assert (before.findings[0].finding == "positive") == (after.findings[0].finding == "positive")
    if after.findings[0].finding == "negative":
        assert before.findings[0].finding == "negative"


@settings(max_examples=40)
@given(drawn_tests(), st.sampled_from(SUBSTRATES))
def test_a_substrate_that_a_row_does_not_cover_is_never_asked_of_it(
    drawn: Drawn, substrate: str
) -> None:
    """A rule set says nothing of a sugar that it was not written for."""
    table = table_of(*published())
    verdicts = verdicts_of(drawn.curves(), table, substrate=substrate)
    rows = [row for _, row in table.statements]
    covered = np.array([substrate in row.substrates for row in rows])
    judged = verdicts.result[0, : len(rows)] != NOT_ASKED
    assert_array_equal(judged, covered)
    for place, (owner, question) in enumerate(table.findings):
        asked = any(
            row.question == question and substrate in row.substrates for row in owner.statements
        )
        assert (verdicts.finding[0, place] != NOT_ASKED) == asked


@settings(max_examples=60)
@given(drawn_tests(), RULES, TOLERANCE)
def test_not_met_needs_readings_to_the_end_of_the_window(
    drawn: Drawn, rule: int, tolerance: float
) -> None:
    """Whatever the curve, a test that stopped early is never negative."""
    verdicts = verdicts_of(drawn.curves(), TABLE, baseline_rule=rule, tolerance=tolerance)
    last = max(m for m, value in zip(drawn.minutes, drawn.h2, strict=True) if value is not None)
    for place, (_, row) in enumerate(TABLE.statements):
        if last < row.end_minute - tolerance:
            assert verdicts.result[0, place] in (MET, CANNOT_BE_JUDGED)
