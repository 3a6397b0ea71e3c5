"""The ``ebbline`` command: parse the words, call one command, turn errors into exit codes."""

import argparse
import sys
from collections.abc import Sequence

from ebbline._version import __version__
from ebbline.cli import demo, interpret, listen, profile, record, reduce, rules
from ebbline.core.errors import EbblineError

COMMANDS = (interpret, rules, reduce, listen, profile, record, demo)
"""Modules that each add one command."""

EXIT_CODES = """exit codes:
  0  done
  1  a report could not be drawn
  2  the input or a setting was refused; nothing of it was used
  3  a rule set was refused, or may not be the reporting criterion yet
  4  the link to an analyser could not be opened, or was lost
  5  the record could not do it, or does not verify
  6  a rule of the clinic forbids it"""


def parser() -> argparse.ArgumentParser:
    """Return the parser of the whole command line."""
    top = argparse.ArgumentParser(
        prog="ebbline",
        description="Reduce the traces of hydrogen and methane breath tests to readings, and "
        "interpret their curves: what each published criterion says, how sure that is, and a "
        "report.",
        epilog=EXIT_CODES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    top.add_argument("--version", action="version", version=f"ebbline {__version__}")
    commands = top.add_subparsers(dest="command", metavar="COMMAND", required=True)
    for module in COMMANDS:
        module.add_to(commands)
    return top


def main(words: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code.

    Parameters
    ----------
    words : sequence of str or None
        The words after the program's name; None for those of this process.

    Returns
    -------
    int
        As in `EXIT_CODES`.
    """
    for stream in (sys.stdout, sys.stderr):
        # A console that has no subscript or true minus sign must not end the program.
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(encoding="utf-8", errors="replace")
    chosen = parser().parse_args(words)
    try:
        return int(chosen.run(chosen))
    except EbblineError as error:
        print(f"ebbline: {error}", file=sys.stderr)
        return error.exit_code
    except BrokenPipeError:
        # The reader, such as head, has seen enough.
        sys.stderr.close()
        return 0
