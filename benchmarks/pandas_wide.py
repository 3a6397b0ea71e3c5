"""The rules in pandas, over a wide table: one row a test, one column a sample of each quantity.

Every step is one operation on whole columns. What several rows need (a gas's rises, their highest
value inside a window, the last minute with a reading) is computed once for each substrate.
"""

from functools import cached_property
from typing import NamedTuple

import numpy as np
import pandas as pd

from benchmarks.pandas_rules import (
    ROUNDING,
    Answer,
    Answers,
    answer_rows,
    bar,
    gather,
    reach,
    weights,
)
from ebbline.core.curve.curves import Curves
from ebbline.core.rules.grammar import Statement, Validity
from ebbline.core.rules.table import RuleTable


class Wide(NamedTuple):
    """The tests as tables with a row for each test and a column for each sample."""

    minute: pd.DataFrame
    planned: pd.DataFrame
    h2: pd.DataFrame
    ch4: pd.DataFrame


def wide_frames(curves: Curves) -> Wide:
    """Return the tests as tables, each column in one piece, as pandas works fastest."""
    arrays = (curves.minute, curves.planned_minute, curves.h2_ppm, curves.ch4_ppm)
    return Wide(*(pd.DataFrame(np.asfortranarray(array)) for array in arrays))


def judge_wide(
    wide: Wide, substrate: "pd.Series[str]", table: RuleTable, tolerance: float
) -> Answers:
    """Judge every test of a wide table by every row.

    Parameters
    ----------
    wide : Wide
        From `wide_frames`.
    substrate : Series
        Substrate of each test, as a category.
    table : RuleTable
        The rule sets' rows.
    tolerance : float
        How late a sample may be and still count, minutes.

    Returns
    -------
    Answers
    """
    parts = []
    for name in substrate.cat.categories:
        chosen = substrate == name
        tests = _Tests(Wide(*(frame[chosen] for frame in wide)), tolerance)
        parts.append(answer_rows(table, name, tests.index, tests.ask, tests.spoils))
    return gather(parts, wide.minute.index)


class _Tests:
    """The tests of one substrate, with what several rows share."""

    def __init__(self, wide: Wide, tolerance: float) -> None:
        self.wide = wide
        self.minute = wide.minute
        self.reach = reach(wide.minute, wide.planned)
        self.index = wide.minute.index
        self.tolerance = tolerance
        self._series: dict[str, pd.DataFrame] = {}
        self._base: dict[str, pd.Series[float]] = {}
        self._last: dict[str, pd.Series[float]] = {}
        self._values: dict[tuple[str, str], pd.DataFrame] = {}
        self._best: dict[tuple[str, str, float | None], pd.Series[float]] = {}

    @cached_property
    def fasting(self) -> pd.DataFrame:
        return self.minute <= 0.0

    def series(self, gas: str) -> pd.DataFrame:
        if gas not in self._series:
            by_h2, by_ch4 = weights(gas)
            if by_ch4 == 0.0:
                self._series[gas] = self.wide.h2
            elif by_h2 == 0.0:
                self._series[gas] = self.wide.ch4
            else:
                self._series[gas] = by_h2 * self.wide.h2 + by_ch4 * self.wide.ch4
        return self._series[gas]

    def base(self, gas: str) -> "pd.Series[float]":
        if gas not in self._base:
            self._base[gas] = self.series(gas).where(self.fasting).mean(axis=1)
        return self._base[gas]

    def last(self, gas: str) -> "pd.Series[float]":
        if gas not in self._last:
            self._last[gas] = self.reach.where(self.series(gas).notna()).max(axis=1)
        return self._last[gas]

    def values(self, gas: str, measure: str) -> pd.DataFrame:
        """Return what may cross: levels, or rises after the drink; missing elsewhere."""
        if (gas, measure) not in self._values:
            series = self.series(gas)
            if measure == "rise over baseline":
                series = series.sub(self.base(gas), axis=0).mask(self.fasting)
            elif measure != "level":
                raise SystemExit(f"the peer has no {measure}; write it before adding such a rule")
            self._values[gas, measure] = series
        return self._values[gas, measure]

    def best(self, gas: str, measure: str, by_minute: float | None) -> "pd.Series[float]":
        key = (gas, measure, by_minute)
        if key not in self._best:
            values = self.values(gas, measure)
            if by_minute is not None:
                values = values.where(self.minute <= by_minute + self.tolerance)
            self._best[key] = values.max(axis=1)
        return self._best[key]

    def ask(self, row: Statement) -> Answer:
        if row.gas == "symptoms":
            # These tests did not ask for symptoms.
            every = pd.Series(True, index=self.index)
            return Answer(~every, every, None)
        best = self.best(row.gas, row.measure, row.by_minute)
        met = best >= bar(row)
        stopped_early = ~(self.last(row.gas) >= row.end_minute - self.tolerance)
        cannot = ~met & (best.isna() | stopped_early)
        if row.by_minute is not None:
            cannot |= ~met & self.missed_key_sample(row, row.by_minute, met)
        if row.undecided_from is None:
            return Answer(met, cannot, None)
        return Answer(met, cannot, ~met & ~cannot & (best >= row.undecided_from - ROUNDING))

    def missed_key_sample(
        self, row: Statement, by_minute: float, met: "pd.Series[bool]"
    ) -> "pd.Series[bool]":
        """Whether the first value after the window crosses and a planned one before is unseen."""
        limit = by_minute + self.tolerance
        # Few tests cross after the window without having crossed inside; only they are looked at.
        late = self.values(row.gas, row.measure).mask(self.minute <= limit).max(axis=1)
        tests = met.index[(late >= bar(row)) & ~met]
        values = self.values(row.gas, row.measure).loc[tests]
        minute = self.minute.loc[tests]
        inside = minute <= limit
        after = values.notna() & ~inside
        crossing = after & (after.cumsum(axis=1) == 1) & (values >= bar(row))
        planned = self.wide.planned.loc[tests]
        unseen = (self.series(row.gas).loc[tests].isna() | ~inside) & (
            (planned > 0.0) & (planned <= by_minute)
        )
        last_inside = minute.where(values.notna() & inside).max(axis=1).fillna(-np.inf)
        crossed_at = minute.where(crossing).max(axis=1)
        between = minute.gt(last_inside, axis=0) & minute.le(crossed_at, axis=0)
        missed = (unseen & between).any(axis=1)
        # A step over the end half as long again as any before it has left a sample out.
        seen = minute.where(self.series(row.gas).loc[tests].notna())
        step = seen - seen.ffill(axis=1).shift(axis=1)
        longest = step.where(minute.le(last_inside, axis=0)).max(axis=1)
        reached = self.reach.loc[tests].where(values.notna() & inside).max(axis=1)
        missed |= (reached < by_minute) & (crossed_at - last_inside > 1.5 * longest)
        return missed.reindex(met.index, fill_value=False)

    def spoils(self, row: Validity) -> "pd.Series[bool]":
        return self.base(row.gas) >= bar(row)
