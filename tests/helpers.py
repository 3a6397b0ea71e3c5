"""Builders that the tests of the core and of the services share; every value here is invented."""

from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from ebbline.adapters.files.library import load_library
from ebbline.core.breath.dilution import Marker
from ebbline.core.breath.noise import Noise
from ebbline.core.breath.reading import Dilution
from ebbline.core.curve.breath_test import BreathTest, Status, Try
from ebbline.core.curve.curves import Curves, Spread
from ebbline.core.errors import RuleError
from ebbline.core.rules.chances import chances
from ebbline.core.rules.grammar import RuleSet, parse_rule_set
from ebbline.core.rules.interpret import interpret
from ebbline.core.rules.interpretation import (
    FindingResult,
    Interpretation,
    Settings,
    StatementResult,
)
from ebbline.core.rules.judge import judge
from ebbline.core.rules.reported import reported
from ebbline.core.rules.rows import Verdicts
from ebbline.core.rules.table import RuleTable, lay_out
from ebbline.services.library import Library

Float = NDArray[np.float64]
Numbers = Sequence[float | None]

SUBSTRATES = ("lactose", "fructose", "glucose", "lactulose", "sorbitol", "sucrose", "xylose")
QUIET = Noise(ppm=1.5, fraction=0.10, gain_fraction=0.0)
O2 = Marker("o2", 20.9, 0.0, 13.9, 0.0, 0.2, 0.0)
CO2 = Marker("co2", 0.04, 0.0, 5.0, 0.0, 0.1, 0.0)


def a_dilution(*markers: Marker, **changes: float) -> Dilution:
    """Return limits as data/dilution.toml has them, with room air at 0 ppm."""
    limits = {
        "ambient_h2_ppm": 0.0,
        "ambient_ch4_ppm": 0.0,
        "u_ambient_ppm": 0.0,
        "accept_fraction": 0.985,
        "refuse_fraction": 0.5,
        "smallest_span_in_u": 5.0,
    }
    return Dilution(markers=markers, **{**limits, **changes})


def a_try(
    minute: float,
    h2: float | None,
    ch4: float | None = None,
    *,
    planned: float | None = None,
    status: Status = "ok",
    o2: float | None = None,
    co2: float | None = None,
    note: str = "",
    symptoms: Mapping[str, float] | None = None,
) -> Try:
    """Return one row of a test."""
    return Try(minute, planned, status, h2, ch4, o2, co2, note, symptoms or {}, 0)


def missed(planned: float, note: str = "") -> Try:
    """Return a sample that was missed."""
    return a_try(planned, None, planned=planned, status="missed", note=note)


def of_tries(*tries: Try, substrate: str = "lactose", **parts: Any) -> BreathTest:
    """Return a test of these rows."""
    given: dict[str, Any] = {
        "dose_g": None,
        "weight_kg": None,
        "age_years": None,
        "protocol": None,
        "facts": {},
    }
    return BreathTest(file="invented.csv", substrate=substrate, tries=tries, **(given | parts))


def build_test(
    minutes: Sequence[float],
    h2: Numbers,
    ch4: Numbers | None = None,
    *,
    substrate: str = "lactose",
    planned: Numbers | None = None,
    o2: Numbers | None = None,
    symptoms: Sequence[Mapping[str, float]] | None = None,
    **parts: Any,
) -> BreathTest:
    """Return a test of one try a sample; a sample whose hydrogen is None is missed."""
    none: list[None] = [None] * len(minutes)
    nobody: list[Mapping[str, float]] = [{} for _ in minutes]
    tries = [
        a_try(
            minute,
            value,
            methane if value is not None else None,
            planned=plan,
            o2=oxygen,
            status="ok" if value is not None else "missed",
            symptoms=scores,
        )
        for minute, value, methane, plan, oxygen, scores in zip(
            minutes, h2, ch4 or none, planned or none, o2 or none, symptoms or nobody, strict=True
        )
    ]
    return of_tries(*tries, substrate=substrate, **parts)


def array(values: Numbers) -> Float:
    """Return values as an array, NaN for None."""
    return np.array([np.nan if value is None else value for value in values], dtype=np.float64)


def one_curve(
    minutes: Numbers, h2: Numbers, ch4: Numbers | None = None, *, planned: Numbers | None = None
) -> Curves:
    """Return one test as a batch of one; None is a missing value."""
    methane = ch4 if ch4 is not None else [None] * len(minutes)
    return Curves(
        minute=array(minutes)[None, :],
        planned_minute=array(planned if planned is not None else minutes)[None, :],
        h2_ppm=array(h2)[None, :],
        ch4_ppm=array(methane)[None, :],
        symptom_rise=None,
    )


def stacked(*curves: Curves) -> Curves:
    """Return tests of one length as one batch, without symptoms."""
    return Curves(
        minute=np.vstack([one.minute for one in curves]),
        planned_minute=np.vstack([one.planned_minute for one in curves]),
        h2_ppm=np.vstack([one.h2_ppm for one in curves]),
        ch4_ppm=np.vstack([one.ch4_ppm for one in curves]),
        symptom_rise=None,
    )


def spread_of(curves: Curves, noise: Noise) -> Spread:
    """Return the spread of readings that were not normalised."""
    shape = curves.minute.shape
    return Spread(
        h2_sd=np.hypot(noise.ppm, noise.fraction * curves.h2_ppm),
        ch4_sd=np.hypot(noise.ppm, noise.fraction * curves.ch4_ppm),
        scale_u=np.zeros(shape),
        normalised=np.zeros(shape, dtype=np.bool_),
        reference_u=np.zeros(shape[0]),
    )


def known(value: float | None) -> float:
    """Return a value that must be there."""
    assert value is not None
    return value


@lru_cache(maxsize=1)
def library() -> Library:
    """Return what the service has at hand, read once."""
    return load_library()


def published(*ids: str) -> tuple[RuleSet, ...]:
    """Return bundled rule sets by id; all of them without one."""
    sets = {rule_set.id: rule_set for rule_set in library().rule_sets}
    return tuple(sets[name] for name in ids) if ids else library().rule_sets


ROW: dict[str, Any] = {
    "id": "row",
    "question": "carbohydrate-malabsorption",
    "substrates": ["lactose"],
    "gas": "h2",
    "measure": "rise over baseline",
    "comparison": "at least",
    "threshold_ppm": 20,
    "source": "invented",
    "provenance": "read",
}
SET: dict[str, Any] = {"id": "own", "version": "1", "title": "Own", "source": "invented"}
VALID: dict[str, Any] = {
    "id": "fasting",
    "substrates": ["lactose"],
    "gas": "h2",
    "measure": "baseline",
    "comparison": "at least",
    "threshold_ppm": 15,
    "says": "Fasting H2 of 15 ppm or more",
    "source": "invented",
    "provenance": "read",
}


def without(row: Mapping[str, Any], *keys: str, **changes: Any) -> dict[str, Any]:
    """Return a row with some keys left out and some changed."""
    return {key: value for key, value in {**row, **changes}.items() if key not in keys}


def statement_row(**changes: Any) -> dict[str, Any]:
    """Return a row of a rule file; readings must reach 180 min unless it says otherwise."""
    row = {**ROW, **changes}
    if "by_minute" not in row and "needs_minutes" not in row:
        row["needs_minutes"] = 180
    return row


def parse(
    table: Mapping[str, Any], *, lines: Mapping[str, int] | None = None, file: str = "own.toml"
) -> RuleSet:
    """Return the rule set that a table holds."""
    return parse_rule_set(table, file=file, lines=lines or {}, substrates=SUBSTRATES)


def rule_set(
    *rows: Mapping[str, Any], validity: Sequence[Mapping[str, Any]] = (), **changes: Any
) -> RuleSet:
    """Return a rule set of these rows; of one plain row without any."""
    table = {**SET, **changes, "statement": list(rows) or [statement_row()]}
    if validity:
        table["validity"] = list(validity)
    return parse(table)


def refusal(table: Mapping[str, Any], *, lines: Mapping[str, int] | None = None) -> str:
    """Return what the grammar says of a table that it refuses."""
    try:
        parse(table, lines=lines)
    except RuleError as error:
        return str(error)
    return "not refused"


def table_of(*rule_sets: RuleSet) -> RuleTable:
    """Return rule sets as arrays."""
    return lay_out(rule_sets, SUBSTRATES)


def verdicts_of(
    curves: Curves,
    table: RuleTable,
    *,
    substrate: str = "lactose",
    baseline_rule: int = 0,
    tolerance: float = 0.0,
) -> Verdicts:
    """Return the verdicts on tests of one substrate."""
    which = np.full(curves.n_tests, table.substrates.index(substrate))
    return judge(curves, table.rows, which, baseline_rule=baseline_rule, minute_tolerance=tolerance)


def reported_of(
    curves: Curves,
    table: RuleTable,
    row: int,
    *,
    substrate: str = "lactose",
    baseline_rule: int = 0,
    tolerance: float = 0.0,
) -> tuple[float, int]:
    """Return the number and the sample that stand beside a verdict on one test."""
    verdicts = verdicts_of(
        curves, table, substrate=substrate, baseline_rule=baseline_rule, tolerance=tolerance
    )
    return reported(
        table.statements[row][1],
        curves,
        result=int(verdicts.result[0, row]),
        reason=int(verdicts.reason[0, row]),
        at=int(verdicts.at[0, row]),
        baseline_rule=baseline_rule,
        minute_tolerance=tolerance,
    )


def chances_of(
    curves: Curves,
    spread: Spread,
    table: RuleTable,
    *,
    substrate: str = "lactose",
    baseline_rule: int = 0,
    u_gain: float = 0.0,
    ambient_h2: float = 0.0,
    ambient_ch4: float = 0.0,
    tolerance: float = 0.0,
) -> Float:
    """Return the chances of tests of one substrate."""
    return chances(
        curves,
        spread,
        table.rows,
        verdicts_of(
            curves, table, substrate=substrate, baseline_rule=baseline_rule, tolerance=tolerance
        ),
        ambient_h2_ppm=ambient_h2,
        ambient_ch4_ppm=ambient_ch4,
        u_gain=u_gain,
        baseline_rule=baseline_rule,
        minute_tolerance=tolerance,
    )


def the_settings(
    *,
    noise: Noise = QUIET,
    dilution: Dilution | None = None,
    baseline: Literal["mean", "last", "lowest"] = "mean",
    minute_tolerance: float = 0.0,
) -> Settings:
    """Return settings of an interpretation, without marker gases unless said otherwise."""
    return Settings(noise, "invented", dilution or a_dilution(), baseline, minute_tolerance)


def interpreted(
    test: BreathTest,
    *rule_sets: RuleSet,
    criterion: str | None = None,
    settings: Settings | None = None,
) -> Interpretation:
    """Return the interpretation of a test, by all bundled rule sets unless some are given."""
    return interpret(
        test,
        rule_sets=rule_sets or published(),
        criterion=criterion,
        settings=settings or the_settings(),
        substrates=SUBSTRATES,
        wording=library().wording,
        transit=library().transit,
        engine="ebbline test",
    )


def finding_of(result: Interpretation, rule_set_id: str, question: str) -> FindingResult:
    """Return the one finding of a rule set on a question."""
    (found,) = [
        finding
        for finding in result.findings
        if finding.rule_set == rule_set_id and finding.question == question
    ]
    return found


def statement_of(result: Interpretation, rule_set_id: str, statement: str) -> StatementResult:
    """Return the one result of a statement."""
    (found,) = [
        row
        for row in result.statements
        if row.rule_set == rule_set_id and row.statement == statement
    ]
    return found
