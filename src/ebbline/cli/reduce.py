"""``ebbline reduce``: trace files to readings, on the terminal and as JSON."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from ebbline.cli.interpret import make_folder, report_names, write_bytes

if TYPE_CHECKING:
    from ebbline.services.prepare_cycle import Said


def add_to(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command to the parser."""
    parser = commands.add_parser(
        "reduce",
        help="reduce breath traces to readings",
        description="Reduce trace files: from room air, a blow or a bag to the end-tidal reading, "
        "with its standard uncertainty, its quality and every reason for it. Flags override the "
        "lines in a file's head. All files are read before anything is answered.",
        allow_abbrev=False,
    )
    parser.add_argument("files", nargs="+", metavar="TRACE", help="a trace file (CSV)")
    add_profile(parser)
    add_said(parser, at="at time 0 of the trace")
    parser.add_argument(
        "--begun",
        type=float,
        metavar="S",
        help="when blow or bag began, s on the trace's clock; needed without O2 and CO2",
    )
    parser.add_argument("--pictures", metavar="DIR", help="also draw each trace here (SVG)")
    parser.add_argument(
        "--json", action="store_true", help="print one JSON document a line for each file"
    )
    parser.set_defaults(run=run)


def add_profile(parser: argparse.ArgumentParser) -> None:
    """Add the flag that names the analyser's profile."""
    parser.add_argument(
        "--profile",
        required=True,
        metavar="FILE",
        help="profile of the analyser (TOML), or the name of a bundled one",
    )


def add_said(parser: argparse.ArgumentParser, *, at: str) -> None:
    """Add the flags for what a person says of a cycle; ``at`` is when its clock begins."""
    kind = parser.add_mutually_exclusive_group()
    kind.add_argument(
        "--blow",
        action="store_const",
        const="blow",
        dest="method",
        help="the patient blows into the analyser",
    )
    kind.add_argument(
        "--bag", action="store_const", const="bag", dest="method", help="a bag is emptied"
    )
    parser.add_argument(
        "--on-for",
        type=float,
        metavar="MIN",
        help=f"how long the analyser had been on {at}, min; without it the warm-up is not judged",
    )
    parser.add_argument(
        "--reference",
        metavar="REF",
        help="alveolar reference: a gas, with %% or without, such as 'o2 13.9'",
    )


def said_by(chosen: argparse.Namespace, *, begun_s: float | None) -> "Said":
    """Return what the flags say."""
    from ebbline.services.prepare_cycle import Said

    return Said(
        method=chosen.method,
        begun_s=begun_s,
        on_for_min=chosen.on_for,
        reference=chosen.reference,
    )


def run(chosen: argparse.Namespace) -> int:
    """Reduce the traces and print."""
    from ebbline.bootstrap import build

    application = build()
    said = said_by(chosen, begun_s=chosen.begun)
    results = application.reduce_traces(chosen.files, profile=chosen.profile, said=said)
    folder = None if chosen.pictures is None else Path(chosen.pictures)
    names = report_names(chosen.files, ".svg")
    if folder is not None:
        make_folder(folder)
    for reduced, name in zip(results, names, strict=True):
        if chosen.json:
            from ebbline.adapters.files.reduction_document import document_line

            print(document_line(reduced))
        else:
            from ebbline.cli.breath_lines import a_console, show

            show(reduced, a_console())
        if folder is not None:
            write_bytes(folder / name, application.draw_trace(reduced).encode())
            if not chosen.json:
                print(f"Picture: {folder / name}\n")
    return 0
