"""``ebbline profile``: check an analyser's profile, and fit a response to put into one."""

import argparse
import math
from collections.abc import Mapping
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rich.table import Table

    from ebbline.core.breath.trace import Channel
    from ebbline.services.check_profile import ProfileCheck
    from ebbline.services.fit_step import StepFit

_NOISE_ONLY = (
    "The uncertainties are those of the noise in this one record. Steps recorded on other days "
    "differ by more: record three or more, and put their scatter into the profile where it is "
    "larger."
)

_COLUMNS = (
    "t90 and 10–90 % are counted from the end of the delay, 99 % from the change at the inlet. "
    "sd of one is of one value in room air, in the channel's unit."
)
_NOISE_GAIN = (
    "Noise gain is how many times noisier the channel would be if its slowest lag were undone "
    "exactly."
)


def add_to(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command to the parser."""
    parser = commands.add_parser(
        "profile",
        help="check an analyser's profile, or fit a response for one",
        description="Check the profile of an analyser, or fit the response of one of its channels "
        "to a recorded step.",
        allow_abbrev=False,
    )
    actions = parser.add_subparsers(dest="action", metavar="ACTION", required=True)
    _add_check(actions)
    _add_step(actions)


def _add_check(actions: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    check = actions.add_parser(
        "check",
        help="read a profile and say what its channels can do",
        description="Read a profile and say, channel by channel, how fast and how noisy it is, and "
        "where that falls short of what a breath needs.",
        allow_abbrev=False,
    )
    check.add_argument("file", metavar="FILE", help="a profile (TOML)")
    check.add_argument(
        "--rate", type=float, metavar="HZ", help="how many lines a second the analyser sends"
    )
    check.add_argument(
        "--line", metavar="TEXT", help="a line as the analyser sends it: show what is read from it"
    )
    check.set_defaults(run=run_check)


def _add_step(actions: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    step = actions.add_parser(
        "step",
        help="fit the response of a channel to a recorded step",
        description="Fit delay and time constants of one channel to a trace in which the gas at "
        "the inlet changed once, at a known time, and print the lines for the profile.",
        allow_abbrev=False,
    )
    step.add_argument(
        "file",
        metavar="TRACE",
        help="a trace file with one step (CSV), or with --profile a raw log of it",
    )
    step.add_argument("--profile", metavar="FILE", help="profile to read a raw log by")
    step.add_argument("--channel", required=True, metavar="NAME", help="such as h2_ppm")
    step.add_argument(
        "--at",
        type=float,
        required=True,
        metavar="S",
        help="when the gas at the inlet changed, s on the trace's clock",
    )
    step.add_argument(
        "--poles", type=int, choices=(1, 2), default=1, help="how many time constants"
    )
    step.set_defaults(run=run_step)


def run_check(chosen: argparse.Namespace) -> int:
    """Print what was found in a profile."""
    from ebbline.bootstrap import build
    from ebbline.cli.breath_lines import a_console, invented_mark, say

    application = build()
    check = application.check_profile(chosen.file, rate_hz=chosen.rate)
    console = a_console()
    line = invented_mark(invented=check.instrument.invented)
    console.print(line.append(check.instrument.name, style="bold"))
    console.print(_channels(check))
    say(console, _COLUMNS if check.rate_hz is None else f"{_COLUMNS} {_NOISE_GAIN}")
    for warning in check.warnings or ("Nothing stands against it.",):
        say(console, warning, first="- ")
    if chosen.line is not None:
        console.print()
        for text in about_line(application.try_line(chosen.file, chosen.line)):
            say(console, text)
    console.print()
    say(console, application.library.quality.caution)
    return 0


def run_step(chosen: argparse.Namespace) -> int:
    """Fit a response and print it, with the lines for the profile."""
    from ebbline.bootstrap import build
    from ebbline.cli.breath_lines import a_console, gas_of, invented_mark, say

    application = build()
    found = application.fit_step(log_profile=chosen.profile)(
        chosen.file, channel=chosen.channel, at_s=chosen.at, poles=chosen.poles
    )
    console = a_console()
    line = invented_mark(invented=found.invented)
    line.append(f"{gas_of(found.channel)}, step at {chosen.at:g} s", style="bold")
    console.print(line.append(f"   {found.file}"))
    for text in _about_step(found):
        say(console, text)
    say(console, application.library.quality.caution)
    console.print("\nFor the profile:\n")
    print(toml_of(found))
    return 0


def _channels(check: "ProfileCheck") -> "Table":
    """Return the channels, a row each."""
    from rich.box import SIMPLE_HEAD
    from rich.table import Table

    from ebbline.cli.breath_lines import gas_of, unit_of

    table = Table(box=SIMPLE_HEAD, pad_edge=False)
    table.add_column("channel", no_wrap=True)
    table.add_column("regime", no_wrap=True)
    heads = ["delay", "t90", "10–90 %", "99 %", "sd of one"]
    for head in heads if check.rate_hz is None else [*heads, "noise gain"]:
        table.add_column(head, justify="right", no_wrap=True)
    for one in check.channels:
        gain = [] if one.noise_gain is None else [f"{one.noise_gain:.3g}"]
        table.add_row(
            f"{gas_of(one.channel)}, {unit_of(one.channel)}",
            one.sensor.regime,
            f"{one.sensor.response.delay_s:.3g} s",
            f"{one.t90_s:.3g} s",
            f"{one.rise_10_90_s:.3g} s",
            f"{one.settled_s:.3g} s",
            f"{one.sd_of_one:.2g}",
            *gain,
        )
    return table


def about_line(found: "Mapping[Channel, float] | str") -> list[str]:
    """Return what was read from a line, or why nothing was, a sentence each."""
    from ebbline.cli.breath_lines import gas_of, unit_of
    from ebbline.core.breath.trace import PHYSICAL
    from ebbline.core.rules.phrases import number

    if isinstance(found, str):
        return [f"The line gives no numbers: {found}."]
    lines = []
    for name, value in found.items():
        low, high = PHYSICAL[name]
        what, unit = ("Flow", "L/s") if name == "flow_l_per_s" else (gas_of(name), unit_of(name))
        if math.isnan(value):
            lines.append(f"{what}: no value.")
        elif low <= value <= high:
            lines.append(f"{what}: {value:g} {unit}.")
        else:
            lines.append(
                f"{what}: {value:g} {unit}, which no gas can have "
                f"({number(low)} to {number(high)} {unit}): a breath with it would be refused. "
                "Are unit and scale right?"
            )
    return lines


def _about_step(found: "StepFit") -> list[str]:
    """Return the fit in words, a sentence or two each."""
    from ebbline.cli.breath_lines import amount, unit_of

    fit, response = found.fit, found.fit.response
    lines = [
        f"Delay {amount(response.delay_s, fit.u_delay_s, 's')}.",
        f"Time constant {amount(response.tau_s, fit.u_tau_s, 's')}.",
    ]
    if response.tau2_s > 0.0:
        lines.append(f"Second time constant {amount(response.tau2_s, fit.u_tau2_s, 's')}.")
    lines += [
        f"t90 {amount(found.t90_s, found.u_t90_s, 's')}, 10–90 % in {found.rise_10_90_s:.3g} s.",
        f"99 % {found.settled_s:.3g} s after the step, with the delay.",
        f"Scatter about the fit {fit.residual_sd:.2g} {unit_of(found.channel)}.",
    ]
    if fit.two_poles_fit_better and response.tau2_s == 0.0:
        lines.append("Two time constants fit clearly better: try --poles 2.")
    elif response.tau2_s > 0.0 and not fit.two_poles_fit_better:
        lines.append("One time constant fits as well: --poles 1 is enough.")
    lines.append(_NOISE_ONLY)
    return lines


def toml_of(found: "StepFit") -> str:
    """Return the lines that put a fitted response into a profile."""
    fit, response = found.fit, found.fit.response
    return "\n".join(
        (
            f"[channels.{found.channel}]",
            f"delay_s = {response.delay_s:.4f}",
            f"u_delay_s = {fit.u_delay_s:.4f}",
            f"tau_s = {response.tau_s:.4f}",
            f"tau2_s = {response.tau2_s:.4f}",
            f"u_tau_fraction = {found.u_tau_fraction:.4f}",
        )
    )
