"""What the adopted rule set asks, as a chart shows it: a window and threshold lines."""

from dataclasses import dataclass

from ebbline.adapters.chart.slots import series_of
from ebbline.adapters.chart.wording import adopted, gas_label, tenths
from ebbline.core.rules.interpretation import Interpretation, StatementResult


@dataclass(frozen=True, slots=True)
class Threshold:
    """A level, ppm, from a minute on, with the arithmetic that gave it."""

    gas: str
    level_ppm: float
    from_minute: float | None
    arithmetic: str


@dataclass(frozen=True, slots=True)
class Criteria:
    """The window ends at `by_minute`, which is None where any minute counts."""

    title: str
    by_minute: float | None
    thresholds: tuple[Threshold, ...]


def criteria(interpretation: Interpretation) -> Criteria | None:
    """Return what the adopted rule set asks of hydrogen and of methane.

    Returns
    -------
    Criteria or None
        None where no rule set is adopted. The window is that of the first hydrogen statement with
        a by-minute, or of the first statement with one where hydrogen has none.
    """
    sets = {used.id: used.title for used in adopted(interpretation)}
    rows = [row for row in interpretation.statements if row.rule_set in sets and row.unit == "ppm"]
    if not rows:
        return None
    thresholds: list[Threshold] = []
    for gas in ("h2", "ch4"):
        for row in rows:
            line = _threshold(interpretation, row) if row.gas == gas else None
            if line is not None and line.level_ppm not in [
                t.level_ppm for t in thresholds if t.gas == gas
            ]:
                thresholds.append(line)
    windows = [row for row in rows if row.by_minute is not None]
    deciding = next((row for row in windows if row.gas == "h2"), None) or next(iter(windows), None)
    return Criteria(
        title=sets[deciding.rule_set if deciding else rows[0].rule_set],
        by_minute=deciding.by_minute if deciding else None,
        thresholds=tuple(thresholds),
    )


def _threshold(interpretation: Interpretation, row: StatementResult) -> Threshold | None:
    """Return the line of one statement, None where the test has nothing to count from."""
    points = series_of(interpretation, row.gas).points
    if not points:
        return None
    gas = gas_label(row.gas)
    prefix = "more than " if row.comparison == "more than" else ""
    if row.measure == "level":
        return Threshold(row.gas, row.threshold, None, f"{prefix}{tenths(row.threshold)} ppm {gas}")
    if row.measure == "rise over baseline":
        measures = interpretation.measures.get(f"{row.gas}_ppm")
        if measures is None or measures.baseline is None:
            return None
        start, base, from_minute = "baseline", measures.baseline, None
    else:
        # The lowest earlier reading changes along the curve. Where the criterion is met, the one
        # that it was met from is drawn; otherwise the lowest of all.
        met = next((p for p in points if p.minute == row.first_minute), None)
        earlier = [p for p in points if met is None or p.minute < met.minute]
        if not earlier:
            return None
        lowest = min(earlier, key=lambda p: p.value_ppm)
        start, base, from_minute = "lowest earlier", lowest.value_ppm, lowest.minute
    level = base + row.threshold
    arithmetic = f"{gas} {start} {tenths(base)} + {tenths(row.threshold)} = {tenths(level)} ppm"
    return Threshold(row.gas, level, from_minute, prefix + arithmetic)
