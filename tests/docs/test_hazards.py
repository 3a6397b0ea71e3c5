"""The table of hazards names a test for each control, and says all that is asked of it."""

from pathlib import Path

import pytest

from tests.hazards import (
    TOP,
    Control,
    ProvedControls,
    controls,
    missing_tests,
    read_table,
    unproved,
)

KEYS = {"id", "hazard", "cause", "harm", "before", "control", "left"}
RISKS = ("high", "medium", "low")


def test_every_control_names_tests_that_are_there() -> None:
    """None is without a test, and none names one that was renamed."""
    assert missing_tests(controls(read_table()), TOP) == []


def test_every_hazard_says_cause_harm_and_risk_before_and_after() -> None:
    """And has at least one control."""
    hazards = read_table()["hazard"]
    assert len({one["id"] for one in hazards}) == len(hazards)
    for one in hazards:
        assert set(one) == KEYS, one["id"]
        assert (one["before"] in RISKS, one["left"] in RISKS) == (True, True), one["id"]
        assert RISKS.index(one["left"]) >= RISKS.index(one["before"]), one["id"]
        assert one["control"], one["id"]


def test_a_control_without_its_test_is_found(tmp_path: Path) -> None:
    """A test that is not there, a file that is not there, and no test at all."""
    (tmp_path / "test_a.py").write_text("def test_b() -> None: ...", encoding="utf-8")
    wanted = [
        Control("H-1", "says", ("test_a.py::test_b",)),
        Control("H-2", "says", ("test_a.py::test_c", "test_d.py::test_b")),
        Control("H-3", "says", ()),
    ]
    assert missing_tests(wanted, tmp_path) == [
        "H-2: there is no test test_a.py::test_c",
        "H-2: there is no test test_d.py::test_b",
        "H-3: no test proves 'says'",
    ]


@pytest.mark.parametrize(
    ("passed", "failed", "proved"),
    [({"t::a"}, set(), True), (set(), set(), False), ({"t::a"}, {"t::a"}, False)],
)
def test_a_control_is_proved_only_by_a_test_that_ran_and_passed_each_time(
    passed: set[str], failed: set[str], proved: bool
) -> None:
    """A test that did not run, or failed for one of its cases, proves nothing."""
    faults = unproved([Control("H-1", "says", ("t::a",))], passed, failed)
    assert faults == ([] if proved else ["H-1: 'says' is not proved; t::a did not pass"])


def test_a_whole_run_fails_where_a_control_is_not_proved(pytester: pytest.Pytester) -> None:
    """Though every test passed; and passes where it is."""
    pytester.makepyfile(test_one="def test_it() -> None: ...")
    for name, code in (("test_one.py::test_it", 0), ("test_one.py::test_other", 1)):
        plugin = ProvedControls([Control("H-1", "says", (name,))])
        assert pytester.inline_run(plugins=[plugin]).ret == code
