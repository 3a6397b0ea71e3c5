"""Tables of a report: criteria, samples with raw and normalised side by side, measures."""

import math
import re
from dataclasses import dataclass
from typing import Any

from ebbline.adapters.chart.slots import gas_of, slots_of
from ebbline.adapters.chart.wording import (
    adopted,
    column,
    gas_name,
    number,
    question_title,
    tenths,
    words,
)
from ebbline.adapters.pdf.summary import SYMPTOMS_QUESTION
from ebbline.core.curve.breath_test import Setback
from ebbline.core.rules.interpretation import (
    Interpretation,
    InterpretedSample,
    StatementResult,
)
from ebbline.core.rules.phrases import chance_text

Table = dict[str, Any]


@dataclass(frozen=True, slots=True)
class _Column:
    label: str
    align: str
    cells: list[str]


def adopted_rows(interpretation: Interpretation) -> list[Table]:
    """Return the statements of the adopted rule set about gases."""
    ids = {used.id for used in adopted(interpretation)}
    return [
        _statement(row)
        for row in interpretation.statements
        if row.rule_set in ids and row.question != SYMPTOMS_QUESTION
    ]


def comparisons(interpretation: Interpretation) -> list[Table]:
    """Return the statements of the other rule sets, question by question: ``question, rows``."""
    others = {used.id: used.title for used in interpretation.rule_sets if not used.adopted}
    groups: dict[str, list[Table]] = {}
    for row in interpretation.statements:
        if row.rule_set in others and row.question != SYMPTOMS_QUESTION:
            line = {**_statement(row), "title": others[row.rule_set]}
            groups.setdefault(row.question, []).append(line)
    return [{"question": question_title(q), "rows": rows} for q, rows in groups.items()]


def sample_table(interpretation: Interpretation, *, clock: bool) -> Table:
    """Return every slot in order of time; columns that nobody filled are left out.

    Parameters
    ----------
    interpretation : Interpretation
        The test.
    clock : bool
        Whether the time of day stands beside the minute; it is counted from that of minute 0.

    Returns
    -------
    dict
        ``columns`` (label and align), ``rows`` of texts, and ``counted`` for each row.
    """
    slots = slots_of(interpretation)
    started = interpretation.test.facts.get("started", "") if clock else ""
    columns = [
        _Column("Minute", "right", column([slot.minute for slot in slots], 2)),
        _Column("Time", "right", [_time_of_day(started, slot.minute) for slot in slots]),
        _Column("Planned", "right", column([slot.planned_minute for slot in slots], 2)),
        *_gas_columns(interpretation, "h2", "H2"),
        *_gas_columns(interpretation, "ch4", "CH4"),
        _Column("O2 %", "right", column([_of(slot, "o2_pct") for slot in slots], 2)),
        _Column("CO2 %", "right", column([_of(slot, "co2_pct") for slot in slots], 2)),
        _Column("Alveolar", "right", [_fraction(slot) for slot in slots]),
        _Column("Quality", "left", [_quality(slot) for slot in slots]),
        _Column("Symptoms", "left", [_symptoms(slot) for slot in slots]),
        _Column("Notes", "left", [_notes(slot) for slot in slots]),
    ]
    kept = [one for one in columns if any(one.cells)]
    return {
        "columns": [{"label": one.label, "align": one.align} for one in kept],
        "rows": [[one.cells[i] for one in kept] for i in range(len(slots))],
        "counted": [not isinstance(slot, Setback) and slot.quality != "refused" for slot in slots],
    }


def measure_table(interpretation: Interpretation) -> Table:
    """Return baseline, peak, rises and areas of each gas, and of each sum that a row judges."""
    asked = {"h2", "ch4"} | {row.gas for row in interpretation.statements}
    rows = []
    for series, found in interpretation.measures.items():
        gas = series.removesuffix("_ppm")
        if gas not in asked or (found.baseline is None and found.peak is None):
            continue
        name = gas_name(gas)
        rows.append(
            [
                name[:1].upper() + name[1:],
                _ppm(found.baseline, None),
                _ppm(found.peak, found.peak_minute),
                _ppm(found.max_rise, found.max_rise_minute),
                _ppm(found.max_rise_over_lowest, None),
                _area(found.area_total_ppm_min),
                _area(found.area_net_ppm_min),
                _area(found.area_positive_ppm_min),
            ]
        )
    labels = (
        "Series", "Baseline", "Peak", "Largest rise", "Rise over lowest",
        "Area", "Net area", "Area above baseline",
    )  # fmt: skip
    aligns = ["left"] + ["right"] * 7
    columns = [{"label": a, "align": b} for a, b in zip(labels, aligns, strict=True)]
    return {"columns": columns, "rows": rows}


def _statement(row: StatementResult) -> Table:
    known = row.chance is not None
    return {
        "question": question_title(row.question),
        "result": row.result,
        "because": row.because,
        "chance": row.chance if known else None,
        "chance_text": chance_text(row.chance) if row.chance is not None else "",
        "checked": row.checked,
    }


def _gas_columns(interpretation: Interpretation, gas: str, name: str) -> list[_Column]:
    """Return raw, normalised and the uncertainty of what counts, ppm."""
    raw: list[float | None] = []
    normalised: list[float | None] = []
    u: list[float | None] = []
    for slot in slots_of(interpretation):
        if isinstance(slot, Setback):
            raw.append(slot.h2_ppm if gas == "h2" else slot.ch4_ppm)
            normalised.append(None)
            u.append(None)
            continue
        value = gas_of(slot, gas)
        raw.append(value.raw_ppm if value else None)
        normalised.append(value.normalised_ppm if value else None)
        u.append(value.u_ppm if value else None)
    return [
        _Column(f"{name} raw", "right", column(raw, 2)),
        _Column(f"{name} norm.", "right", column(normalised, 1)),
        _Column(f"u({name})", "right", column(u, 1)),
    ]


def _time_of_day(started: str, minute: float) -> str:
    """Return the time of day at a minute, ``10:23``; empty where that of minute 0 is not known."""
    found = re.fullmatch(r"(\d{1,2}):(\d{2})(?::\d{2})?", started.strip())
    if found is None:
        return ""
    since_midnight = int(found[1]) * 60 + int(found[2]) + math.floor(minute)
    return f"{since_midnight // 60 % 24:02d}:{since_midnight % 60:02d}"


def _of(slot: InterpretedSample | Setback, name: str) -> float | None:
    if isinstance(slot, Setback):
        return None
    return slot.o2_pct if name == "o2_pct" else slot.co2_pct


def _fraction(slot: InterpretedSample | Setback) -> str:
    if isinstance(slot, Setback) or slot.alveolar_fraction is None:
        return ""
    return f"{max(0.0, slot.alveolar_fraction):.2f}"


def _quality(slot: InterpretedSample | Setback) -> str:
    return str(words()["setback"][slot.reason]) if isinstance(slot, Setback) else slot.quality


def _symptoms(slot: InterpretedSample | Setback) -> str:
    """Return the scores above 0; ``none`` where every score that was asked was 0."""
    if isinstance(slot, Setback) or not slot.symptoms:
        return ""
    felt = [f"{name} {number(score)}" for name, score in slot.symptoms.items() if score > 0.0]
    return ", ".join(felt) or "none"


def _notes(slot: InterpretedSample | Setback) -> str:
    return slot.note if isinstance(slot, Setback) else "; ".join(slot.notes)


def _ppm(value: float | None, minute: float | None) -> str:
    if value is None:
        return ""
    return tenths(value) if minute is None else f"{tenths(value)} at {number(minute)} min"


def _area(value: float | None) -> str:
    return "" if value is None else number(round(value))
