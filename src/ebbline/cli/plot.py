"""The curve as a small plot of characters."""

import math
from collections.abc import Callable

from ebbline.core.rules.interpretation import Interpretation, InterpretedSample
from ebbline.core.rules.phrases import number

HEIGHT = 10
H2_MARK, CH4_MARK, BOTH_MARK, REFUSED_MARK = "●", "◇", "◈", "×"


def plot(interpretation: Interpretation, *, width: int) -> str:
    """Return both gases over actual minutes, as text.

    Parameters
    ----------
    interpretation : Interpretation
        The test.
    width : int
        Columns to use, at least 40.

    Returns
    -------
    str
        Hydrogen as filled circles, methane as open diamonds, refused samples as crosses at their
        raw value; a dotted line is the adopted criterion's hydrogen threshold.
    """
    samples = interpretation.samples
    if not samples:
        return "No reading to draw."
    values = [value for sample in samples for value in _values(sample)]
    bar = threshold_line(interpretation)
    top = _round_up(max([*values, 10.0, *([] if bar is None else [bar])]))
    left = len(number(top)) + 1
    columns = max(width, 40) - left - 8
    first = min(0.0, samples[0].minute)
    span = max(samples[-1].minute - first, 1.0)
    grid = [[" "] * columns for _ in range(HEIGHT + 1)]

    def row_of(value: float) -> int:
        share = min(max(value, 0.0), top) / top
        return HEIGHT - round(share * HEIGHT)

    def column_of(minute: float) -> int:
        return round((minute - first) / span * (columns - 1))

    if bar is not None:
        grid[row_of(bar)] = ["┄"] * columns
    for sample in samples:
        at = column_of(sample.minute)
        if sample.ch4_ppm is not None and sample.ch4_ppm.value_ppm is not None:
            grid[row_of(sample.ch4_ppm.value_ppm)][at] = CH4_MARK
        if sample.h2_ppm.value_ppm is None:
            grid[row_of(sample.h2_ppm.raw_ppm)][at] = REFUSED_MARK
        else:
            row = row_of(sample.h2_ppm.value_ppm)
            grid[row][at] = BOTH_MARK if grid[row][at] == CH4_MARK else H2_MARK
    lines = []
    for row, cells in enumerate(grid):
        label = number(top * (HEIGHT - row) / HEIGHT) if row % 5 == 0 else ""
        lines.append(f"{label:>{left}} {'┤' if label else '│'}{''.join(cells)}".rstrip())
    lines.append(f"{'':>{left}} └{'─' * columns}")
    lines.append(_minute_labels(samples, left + 2, columns, column_of))
    legend = f"{H2_MARK} H2"
    if any(sample.ch4_ppm is not None for sample in samples):
        legend += f"   {CH4_MARK} CH4"
    if any(BOTH_MARK in cells for cells in grid):
        legend += f"   {BOTH_MARK} both"
    if any(sample.quality == "refused" for sample in samples):
        legend += f"   {REFUSED_MARK} refused, raw H2"
    if bar is not None:
        legend += f"   ┄ threshold for H2, {number(bar)} ppm"
    lines.append(f"{'ppm':>{left}}   {legend}")
    return "\n".join(lines)


def threshold_line(interpretation: Interpretation) -> float | None:
    """Return baseline plus threshold of the adopted hydrogen rise, ppm."""
    adopted = {used.id for used in interpretation.rule_sets if used.adopted}
    baseline = interpretation.measures["h2_ppm"].baseline
    for row in interpretation.statements:
        if row.rule_set in adopted and row.gas == "h2" and row.measure == "rise over baseline":
            return None if baseline is None else baseline + row.threshold
    return None


def _values(sample: InterpretedSample) -> list[float]:
    gases = [sample.h2_ppm] if sample.ch4_ppm is None else [sample.h2_ppm, sample.ch4_ppm]
    return [gas.raw_ppm if gas.value_ppm is None else gas.value_ppm for gas in gases]


def _round_up(value: float) -> float:
    """Return the next value above whose half is a round number too."""
    step = 10.0 ** math.floor(math.log10(value))
    for factor in (1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0):
        if value <= factor * step:
            return factor * step
    return 10.0 * step


def _minute_labels(
    samples: tuple[InterpretedSample, ...],
    left: int,
    columns: int,
    column_of: Callable[[float], int],
) -> str:
    line = [" "] * (columns + 8)
    end = -1
    for sample in samples:
        text = number(sample.minute)
        start = max(0, column_of(sample.minute) - len(text) // 2)
        if start > end:
            line[start : start + len(text)] = text
            end = start + len(text)
    return f"{'':>{left}}{''.join(line).rstrip()} min"
