"""What is shown while a cycle runs: what to do now, how far it is, and what is live."""

import math

from rich.console import Group, RenderableType
from rich.text import Text

from ebbline.cli.breath_lines import amount, gas_of, invented_mark, unit_of
from ebbline.core.breath.progress import Progress
from ebbline.core.rules.phrases import MINUS
from ebbline.services.listen import Now

BAR_WIDTH = 50
BAR = range(BAR_WIDTH)
# The bar goes on a little past its mark, so that it is seen to have reached it.
BAR_ENDS_AT = 1.25


def screen(now: Now, *, instrument: str, invented: bool, caution: str) -> RenderableType:
    """Return the whole screen of a cycle under way.

    Parameters
    ----------
    now : Now
        Where the cycle is.
    instrument : str
        Name of the profile.
    invented : bool
        Whether it is invented.
    caution : str
        What belongs on every screen.

    Returns
    -------
    rich renderable
    """
    lines = [invented_mark(invented=invented).append(instrument), Text()]
    if now.trouble is not None:
        lines.append(Text("TROUBLE  ", style="bold").append(now.trouble, style="not bold"))
    lines.append(Text(what_to_do(now), style="bold"))
    if now.progress.phase == "blow" and not now.room_back:
        lines += [Text(alveolar_bar(now.progress)), Text(alveolar_words(now.progress))]
    lines += [Text(line) for line in settling(now)]
    lines += [Text(), Text(live_values(now)), Text(), Text(f"{caution} Ctrl-C ends.")]
    return Group(*lines)


def what_to_do(now: Now) -> str:
    """Return in a sentence what the operator and the patient do now."""
    progress = now.progress
    if progress.at_s is None:
        return "Waiting for the analyser."
    if now.clearing:
        return "Breath is still in the analyser. Take bag or mouthpiece off and let room air in."
    if progress.phase == "held":
        most = 0.0 if progress.at_most_s is None else progress.at_most_s
        return f"The gas is held. Nothing to do: {math.ceil(most)} s at the most."
    if progress.phase == "blow":
        if now.room_back:
            return "Room air is back. Wait, and do not blow again yet."
        left_s = progress.steady_needed_s - progress.steady_s
        if left_s > 0.0:
            return f"Blow on, slowly and steadily: {math.ceil(left_s)} s at least."
        return "Enough from here; blow on for as long as it is comfortable."
    if now.warm_left_s:
        minutes, seconds = divmod(math.ceil(now.warm_left_s), 60)
        return f"Warming up: {minutes}:{seconds:02d} min left. A breath now would be refused."
    if now.room_left_s > 0.0:
        return (
            f"Room air: {math.ceil(now.room_left_s)} s left. Nobody breathes near the inlet; "
            "a breath now would be refused."
        )
    start = "Blow now" if now.method == "blow" else "Empty the bag now"
    return f"{start}, and press Enter at that moment." if now.needs_start else f"{start}."


def alveolar_bar(progress: Progress) -> str:
    """Return how long alveolar air has been steady, as a bar that must reach its mark.

    Parameters
    ----------
    progress : Progress
        Of a blow.

    Returns
    -------
    str
    """
    share = min(progress.steady_s / progress.steady_needed_s, BAR_ENDS_AT)
    cells = ["█" if place < int(BAR_WIDTH * share / BAR_ENDS_AT) else "·" for place in BAR]
    cells.insert(round(BAR_WIDTH / BAR_ENDS_AT), "│")
    return f"alveolar air {''.join(cells)}"


def alveolar_words(progress: Progress) -> str:
    """Return the same in words, with how far the gas is from room air."""
    reached = "reached" if progress.steady_s >= progress.steady_needed_s else "not yet"
    words = f"Alveolar air {reached}: steady for {progress.steady_s:.1f} of "
    words += f"{progress.steady_needed_s:.1f} s"
    if progress.alveolar_share is not None:
        words += f", at {100.0 * max(progress.alveolar_share, 0.0):.0f} % of the reference"
    return f"{words}."


def settling(now: Now) -> list[str]:
    """Return where held gases are on their way, a line each."""
    lines = []
    for name, one in now.progress.settling.items():
        if one.asked is None:
            continue
        seen = f"{100.0 * one.share:.0f} % of the response seen"
        value = (
            "not known yet"
            if one.value is None
            else f"settles to {amount(one.value, one.u, unit_of(name))}"
        )
        lines.append(f"{gas_of(name)} {value}; ± {one.asked:.2g} asked, {seen}")
    return lines


def live_values(now: Now) -> str:
    """Return what the channels show now, labelled as what it is."""
    shown = ", ".join(
        f"{gas_of(name)} {value:.{1 if unit_of(name) == 'ppm' else 2}f} {unit_of(name)}"
        for name, value in now.progress.live.items()
    ).replace("-", MINUS)
    return f"Live, not a result: {shown or 'nothing yet'}"


def plain_line(now: Now) -> str:
    """Return the screen as one line, for an output that is no terminal."""
    parts = [what_to_do(now)]
    if now.progress.phase == "blow" and not now.room_back:
        parts.append(alveolar_words(now.progress))
    parts += [f"{line}." for line in settling(now)]
    at_s = now.progress.at_s
    return f"{'' if at_s is None else f'{at_s:.1f} s: '}{' '.join(parts)} {live_values(now)}."
