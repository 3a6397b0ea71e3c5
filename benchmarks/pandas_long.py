"""The rules in pandas, over a long table: one row a sample, as curve files and archives keep them.

Every step is one operation on whole columns or one group-by over the tests. What several rows need
is computed once for each substrate.
"""

from functools import cached_property

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


def long_frame(curves: Curves, substrate: "pd.Series[str]") -> pd.DataFrame:
    """Return the tests as one frame with a row for each sample, in order of test and time."""
    n_samples = curves.minute.shape[1]
    return pd.DataFrame(
        {
            "test": np.repeat(np.arange(curves.n_tests), n_samples),
            "substrate": pd.Categorical.from_codes(
                np.repeat(substrate.cat.codes.to_numpy(), n_samples),
                categories=substrate.cat.categories,
            ),
            "minute": curves.minute.ravel(),
            "planned": curves.planned_minute.ravel(),
            "h2": curves.h2_ppm.ravel(),
            "ch4": curves.ch4_ppm.ravel(),
        }
    )


def judge_long(
    frame: pd.DataFrame, tests: "pd.Index[int]", table: RuleTable, tolerance: float
) -> Answers:
    """Judge every test of a long frame by every row.

    Parameters
    ----------
    frame : DataFrame
        From `long_frame`.
    tests : Index
        Numbers of all tests, in the order of the answer.
    table : RuleTable
        The rule sets' rows.
    tolerance : float
        How late a sample may be and still count, minutes.

    Returns
    -------
    Answers
    """
    parts = []
    for name, part in frame.groupby("substrate", observed=True, sort=False):
        one = _Tests(part, tolerance)
        parts.append(answer_rows(table, str(name), one.tests, one.ask, one.spoils))
    return gather(parts, tests)


class _Tests:
    """The samples of all tests of one substrate, with what several rows share."""

    def __init__(self, frame: pd.DataFrame, tolerance: float) -> None:
        self.frame = frame
        self.tolerance = tolerance
        self.test = frame["test"]
        self.minute = frame["minute"]
        self.reach = reach(frame["minute"], frame["planned"])
        self.tests = pd.Index(self.test.drop_duplicates())
        self._series: dict[str, pd.Series[float]] = {}
        self._base: dict[str, pd.Series[float]] = {}
        self._last: dict[str, pd.Series[float]] = {}
        self._values: dict[tuple[str, str], pd.Series[float]] = {}
        self._best: dict[tuple[str, str, float | None], pd.Series[float]] = {}

    @cached_property
    def fasting(self) -> "pd.Series[bool]":
        return self.minute <= 0.0

    def highest(self, values: "pd.Series[float]") -> "pd.Series[float]":
        """Return the highest value of each test."""
        return values.groupby(self.test, sort=False).max()

    def series(self, gas: str) -> "pd.Series[float]":
        if gas not in self._series:
            by_h2, by_ch4 = weights(gas)
            if by_ch4 == 0.0:
                self._series[gas] = self.frame["h2"]
            elif by_h2 == 0.0:
                self._series[gas] = self.frame["ch4"]
            else:
                self._series[gas] = by_h2 * self.frame["h2"] + by_ch4 * self.frame["ch4"]
        return self._series[gas]

    def base(self, gas: str) -> "pd.Series[float]":
        if gas not in self._base:
            fasting = self.series(gas)[self.fasting]
            mean = fasting.groupby(self.test[self.fasting], sort=False).mean()
            self._base[gas] = mean.reindex(self.tests)
        return self._base[gas]

    def last(self, gas: str) -> "pd.Series[float]":
        if gas not in self._last:
            self._last[gas] = self.highest(self.reach.where(self.series(gas).notna()))
        return self._last[gas]

    def values(self, gas: str, measure: str) -> "pd.Series[float]":
        """Return what may cross: levels, or rises after the drink; missing elsewhere."""
        if (gas, measure) not in self._values:
            series = self.series(gas)
            if measure == "rise over baseline":
                series = (series - self.test.map(self.base(gas))).mask(self.fasting)
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
            self._best[key] = self.highest(values)
        return self._best[key]

    def ask(self, row: Statement) -> Answer:
        if row.gas == "symptoms":
            # These tests did not ask for symptoms.
            every = pd.Series(True, index=self.tests)
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
        late = (self.values(row.gas, row.measure) >= bar(row)) & (self.minute > limit)
        tests = pd.Index(self.test[late].unique()).difference(met.index[met], sort=False)
        rows = self.test.isin(tests)
        test = self.test[rows]
        minute = self.minute[rows]
        values = self.values(row.gas, row.measure)[rows]
        planned = self.frame["planned"][rows]
        inside = minute <= limit
        after = values.notna() & ~inside
        first = after & (after.groupby(test, sort=False).cumsum() == 1)
        crossing = first & (values >= bar(row))
        crossed_at = minute.where(crossing).groupby(test, sort=False).transform("max")
        seen = minute.where(values.notna() & inside)
        last_inside = seen.groupby(test, sort=False).transform("max").fillna(-np.inf)
        series = self.series(row.gas)[rows]
        unseen = (series.isna() | ~inside) & (planned > 0.0) & (planned <= by_minute)
        late_or_missed = unseen & (minute > last_inside) & (minute <= crossed_at)
        # A step over the end half as long again as any before it has left a sample out.
        seen = minute[series.notna() & (minute <= last_inside)]
        step = seen.groupby(test[seen.index], sort=False).diff()
        longest = test.map(step.groupby(test[seen.index], sort=False).max())
        reached = self.reach[rows].where(values.notna() & inside)
        reached = reached.groupby(test, sort=False).transform("max")
        left_out = (reached < by_minute) & (crossed_at - last_inside > 1.5 * longest)
        missed = test[late_or_missed | left_out].unique()
        return pd.Series(met.index.isin(missed), index=met.index)

    def spoils(self, row: Validity) -> "pd.Series[bool]":
        return self.base(row.gas) >= bar(row)
