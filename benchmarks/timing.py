"""Time several sides in turn, and put the figures in a table."""

import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from statistics import median


@dataclass(frozen=True, slots=True)
class Times:
    """Repeats of one side, in seconds, in the order in which they were taken."""

    seconds: tuple[float, ...]

    @property
    def median(self) -> float:
        """The middle repeat, s."""
        return median(self.seconds)

    def __str__(self) -> str:
        """Show the median and, in brackets, the fastest and the slowest repeat."""
        unit, factor = _unit(self.median)
        low, high = min(self.seconds) * factor, max(self.seconds) * factor
        return f"{_three(self.median * factor)} {unit} ({_three(low)} to {_three(high)})"


@dataclass(frozen=True, slots=True)
class Figure:
    """One line of the table; ``met`` is None where no goal was set."""

    what: str
    ours: str
    peer: str
    figure: str
    goal: str
    met: bool | None


def interleave(sides: Mapping[str, Callable[[], object]], repeats: int) -> dict[str, Times]:
    """Time every side once, then every side again, so that a slow spell of the machine hits all.

    Parameters
    ----------
    sides : mapping of str to callable
        What to time, by name. Each is called once before, untimed.
    repeats : int
        How often each is timed.

    Returns
    -------
    dict of str to Times
    """
    taken: dict[str, list[float]] = {name: [] for name in sides}
    for side in sides.values():
        side()
    for _ in range(repeats):
        for name, side in sides.items():
            start = time.perf_counter()
            side()
            taken[name].append(time.perf_counter() - start)
    return {name: Times(tuple(seconds)) for name, seconds in taken.items()}


def ratio(slow: Times, fast: Times) -> tuple[float, str]:
    """Return how many times longer one side took than another, as a number and in words.

    Parameters
    ----------
    slow, fast : Times
        Repeats taken in turn.

    Returns
    -------
    of_medians : float
    words : str
        With the least and the greatest ratio of two repeats that were taken side by side.
    """
    of_medians = slow.median / fast.median
    pairs = [a / b for a, b in zip(slow.seconds, fast.seconds, strict=True)]
    low, high = _three(min(pairs)), _three(max(pairs))
    return of_medians, f"{_three(of_medians)} × ({low} to {high})"


def table(figures: list[Figure]) -> str:
    """Return figures as a Markdown table."""
    lines = ["| what | ebbline | peer | figure | goal | |", "|---|---|---|---|---|---|"]
    for f in figures:
        verdict = {True: "met", False: "missed", None: ""}[f.met]
        lines.append(f"| {f.what} | {f.ours} | {f.peer} | {f.figure} | {f.goal} | {verdict} |")
    return "\n".join(lines)


def _unit(seconds: float) -> tuple[str, float]:
    """Return the unit that suits a time, and how many of it are in a second."""
    if seconds >= 1.0:
        return "s", 1.0
    return ("ms", 1e3) if seconds >= 1e-3 else ("µs", 1e6)


def _three(value: float) -> str:
    """Return a number with three digits that mean something, thousands set apart."""
    if value >= 1000.0:
        digits = len(str(int(value))) - 3
        return f"{round(value, -digits):,.0f}".replace(",", " ")
    return f"{value:.3g}" if value < 100.0 else f"{value:.0f}"
