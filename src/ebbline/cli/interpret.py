"""``ebbline interpret``: curve files to findings, on the terminal, as JSON and as PDF."""

import argparse
from collections.abc import Sequence
from pathlib import Path

from ebbline.core.errors import InputError, ReportError

_FLAGS = (
    ("substrate", str, "NAME", "the sugar that was drunk"),
    ("dose-g", float, "G", "its dose in g"),
    ("weight-kg", float, "KG", "body weight in kg"),
    ("age-years", float, "YEARS", "age in years"),
    ("criterion", str, "ID", "rule set that is the reporting criterion"),
    ("baseline", str, "RULE", "fasting readings that make the baseline: mean, last or lowest"),
    ("reference", str, "REF", "alveolar reference: none, or a gas with %%, such as 'o2 13.9'"),
    ("noise-ppm", float, "PPM", "constant part of the analyser's noise, ppm"),
    ("noise-fraction", float, "F", "part of the noise proportional to the reading"),
    ("gain-fraction", float, "F", "relative uncertainty of the gain, shared by a test"),
    ("minute-tolerance", float, "MIN", "how late a sample may be and still count"),
)


def add_to(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command to the parser."""
    parser = commands.add_parser(
        "interpret",
        help="interpret curve files",
        description="Interpret curve files. Flags override the lines in a file's head. All files "
        "are read before anything is answered; if one is refused, nothing is answered.",
        allow_abbrev=False,
    )
    parser.add_argument("files", nargs="*", metavar="FILE", help="a curve file (CSV)")
    for name, kind, metavar, meaning in _FLAGS:
        parser.add_argument(f"--{name}", type=kind, metavar=metavar, help=meaning)
    parser.add_argument(
        "--rules",
        nargs="+",
        default=(),
        metavar="ID",
        help="rule sets to show, by id or as a file ending in .toml; without it all of them",
    )
    parser.add_argument("--pdf", metavar="DIR", help="also write a report for each file here")
    parser.add_argument(
        "--paper", choices=("a4", "us-letter"), default="a4", help="size of its paper"
    )
    parser.add_argument(
        "--json", action="store_true", help="print one JSON document a line for each file"
    )
    parser.set_defaults(run=run)


def run(chosen: argparse.Namespace) -> int:
    """Interpret the files and print, and write reports where asked."""
    from ebbline.bootstrap import build
    from ebbline.services.overrides import Overrides

    application = build()
    files, rules = files_and_rules(chosen.files, chosen.rules)
    overrides = Overrides(
        **{name.replace("-", "_"): getattr(chosen, name.replace("-", "_")) for name, *_ in _FLAGS}
    )
    interpretations = application.interpret_tests(files, overrides=overrides, rules=rules)
    folder = None if chosen.pdf is None else Path(chosen.pdf)
    names = report_names(files)
    if folder is not None:
        make_folder(folder)
    for interpretation, name in zip(interpretations, names, strict=True):
        if chosen.json:
            from ebbline.adapters.files.interpretation_document import document_line

            print(document_line(interpretation))
        else:
            from ebbline.cli.terminal import show

            show(interpretation)
        if folder is not None:
            path = folder / name
            write_bytes(path, application.write_report(interpretation, paper=chosen.paper))
            if not chosen.json:
                print(f"Report: {path}\n")
    return 0


def files_and_rules(files: list[str], rules: Sequence[str]) -> tuple[list[str], tuple[str, ...]]:
    """Tell files from rule sets where files were written behind ``--rules``.

    ``--rules`` takes all the words that follow it. Where no file stands before it, its words from
    the first one on that names a file, and not a rule file, are the curve files.
    """
    if files:
        return files, tuple(rules)
    for place, word in enumerate(rules):
        if Path(word).suffix.lower() not in ("", ".toml"):
            return list(rules[place:]), tuple(rules[:place])
    raise InputError("no curve file; allowed: one or more names of CSV files; came: nothing")


def report_names(files: list[str], suffix: str = ".pdf") -> list[str]:
    """Return a name for each report or picture, numbered where two files have the same name."""
    stems = [Path(file).stem for file in files]
    seen: dict[str, int] = {}
    names = []
    for stem in stems:
        seen[stem] = seen.get(stem, 0) + 1
        number = "" if seen[stem] == 1 else f"-{seen[stem]}"
        names.append(f"{stem}{number}{suffix}")
    return names


def make_folder(folder: Path) -> None:
    """Make the folder for reports; refuse what cannot be one."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise ReportError(
            f"{folder}: cannot be made; allowed: a folder that can be written; "
            f"came: {error.strerror}"
        ) from error


def write_bytes(path: Path, content: bytes) -> None:
    """Write a report; say so where the disk does not take it."""
    try:
        path.write_bytes(content)
    except OSError as error:
        raise ReportError(
            f"{path}: the report cannot be written; allowed: a file that can be written; "
            f"came: {error.strerror}"
        ) from error
