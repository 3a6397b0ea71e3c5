"""A trace's chart in words, for readers who do not see it."""

import re
from collections.abc import Sequence

from ebbline.adapters.chart.trace_marks import Stretch
from ebbline.adapters.chart.trace_parts import Gas, TraceParts
from ebbline.adapters.chart.wording import count, gas_name, number, tenths
from ebbline.core.breath.reading import GasValue
from ebbline.core.breath.reduction import Reduction

# The caption has room for the first reasons against a breath; the description has them all.
_REASONS = 2
_SUBSCRIPT = str.maketrans("24", "₂₄")
_MARKS = {
    "h2": "solid line with filled circles",
    "ch4": "dashed line with open diamonds",
}


def amount(value: float, u: float) -> str:
    """Return a value and its standard uncertainty in words, ``41.3 ppm, u 0.9 ppm``."""
    return f"{tenths(value)} ppm, u {two_digits(u)} ppm"


def two_digits(u: float) -> str:
    """Return a standard uncertainty to two digits (JCGM 100:2008, 7.2.6), two decimals at most."""
    return f"{u:.1f}" if u >= 0.995 else f"{u:.2f}"


def counts(gas: str, reduction: Reduction) -> GasValue | None:
    """Return what a reading says of H2 or CH4; None where it says nothing."""
    if reduction.reading is None:
        return None
    return reduction.reading.h2 if gas == "h2" else reduction.reading.ch4


def title_of(title: str, *, invented: bool) -> str:
    """Return the name of a chart, which says first whether its data are invented."""
    return f"Invented data. {title}" if invented else title


def describe_trace(
    parts: TraceParts, reduction: Reduction, named: Sequence[Stretch], title: str
) -> str:
    """Return everything that the chart of a trace shows, as sentences.

    Parameters
    ----------
    parts : TraceParts
        What is drawn.
    reduction : Reduction
        What came of the trace.
    named : sequence of Stretch
        Parts of the blow that are named.
    title : str
        The chart's name.

    Returns
    -------
    str
    """
    sentences = [f"{title}, in ppm against seconds on the trace's clock."]
    if parts.room_s is not None:
        sentences.append(f"Room air for the zero is shaded, {_span(parts.room_s)}.")
    if parts.room_s is not None and parts.room_s[0] < parts.start_s:
        sentences.append(f"What is before {tenths(parts.start_s)} s is not shown.")
    sentences += [f"{_capital(one.words)} at {tenths(one.at_s)} s." for one in parts.moments]
    if parts.plateau_s is not None:
        sentences.append(f"The plateau window is shaded, {_span(parts.plateau_s)}.")
    sentences += [f"{one.name}, {one.meaning}: {_span((one.from_s, one.to_s))}." for one in named]
    for gas in parts.gases:
        sentences += _gas(gas, reduction)
    if parts.share is not None and parts.share.value.size:
        highest = 100.0 * float(parts.share.value.max())
        sentences.append(
            f"{parts.marker} below, dotted, from room air, 0 %, to the alveolar reference, 100 %: "
            f"at its highest {number(round(highest))} %."
        )
    sentences.append(f"{_capital(reduction.quality)}.")
    if reduction.reasons:
        sentences.append(f"{_capital('; '.join(one.seen for one in reduction.reasons))}.")
    return " ".join(sentences)


def caption_of(
    parts: TraceParts, reduction: Reduction, named: Sequence[Stretch], *, invented: bool
) -> list[str]:
    """Return the phrases under the chart: quality first, then how to read the marks."""
    phrases = ["Invented data"] if invented else []
    phrases.append(reduction.quality)
    phrases += [_subscripts(one.seen) for one in reduction.reasons[:_REASONS]]
    more = len(reduction.reasons) - _REASONS
    if more > 0:
        phrases.append(f"and {count(more, 'more reason', 'more reasons')}")
    if parts.room_s is not None:
        lasted = parts.room_s[1] - parts.room_s[0]
        phrases.append(f"room air: the zero is taken from {number(round(lasted))} s of it")
    phrases += [f"{one.name} {one.meaning}" for one in named]
    zeroed = "zero and delay" if parts.room_s is not None else "delay"
    phrases.append(f"thin: samples, {zeroed} taken off")
    if any(gas.fitted is not None for gas in parts.gases):
        phrases.append("straight, in a band of ± 1.96 u: fitted")
    return phrases


def _gas(gas: Gas, reduction: Reduction) -> list[str]:
    """Return the sentences about one gas."""
    name = _capital(gas_name(gas.gas))
    if gas.value is None:
        return [f"{name}, {_MARKS[gas.gas]}: no value was found."]
    how = "settles to" if gas.value.slope_per_s is None else "end-tidal"
    found = [f"{name}, {_MARKS[gas.gas]}: {how} {amount(gas.value.raw, gas.value.u)}."]
    had = counts(gas.gas, reduction)
    if had is not None and had.value_ppm is None:
        found.append("It does not count.")
    elif had is not None and had.value_ppm is not None and reduction.quality == "normalised":
        found.append(f"Scaled to alveolar gas it counts as {tenths(had.value_ppm)} ppm.")
    return found


def _span(limits: tuple[float, float]) -> str:
    return f"{tenths(limits[0])} to {tenths(limits[1])} s"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _subscripts(seen: str) -> str:
    """Return what was seen with its gases as charts write them."""
    return re.sub(r"\b(?:CH4|CO2|H2|O2)\b", lambda gas: gas[0].translate(_SUBSCRIPT), seen)
