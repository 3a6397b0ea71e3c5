"""``ebbline demo``: interpret the bundled clinic, whose patients and readings are invented."""

import argparse
from pathlib import Path


def add_to(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command to the parser."""
    parser = commands.add_parser(
        "demo",
        help="interpret a bundled clinic of invented tests",
        description="Interpret the bundled clinic. Its patients and readings are invented, and "
        "every page says so.",
        allow_abbrev=False,
    )
    parser.add_argument("--pdf", metavar="DIR", default="reports", help="where reports go")
    parser.add_argument(
        "--paper", choices=("a4", "us-letter"), default="a4", help="size of their paper"
    )
    parser.set_defaults(run=run)


def run(chosen: argparse.Namespace) -> int:
    """Print the findings of the invented clinic and write its reports."""
    from ebbline.bootstrap import build, demo_files
    from ebbline.cli.interpret import make_folder, write_bytes
    from ebbline.cli.terminal import show
    from ebbline.services.overrides import Overrides

    application = build()
    files = demo_files()
    interpretations = application.interpret_tests(files, overrides=Overrides(), rules=())
    folder = Path(chosen.pdf)
    make_folder(folder)
    for file, interpretation in zip(files, interpretations, strict=True):
        show(interpretation)
        path = folder / f"{Path(file).stem}.pdf"
        write_bytes(path, application.write_report(interpretation, paper=chosen.paper))
        print(f"Report: {path}\n")
    print(f"{len(files)} tests, all invented. Reports are in {folder}.")
    return 0
