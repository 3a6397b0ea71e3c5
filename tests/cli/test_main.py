"""The command's frame: exit codes, help, errors in words."""

import sys
from io import BytesIO, TextIOWrapper
from pathlib import Path

import pytest

from ebbline import __version__
from ebbline.cli.main import EXIT_CODES, main
from tests.cli.conftest import Run


def test_the_version_is_the_one_that_results_carry(run: Run) -> None:
    """``--version`` prints it."""
    assert run("--version").out == f"ebbline {__version__}\n"


def test_help_names_every_command_and_exit_code(run: Run) -> None:
    """What a newcomer reads first."""
    text = run("--help").out
    for command in ("interpret", "rules", "demo"):
        assert f"    {command} " in text
    assert EXIT_CODES in text


def test_no_command_is_an_error_with_usage(run: Run) -> None:
    """Exit code 2, as for any bad input."""
    answer = run()
    assert answer.code == 2
    assert "COMMAND" in answer.err


def test_a_bad_input_ends_with_2_and_one_line_on_standard_error(run: Run, tmp_path: Path) -> None:
    """Nothing is printed on standard output."""
    missing = tmp_path / "none.csv"
    answer = run("interpret", missing)
    assert answer.code == 2
    assert answer.out == ""
    assert answer.err.startswith(f"ebbline: {missing}: ")
    assert answer.err.count("\n") == 1


def test_a_bad_rule_set_ends_with_3(run: Run, lactose: Path) -> None:
    """An id that is not known."""
    answer = run("interpret", lactose, "--rules", "no-such-set")
    assert answer.code == 3
    assert "no such rule set" in answer.err
    assert answer.err.rstrip().endswith("came: no-such-set")


def test_a_console_without_the_signs_does_not_end_the_program(
    lactose: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A console set to a code page that has no true minus sign."""
    written = BytesIO()
    monkeypatch.setattr(sys, "stdout", TextIOWrapper(written, encoding="cp1252"))
    assert main(["interpret", str(lactose)]) == 0
    sys.stdout.flush()
    assert "27 − 5 = 22 ppm at 60 min" in written.getvalue().decode("utf-8").replace("\n", " ")
