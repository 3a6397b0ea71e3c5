"""Show a reduced trace on the terminal: quality and its reasons, values, where u comes from."""

import math
import textwrap
from pathlib import Path

from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.table import Table
from rich.text import Text

from ebbline.core.breath.cycle import TRACE_GASES
from ebbline.core.breath.reading import GasValue
from ebbline.core.breath.reduction import Reduction
from ebbline.core.breath.trace import Channel
from ebbline.core.rules.phrases import MINUS, number
from ebbline.services.library import QualityWords
from ebbline.services.reduce_traces import ReducedTrace

WIDEST = 110
VERDICTS = {
    "accepted": "Accepted. The raw values count.",
    "normalised": "Normalised. The sample held room air: the values that count are scaled to "
    "alveolar air.",
    "refused": "Refused. No value of this breath counts; numbers below are kept for the record.",
}
NOT_RESULTS = (
    "Last shown and highest shown (of O2: lowest shown) are what a display would have said, zero "
    "taken off. They are not results."
)
U_MEANS = "± is the standard uncertainty u; its parts add as squares."


def a_console() -> Console:
    """Return the console, no wider than can be read."""
    console = Console(highlight=False)
    return Console(highlight=False, width=min(console.width, WIDEST))


def show(reduced: ReducedTrace, console: Console) -> None:
    """Print one reduced trace.

    Parameters
    ----------
    reduced : ReducedTrace
        What to show.
    console : Console
        Where to.
    """
    reduction = reduced.reduction
    title(console, f"{Path(reduced.file).name or 'live'}   {reduction.method}", reduced)
    show_quality(console, reduction, reduced.words)
    if reduction.values:
        console.print(_values(reduced))
        say(console, f"{NOT_RESULTS} {U_MEANS}")
        console.print(_parts(reduced))
    for line in (*_facts(reduced), *reduced.remarks):
        say(console, line)
    if reduced.unused:
        lines = ", ".join(f"{key}: {value}" for key, value in reduced.unused.items())
        say(console, f"Lines of the head that are not known and were not used: {lines}")
    say(console, reduced.words.caution)
    console.print()


def title(console: Console, text: str, reduced: ReducedTrace) -> None:
    """Print what is shown, and first of all whether it is invented."""
    line = invented_mark(invented=reduced.invented)
    line.append(text, style="bold")
    line.append(f"   {reduced.instrument}")
    console.print(line)
    console.print()


def invented_mark(*, invented: bool) -> Text:
    """Return the mark that stands before invented data, or nothing."""
    mark = Text()
    if invented:
        mark.append("INVENTED DATA", style="reverse").append("   ")
    return mark


def show_quality(console: Console, reduction: Reduction, words: QualityWords) -> None:
    """Print the quality in words: each reason with what was seen, what it means, what to do."""
    verdict, _, rest = VERDICTS[reduction.quality].partition(". ")
    console.print(Text(f"{verdict}.", style="bold").append(f" {rest}", style="not bold"))
    by_code: dict[str, list[str]] = {}
    for reason in reduction.reasons:
        by_code.setdefault(reason.code, []).append(reason.seen)
    for code, seen in by_code.items():
        about = next(one for name, one in words.reasons.items() if name == code)
        say(console, _sentence("; ".join(seen)), first="- ")
        say(console, about.means, first="  ")
        say(console, f"What to do: {about.do}", first="  ")


def say(console: Console, text: str, *, first: str = "") -> None:
    """Print a text, broken into lines; what follows the first line stands below its text."""
    wrapped = textwrap.fill(
        text,
        console.width,
        initial_indent=first,
        subsequent_indent=" " * len(first),
        # A file's name stays whole, so that it can be copied.
        break_long_words=False,
        break_on_hyphens=False,
    )
    console.print(wrapped, markup=False, soft_wrap=True)


def gas_of(channel: Channel) -> str:
    """Return a channel's gas as it is written."""
    return channel.partition("_")[0].upper()


def unit_of(channel: Channel) -> str:
    """Return a channel's unit as it is written."""
    return "ppm" if channel.endswith("_ppm") else "%"


def amount(value: float, u: float | None, unit: str) -> str:
    """Return a value with its standard uncertainty to two digits (JCGM 100:2008, 7.2.6)."""
    if u is None or not math.isfinite(u) or u <= 0.0:
        return f"{number(value, 2)} {unit}"
    places = min(max(1 - math.floor(math.log10(u)), 0), 3)
    return f"{_shown(value, places)} ± {u:.{places}f} {unit}"


def _shown(value: float, places: int) -> str:
    """Return a number with so many decimals and a true minus sign."""
    return f"{value:.{places}f}".replace("-", MINUS)


def _sentence(text: str) -> str:
    """Return a text as a sentence."""
    return f"{text[:1].upper()}{text[1:].rstrip('.')}."


def _values(reduced: ReducedTrace) -> Table:
    """Return what counts, what is raw, and what a display would have shown."""
    table = Table(box=SIMPLE_HEAD, pad_edge=False)
    table.add_column("gas", no_wrap=True)
    for head in ("value that counts", "raw", "last shown", "highest shown"):
        table.add_column(head, justify="right", no_wrap=True)
    reading = reduced.reduction.reading
    for name, value in reduced.reduction.values.items():
        unit, places = unit_of(name), 1 if name in TRACE_GASES else 2
        gas = None
        if reading is not None and name in TRACE_GASES:
            gas = reading.h2 if name == "h2_ppm" else reading.ch4
        table.add_row(
            gas_of(name),
            _counts(name, gas),
            amount(value.raw, value.u, unit),
            _shown(value.last, places),
            _shown(value.peak, places),
        )
    return table


def _counts(name: Channel, gas: GasValue | None) -> str:
    if name not in TRACE_GASES:
        return ""
    if gas is None or gas.value_ppm is None:
        return "none"
    return amount(gas.value_ppm, gas.u_ppm, "ppm")


def _parts(reduced: ReducedTrace) -> Table:
    """Return where the uncertainty of each raw value comes from."""
    table = Table(box=SIMPLE_HEAD, pad_edge=False)
    table.add_column("u of raw", no_wrap=True)
    for head in ("noise", "zero", "response", "resolution", "calibration", "together"):
        table.add_column(head, justify="right", no_wrap=True)
    for name, value in reduced.reduction.values.items():
        part, places = value.budget, 2 if name in TRACE_GASES else 3
        known = reduced.sensors[name].u_gain_fraction is not None
        table.add_row(
            f"{gas_of(name)}, {unit_of(name)}",
            f"{part.noise:.{places}f}",
            f"{part.zero:.{places}f}",
            f"{part.response:.{places}f}",
            f"{part.resolution:.{places}f}",
            f"{part.calibration:.{places}f}" if known else "not known",
            f"{part.total:.{places}f}",
        )
    return table


def _facts(reduced: ReducedTrace) -> list[str]:
    """Return the other facts, a sentence each."""
    reduction, times, lines = reduced.reduction, reduced.reduction.times, []
    unknown = [
        gas_of(name) for name in reduction.values if reduced.sensors[name].u_gain_fraction is None
    ]
    if unknown:
        lines.append(f"Calibration not known of {', '.join(unknown)}: its part is not in u.")
    fraction = None if reduction.reading is None else reduction.reading.alveolar_fraction
    marker = reduced.marker
    if fraction is not None and marker is not None:
        factor = f", scaled by {1.0 / fraction:.2f}" if reduction.quality == "normalised" else ""
        lines.append(
            f"Alveolar fraction {fraction:.2f} by {marker.gas.upper()} "
            f"({number(marker.alveolar_pct, 2)} % is full){factor}."
        )
    elif reduction.values:
        lines.append("Alveolar fraction not known: there is no value of O2 or CO2.")
    if times.onset_s is not None:
        end = "" if times.end_s is None else f" to {times.end_s:.1f} s"
        lines.append(f"Breath from {times.onset_s:.1f} s{end} on the trace's clock.")
    if times.plateau_s is not None:
        lines.append("Plateau from {:.1f} s to {:.1f} s.".format(*times.plateau_s))
    lines += _blow(reduced)
    if times.waited_s is not None and times.saved_s is not None:
        saved = (
            f"{times.saved_s:.0f} s less than 99 % of the slowest response takes"
            if times.saved_s > 0.0
            else "no less than 99 % of the slowest response takes"
        )
        lines.append(f"Held gas was watched for {times.waited_s:.0f} s, {saved}.")
    if reduced.on_for_min is None:
        lines.append("Warm-up not judged: it is not known how long the analyser had been on.")
    return lines


def _blow(reduced: ReducedTrace) -> list[str]:
    """Return what the blow was like by the models of other breath tests."""
    expiration = reduced.expiration
    if expiration is None:
        return []
    lines = []
    volumes = expiration.volumes
    if volumes is not None:
        lines.append(
            f"{volumes.expired_l:.2f} L breathed out; dead space {volumes.fowler_l:.3f} L by "
            f"Fowler, {100.0 * volumes.bohr_share:.0f} % of the breath by Bohr; slope of phase III "
            f"{volumes.phase_iii_per_l:+.2f} %/L."
        )
    elif expiration.volume_l is not None:
        lines.append(f"Dead space not told: {expiration.no_volumes}.")
    lines.extend(
        f"Beside the rules for exhaled nitric oxide (none exists for H2 or CH4): {one.what} "
        f"{one.seen:.2g}, {one.asked:g} asked."
        for one in expiration.exhaled_no
    )
    return lines
