"""Hold docs/hazards.toml against the tests: each control has a test, and that test passed."""

import ast
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

TOP = Path(__file__).resolve().parents[1]
TABLE = TOP / "docs" / "hazards.toml"


@dataclass(frozen=True, slots=True)
class Control:
    """One control against a hazard, and the tests that prove it."""

    hazard: str
    says: str
    tests: tuple[str, ...]


def controls(table: Mapping[str, Any]) -> list[Control]:
    """Return every control of the table."""
    return [
        Control(hazard["id"], control["says"], tuple(control["tests"]))
        for hazard in table["hazard"]
        for control in hazard["control"]
    ]


def read_table() -> dict[str, Any]:
    """Return what docs/hazards.toml holds."""
    return tomllib.loads(TABLE.read_text(encoding="utf-8"))


def missing_tests(wanted: Iterable[Control], top: Path) -> list[str]:
    """Return each control without a test, and each test that is named and not there."""
    faults = []
    for control in wanted:
        if not control.tests:
            faults.append(f"{control.hazard}: no test proves '{control.says}'")
        for name in control.tests:
            file, _, function = name.partition("::")
            path = top / file
            found = (
                {
                    node.name
                    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
                    if isinstance(node, ast.FunctionDef)
                }
                if path.is_file()
                else set()
            )
            if function not in found:
                faults.append(f"{control.hazard}: there is no test {name}")
    return faults


def unproved(wanted: Iterable[Control], passed: set[str], failed: set[str]) -> list[str]:
    """Return each control of which a test did not pass."""
    return [
        f"{control.hazard}: '{control.says}' is not proved; {name} did not pass"
        for control in wanted
        for name in control.tests
        if name not in passed or name in failed
    ]


class ProvedControls:
    """Fails a run of all tests in which the test of a control did not pass."""

    def __init__(self, wanted: Sequence[Control]) -> None:
        self._wanted = wanted
        self._passed: set[str] = set()
        self._failed: set[str] = set()
        self._faults: list[str] = []

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Keep what passed and what did not, whatever its parameters."""
        name = report.nodeid.partition("[")[0]
        if report.when == "call" and report.passed:
            self._passed.add(name)
        elif not report.passed:
            self._failed.add(name)

    @pytest.hookimpl(tryfirst=True)
    def pytest_sessionfinish(self, session: pytest.Session) -> None:
        """Fail the run where a control is not proved."""
        self._faults = unproved(self._wanted, self._passed, self._failed)
        if self._faults and session.exitstatus == pytest.ExitCode.OK:
            session.exitstatus = pytest.ExitCode.TESTS_FAILED

    def pytest_terminal_summary(self, terminalreporter: pytest.TerminalReporter) -> None:
        """Say which controls are not proved."""
        for fault in self._faults:
            terminalreporter.write_line(f"HAZARD {fault}", red=True)


def is_whole_run(config: pytest.Config) -> bool:
    """Whether all tests were asked for, so that a test that did not run is a fault."""
    chosen = config.getoption("keyword") or config.getoption("markexpr") or config.getoption("lf")
    whole = config.args_source is pytest.Config.ArgsSource.TESTPATHS
    return whole and not chosen and not config.getoption("collectonly")
