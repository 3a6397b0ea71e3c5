"""Invented tests in whole ppm, for the properties."""

from dataclasses import dataclass, replace

import numpy as np
from hypothesis import strategies as st

from ebbline.core.curve.curves import Curves
from ebbline.core.rules.grammar import RuleSet
from ebbline.core.rules.table import RuleTable
from tests.helpers import Numbers, one_curve, rule_set, statement_row, table_of

WHOLE = st.integers(0, 60)


@dataclass(frozen=True)
class Drawn:
    """One drawn test: minutes, readings, and how many of them are fasting."""

    minutes: tuple[float, ...]
    h2: tuple[float | None, ...]
    ch4: tuple[float | None, ...]
    fasting: int

    def curves(self) -> Curves:
        """Return it as a batch of one."""
        return one_curve(self.minutes, self.h2, self.ch4)

    def with_h2(self, h2: Numbers) -> "Drawn":
        """Return the same test with other hydrogen readings."""
        return replace(self, h2=tuple(h2))


@st.composite
def drawn_tests(draw: st.DrawFn, *, gaps: bool = True) -> Drawn:
    """Draw a test of uneven intervals; some readings after the drink may be missing."""
    fasting = draw(st.integers(1, 3))
    after = draw(st.integers(1, 7))
    before = [-5.0 * (fasting - 1 - i) for i in range(fasting)]
    steps = draw(st.lists(st.integers(5, 45), min_size=after, max_size=after))
    minutes = [*before, *np.cumsum(steps).astype(float).tolist()]
    level = draw(st.integers(0, 25))
    h2: list[float | None] = [
        float(max(0, level + draw(st.integers(-4, 4)))) for _ in range(fasting)
    ]
    ch4: list[float | None] = [float(draw(st.integers(0, 12))) for _ in range(fasting)]
    for _ in range(after):
        missing = gaps and draw(st.integers(0, 5)) == 0
        h2.append(None if missing else float(draw(WHOLE)))
        ch4.append(None if missing else float(draw(st.integers(0, 15))))
    return Drawn(tuple(minutes), tuple(h2), tuple(ch4), fasting)


def all_kinds() -> RuleSet:
    """Return a rule set with every measure, both comparisons, both kinds of window and sums."""
    return rule_set(
        statement_row(id="rise-by", by_minute=90),
        statement_row(id="rise-any", comparison="more than", needs_minutes=120),
        statement_row(id="lowest", measure="rise over lowest earlier", threshold_ppm=12,
                      by_minute=120),
        statement_row(id="level", measure="level", gas="ch4", threshold_ppm=10, needs_minutes=60,
                      question="methanogen-overgrowth"),
        statement_row(id="level-by", measure="level", threshold_ppm=25, by_minute=60,
                      question="bacterial-overgrowth"),
        statement_row(id="sum", gas="h2_plus_2ch4", threshold_ppm=53, undecided_from_ppm=18,
                      needs_minutes=90, question="bacterial-overgrowth"),
    )  # fmt: skip


RISES = ("rise-by", "rise-any", "lowest", "sum")
NAMES = tuple(row.id for row in all_kinds().statements)
TABLE: RuleTable = table_of(all_kinds())
PLACE = {row.id: place for place, (_, row) in enumerate(TABLE.statements)}
