"""The order of the rows: late, early, extra and missed samples, and what goes back in time."""

import pytest

from tests.adapters.files.strategies import HEAD, assert_refused, table

PLANNED = "minute,planned_minute,h2_ppm,status\n"


def minutes(text: str) -> list[float]:
    """Return the minutes of a table."""
    return [row.minute for row in table(text).tries]


@pytest.mark.parametrize(
    ("rows", "expected"),
    [
        # A late sample, then a slot that was missed.
        ("97,90,5,\n,105,,missed\n121,120,5,\n", [97, 105, 121]),
        # So late that the missed slot's minute had gone by.
        ("107,90,5,\n,105,,missed\n121,120,5,\n", [107, 105, 121]),
        # The same with the planned minute typed in both columns.
        ("107,90,5,\n105,105,,missed\n121,120,5,\n", [107, 105, 121]),
        # A slot was missed, and the sample after it came early.
        (",105,,missed\n104,120,5,\n", [105, 104]),
        # A try that was to be repeated, and the repeat never came.
        ("91,90,5,repeat\n,90,,missed\n106,105,5,\n", [91, 90, 106]),
        # Called missed, then taken after all.
        (",90,,missed\n97,90,5,\n", [90, 97]),
        # An extra sample without a plan, between planned ones.
        ("76,75,5,\n91,,5,\n92,90,5,\n", [76, 91, 92]),
        ("76,75,5,\n91,,5,\n,105,,missed\n", [76, 91, 105]),
        (",75,,missed\n80,,5,\n", [75, 80]),
        # Missed rows with minutes of their own, without a plan.
        ("0,,5,\n15,,,missed\n30,,5,\n", [0, 15, 30]),
        # The minute at which somebody noticed.
        ("0,0,5,\n20,15,,missed\n30,30,5,\n", [0, 20, 30]),
    ],
)
def test_late_early_extra_and_missed_samples_are_taken(rows: str, expected: list[int]) -> None:
    """A clinic's real day is in order."""
    assert minutes(PLANNED + rows) == expected


@pytest.mark.parametrize(
    ("rows", "message"),
    [
        ("15,,5,\n15,,5,\n", "minute: the minute does not increase; allowed: more than 15, as in"),
        (
            "15,,5,\n14.5,,5,\n",
            "minute: the minute does not increase; allowed: more than 15, as in",
        ),
        # On time, but twice.
        (
            "30,30,5,\n30,30,5,\n",
            "minute: the minute does not increase; allowed: more than 30, as in",
        ),
        # A missed row with a minute of its own.
        (
            "25,0,5,\n20,15,,missed\n",
            "minute: the minute does not increase; allowed: more than 25, as in",
        ),
        # Through a missed row that says nothing about clock time.
        (
            "97,90,5,\n,105,,missed\n96,120,5,\n",
            "minute: the minute does not increase; allowed: more than 97, as in",
        ),
        (
            "15,,5,\n15,,,missed\n",
            "minute: the minute does not increase; allowed: more than 15, as in",
        ),
        # No plan to compare with on one side, so minutes decide.
        (
            "91,,5,\n,90,,missed\n",
            "minute: the minute does not increase; allowed: more than 91, as in",
        ),
        (
            ",90,,missed\n88,,5,\n",
            "minute: the minute does not increase; allowed: more than 90, as in",
        ),
        (
            "16,15,5,\n31,0,5,\n",
            "planned_minute: the planned minute goes back; allowed: 15 or more, as in",
        ),
        (
            "16,15,5,\n18,,5,\n,0,,missed\n",
            "planned_minute: the planned minute goes back; allowed: 15 or more, as in",
        ),
    ],
)
def test_a_row_that_goes_back_in_time_is_refused(rows: str, message: str) -> None:
    """The refusal names the row with which it does not agree."""
    lines = rows.splitlines()
    column = 1 if message.startswith("planned") else 0
    came = lines[-1].split(",")[column] or lines[-1].split(",")[1]
    assert_refused(
        HEAD + PLANNED + rows,
        f"visit.csv, row {2 + len(lines)}, column {message} row 3; came: {came}",
    )


def test_a_sample_is_missed_only_once() -> None:
    """Two missed rows for one planned minute are a slip."""
    assert_refused(
        HEAD + PLANNED + ",45,,missed\n,45,,missed\n",
        "visit.csv, row 4: the sample is missed twice; allowed: one missed row for minute 45; "
        "row 3 is one; came: another",
    )
