"""The arithmetic of a verdict in words, with numbers that add up as printed."""

from ebbline.core.curve.curves import Curves
from ebbline.core.rules.codes import (
    KEY_MISSED,
    LATE_COUNTED,
    MET,
    NO_FASTING,
    NO_READING,
    STOPPED_EARLY,
    UNDECIDED,
)
from ebbline.core.rules.grammar import Statement

MINUS = "\N{MINUS SIGN}"

UNCHECKED = "Not checked against the paper"
"""How a row from memory is shown until a named person confirms it."""


def number(value: float, decimals: int = 1) -> str:
    """Return a number as people write it: no trailing zeros, a true minus sign.

    Parameters
    ----------
    value : float
        The number.
    decimals : int
        How many decimals to keep at most.

    Returns
    -------
    str
    """
    text = f"{value:.{decimals}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    if text == "-0":
        text = "0"
    return text.replace("-", MINUS)


def chance_text(chance: float) -> str:
    """Return a chance as it is shown; never as a certainty.

    Parameters
    ----------
    chance : float
        0 to 1.

    Returns
    -------
    str
        Two decimals, or "< 0.01" or "> 0.99".
    """
    if chance < 0.01:
        return "< 0.01"
    return "> 0.99" if chance > 0.99 else f"{chance:.2f}"


def because(
    statement: Statement,
    *,
    result: int,
    reason: int,
    value: float,
    at: int,
    base: float,
    lowest_before: float,
    curves: Curves,
    gas_name: str,
    tolerance: float,
) -> str:
    """Return the arithmetic of one verdict in words.

    Parameters
    ----------
    statement : Statement
        The row.
    result, reason : int
        Codes of `ebbline.core.rules.codes`.
    value : float
        Rise or level, ppm or points.
    at : int
        Index of its sample.
    base : float
        Baseline of the series, ppm.
    lowest_before : float
        Lowest earlier value before that sample, ppm.
    curves : Curves
        The test, a batch of one.
    gas_name : str
        Name of the series in words.
    tolerance : float
        Minutes that a sample may be late.

    Returns
    -------
    str
        Such as "27 − 5 = 22 ppm at 60 min; at least 20 asked".
    """
    if reason == NO_FASTING:
        return f"no fasting {gas_name} reading that counts; {_asked(statement)}"
    if reason == NO_READING:
        return f"{_nothing(statement, gas_name)}; {_asked(statement)}"
    minute = number(float(curves.minute[0, at]))
    if reason == STOPPED_EARLY:
        memory = ""
        if statement.by_minute is None and statement.needs_provenance == "memory":
            memory = " (not checked against the paper)"
        return (
            f"the last {gas_name} reading was at {minute} min; readings to "
            f"{number(statement.end_minute)} min{memory} are needed before it can be not met"
        )
    start = base if statement.measure == "rise over baseline" else lowest_before
    sum_text = _arithmetic(statement, value, start)
    if reason == KEY_MISSED:
        return (
            f"{sum_text} at {minute} min, after the window, and the sample that would have decided "
            f"by {number(statement.end_minute)} min is missing; {_asked(statement)}"
        )
    place = f"{sum_text} at {minute} min"
    if result != MET:
        place = f"{place} at most"
    text = f"{place}; {_asked(statement)}"
    if reason == LATE_COUNTED:
        text += f"; counted within the tolerance of {number(tolerance)} min"
    if reason == UNDECIDED and statement.undecided_from is not None:
        text += f"; from {number(statement.undecided_from)} ppm the rule set leaves it undecided"
    return text


def _nothing(statement: Statement, gas_name: str) -> str:
    if statement.gas == "symptoms":
        return "no score that was also asked before the drink"
    return f"no {gas_name} reading that counts"


def _asked(statement: Statement) -> str:
    window = "" if statement.by_minute is None else f" by {number(statement.by_minute)} min"
    return f"{statement.comparison} {number(statement.threshold, 3)}{window} asked"


def _arithmetic(statement: Statement, value: float, start: float) -> str:
    """Return "27 − 5 = 22 ppm", with as many decimals as it takes to stay on its side.

    The difference printed is that of the two numbers printed, so that it adds up for a reader, and
    is the value rounded.
    """
    top = value if statement.measure == "level" else value + start
    for decimals in range(1, 10):
        first = round(top, decimals)
        second = 0.0 if statement.measure == "level" else round(start, decimals)
        shown = round(first - second, decimals)
        right_side = _reached(statement, shown) == _reached(statement, value)
        if right_side and shown == round(value, decimals):
            break
    if statement.measure == "level":
        return f"{number(shown, decimals)} {statement.unit}"
    sign = MINUS if second >= 0.0 else "+"
    return (
        f"{number(first, decimals)} {sign} {number(abs(second), decimals)} = "
        f"{number(shown, decimals)} {statement.unit}"
    )


def _reached(statement: Statement, value: float) -> bool:
    """Whether a value reaches the threshold, to the rounding that `judge` allows for."""
    if statement.comparison == "more than":
        return value > statement.threshold + 1e-9
    return value >= statement.threshold - 1e-9
