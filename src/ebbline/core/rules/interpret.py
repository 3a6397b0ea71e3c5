"""From a test as recorded to its interpretation: one public function on immutable values."""

import hashlib
import math

import numpy as np

from ebbline.core.curve.breath_test import BreathTest
from ebbline.core.curve.collect import Collected, as_curves, as_spread, collect
from ebbline.core.curve.curves import Curves
from ebbline.core.curve.measures import BASELINE_RULES, Measures, baseline_of, measure
from ebbline.core.curve.transit import TransitDefinition, transit_interval
from ebbline.core.errors import AdoptionError
from ebbline.core.rules.chances import chances
from ebbline.core.rules.codes import (
    LATE_COUNTED,
    MET,
    NOT_ASKED,
    RESULT_WORDS,
    UNDECIDED,
)
from ebbline.core.rules.conclude import conclude, disagreements
from ebbline.core.rules.grammar import RuleSet, Statement
from ebbline.core.rules.interpretation import (
    Interpretation,
    InterpretedSample,
    RuleSetUsed,
    Settings,
    StatementResult,
    Transit,
)
from ebbline.core.rules.judge import judge
from ebbline.core.rules.phrases import because
from ebbline.core.rules.reported import reported
from ebbline.core.rules.rows import Verdicts
from ebbline.core.rules.table import RuleTable, lay_out
from ebbline.core.rules.wording import Wording, cautions_for

MEASURED = ("h2", "ch4", "h2_plus_2ch4", "h2_plus_4ch4")
"""Series whose measures are reported; ``_ppm`` is appended to their names in documents."""


def check_adoption(rule_set: RuleSet) -> None:
    """Refuse a rule set as reporting criterion while a row of it is from memory only.

    Parameters
    ----------
    rule_set : RuleSet
        The rule set to adopt.

    Raises
    ------
    AdoptionError
        Naming the rows that a named person must confirm first.
    """
    if rule_set.unchecked:
        raise AdoptionError(
            file=rule_set.id,
            key="provenance",
            wrong="cannot be the reporting criterion while rows are not checked against the paper",
            allowed="confirmed_by and confirmed_on in each such row",
            came=f"memory in {', '.join(rule_set.unchecked)}",
            line=None,
        )


def interpret(
    test: BreathTest,
    *,
    rule_sets: tuple[RuleSet, ...],
    criterion: str | None,
    settings: Settings,
    substrates: tuple[str, ...],
    wording: Wording,
    transit: TransitDefinition,
    engine: str,
) -> Interpretation:
    """Interpret one test by every rule set that covers its substrate.

    Parameters
    ----------
    test : BreathTest
        The test as recorded.
    rule_sets : tuple of RuleSet
        In the order in which they are shown.
    criterion : str or None
        Id of the reporting criterion among them; None for no one.
    settings : Settings
        Noise, dilution, baseline rule and tolerance.
    substrates : tuple of str
        Every substrate there is.
    wording : Wording
        Words and limits.
    transit : TransitDefinition
        What counts as arrival in the caecum; used after lactulose.
    engine : str
        Version of the engine, kept with the result.

    Returns
    -------
    Interpretation

    Raises
    ------
    AdoptionError
        If the criterion holds a row that nobody has checked.
    """
    for rule_set in rule_sets:
        if rule_set.id == criterion:
            check_adoption(rule_set)
    used = tuple(rule_set for rule_set in rule_sets if rule_set.covers(test.substrate))
    table = lay_out(used, substrates)
    collected = collect(test, settings.noise, settings.dilution)
    curves = as_curves(collected, raw=False)
    verdicts = _judge(curves, table, test.substrate, settings)
    raw_verdicts = _judge(as_curves(collected, raw=True), table, test.substrate, settings)
    odds = _chances(curves, collected, table, verdicts, settings)
    rule = BASELINE_RULES[settings.baseline]
    measures = {gas: measure(curves.minute[0], curves.series(gas)[0], rule) for gas in MEASURED}
    statements = {
        row: _statement(row, table, verdicts, odds, curves, settings, wording)
        for row in range(len(table.statements))
        if verdicts.result[0, row] != NOT_ASKED
    }
    findings = conclude(
        test,
        table=table,
        verdicts=verdicts,
        raw_verdicts=raw_verdicts,
        statements=statements,
        curves=curves,
        measures=measures,
        settings=settings,
        wording=wording,
    )
    return Interpretation(
        engine=engine,
        id=_identify(test, used, criterion, settings, wording, transit, engine),
        test=test,
        settings=settings,
        rule_sets=tuple(_used(rule_set, criterion) for rule_set in used),
        samples=_samples(collected),
        not_counted=collected.not_counted,
        measures={f"{gas}_ppm": values for gas, values in measures.items()},
        transit=_transit(test, curves, measures["h2"], transit),
        statements=tuple(statements.values()),
        findings=findings,
        disagreements=disagreements(findings, used, wording),
        cautions=cautions_for(test.substrate, wording),
    )


def _judge(curves: Curves, table: RuleTable, substrate: str, settings: Settings) -> Verdicts:
    return judge(
        curves,
        table.rows,
        np.array([table.substrates.index(substrate)]),
        baseline_rule=BASELINE_RULES[settings.baseline],
        minute_tolerance=settings.minute_tolerance,
    )


def _chances(
    curves: Curves,
    collected: Collected,
    table: RuleTable,
    verdicts: Verdicts,
    settings: Settings,
) -> list[float]:
    found = chances(
        curves,
        as_spread(collected),
        table.rows,
        verdicts,
        ambient_h2_ppm=settings.dilution.ambient_h2_ppm,
        ambient_ch4_ppm=settings.dilution.ambient_ch4_ppm,
        u_gain=settings.noise.gain_fraction,
        baseline_rule=BASELINE_RULES[settings.baseline],
        minute_tolerance=settings.minute_tolerance,
    )
    return [float(chance) for chance in found[0]]


def _statement(
    row: int,
    table: RuleTable,
    verdicts: Verdicts,
    odds: list[float],
    curves: Curves,
    settings: Settings,
    wording: Wording,
) -> StatementResult:
    rule_set, statement = table.statements[row]
    result = int(verdicts.result[0, row])
    reason = int(verdicts.reason[0, row])
    value, at = reported(
        statement,
        curves,
        result=result,
        reason=reason,
        at=int(verdicts.at[0, row]),
        baseline_rule=BASELINE_RULES[settings.baseline],
        minute_tolerance=settings.minute_tolerance,
    )
    series = curves.series(statement.gas)[0]
    earlier = series[:at][~np.isnan(series[:at])] if at > 0 else series[:0]
    words = because(
        statement,
        result=result,
        reason=reason,
        value=value,
        at=at,
        base=baseline_of(curves.minute[0], series, BASELINE_RULES[settings.baseline]),
        lowest_before=float(earlier.min()) if earlier.size else math.nan,
        curves=curves,
        gas_name=wording.gases[statement.gas],
        tolerance=settings.minute_tolerance,
    )
    return StatementResult(
        rule_set=rule_set.id,
        statement=statement.id,
        question=statement.question,
        gas=statement.gas,
        measure=statement.measure,
        result=RESULT_WORDS[result],
        value=None if math.isnan(value) else value,
        threshold=statement.threshold,
        unit=statement.unit,
        comparison=statement.comparison,
        by_minute=statement.by_minute,
        first_minute=float(curves.minute[0, at]) if result == MET else None,
        chance=None if math.isnan(odds[row]) else odds[row],
        because=words,
        undecided=reason == UNDECIDED,
        late=reason == LATE_COUNTED,
        checked=statement.checked,
        source=_source(rule_set, statement),
    )


def _source(rule_set: RuleSet, statement: Statement) -> str:
    return f"{rule_set.source}; {statement.source}"


def _used(rule_set: RuleSet, criterion: str | None) -> RuleSetUsed:
    return RuleSetUsed(
        id=rule_set.id,
        version=rule_set.version,
        title=rule_set.title,
        source=rule_set.source,
        checked=not rule_set.unchecked,
        adopted=rule_set.id == criterion,
    )


def _samples(collected: Collected) -> tuple[InterpretedSample, ...]:
    samples = []
    for slot in collected.slots:
        if slot.counted is None or slot.reading is None:
            continue
        note = (slot.counted.note,) if slot.counted.note else ()
        samples.append(
            InterpretedSample(
                minute=slot.minute,
                planned_minute=slot.planned_minute,
                h2_ppm=slot.reading.h2,
                ch4_ppm=slot.reading.ch4,
                o2_pct=slot.counted.o2_pct,
                co2_pct=slot.counted.co2_pct,
                alveolar_fraction=slot.reading.alveolar_fraction,
                quality=slot.reading.quality,
                notes=(*slot.reading.notes, *note),
                symptoms=slot.symptoms,
            )
        )
    return tuple(samples)


def _transit(
    test: BreathTest, curves: Curves, h2: Measures, definition: TransitDefinition
) -> Transit | None:
    if test.substrate != "lactulose" or h2.baseline is None:
        return None
    found = transit_interval(curves.minute[0], curves.h2_ppm[0], h2.baseline, definition)
    if found is None:
        return None
    return Transit(definition.title, found[0], found[1])


def _identify(
    test: BreathTest,
    rule_sets: tuple[RuleSet, ...],
    criterion: str | None,
    settings: Settings,
    wording: Wording,
    transit: TransitDefinition,
    engine: str,
) -> str:
    """Return a short id that changes with any input: the same inputs give the same id."""
    content = repr(
        (
            test.substrate,
            test.dose_g,
            test.weight_kg,
            test.age_years,
            test.protocol,
            test.tries,
            sorted(test.facts.items()),
            rule_sets,
            criterion,
            settings,
            wording,
            transit,
            engine,
        )
    )
    digest = hashlib.sha256(content.encode()).hexdigest()
    return "-".join(digest[i : i + 4] for i in (0, 4, 8))
