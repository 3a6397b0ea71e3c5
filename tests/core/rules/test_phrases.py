import math
import random
import re
from typing import Any

import pytest

from ebbline.core.rules.codes import (
    CANNOT_BE_JUDGED,
    KEY_MISSED,
    LATE_COUNTED,
    MET,
    NO_FASTING,
    NO_READING,
    NOT_MET,
    PLAIN,
    STOPPED_EARLY,
    UNDECIDED,
)
from ebbline.core.rules.phrases import MINUS, because, chance_text, number
from tests.core.rules.rows import a_statement, symptom_row
from tests.helpers import one_curve, rule_set


@pytest.mark.parametrize(
    ("value", "decimals", "text"),
    [
        (20.0, 1, "20"),
        (19.96, 1, "20"),
        (19.96, 2, "19.96"),
        (7.5, 1, "7.5"),
        (0.0, 1, "0"),
        (-0.04, 1, "0"),
        (-3.25, 2, f"{MINUS}3.25"),
        (-3.0, 0, f"{MINUS}3"),
        (100.0, 1, "100"),
        (100.0, 0, "100"),
        (1440.0, 3, "1440"),
    ],
)
def test_numbers_are_written_as_people_write_them(value: float, decimals: int, text: str) -> None:
    """No trailing zeros, a true minus sign, no minus zero."""
    assert number(value, decimals) == text


@pytest.mark.parametrize(
    ("chance", "text"),
    [(0.0, "< 0.01"), (0.0099, "< 0.01"), (0.01, "0.01"), (0.5, "0.50"), (0.99, "0.99"),
     (0.995, "> 0.99"), (1.0, "> 0.99")],
)  # fmt: skip
def test_a_chance_is_never_shown_as_a_certainty(chance: float, text: str) -> None:
    """Two decimals, and a limit beyond them."""
    assert chance_text(chance) == text


def words(
    result: int = MET,
    reason: int = PLAIN,
    value: float = 22.0,
    *,
    start: float = 5.0,
    lowest: float = 3.0,
    at: int = 1,
    tolerance: float = 0.0,
    minute: float = 60.0,
    **row: Any,
) -> str:
    """Return the arithmetic of one verdict."""
    statement = a_statement(**({"by_minute": 90} | row if "needs_minutes" not in row else row))
    return because(
        statement,
        result=result,
        reason=reason,
        value=value,
        at=at,
        base=start,
        lowest_before=lowest,
        curves=one_curve([0, minute], [5, 27]),
        gas_name="H2",
        tolerance=tolerance,
    )


@pytest.mark.parametrize(
    ("text", "arguments"),
    [
        (f"27 {MINUS} 5 = 22 ppm at 60 min; at least 20 by 90 min asked", {}),
        (f"27 {MINUS} 5 = 22 ppm at 60 min; more than 20 by 90 min asked",
         {"comparison": "more than"}),
        (f"27 {MINUS} 5 = 22 ppm at 60 min; at least 20 asked", {"needs_minutes": 180}),
        (f"25 {MINUS} 3 = 22 ppm at 60 min; at least 20 by 90 min asked",
         {"measure": "rise over lowest earlier"}),
        ("22 ppm at 60 min; at least 20 by 90 min asked", {"measure": "level"}),
        (f"12 {MINUS} 5 = 7 ppm at 60 min at most; at least 20 by 90 min asked",
         {"result": NOT_MET, "value": 7.0}),
        (f"3 {MINUS} 5 = {MINUS}2 ppm at 60 min at most; at least 20 by 90 min asked",
         {"result": NOT_MET, "value": -2.0}),
        ((f"27 {MINUS} 5 = 22 ppm at 92.5 min; at least 20 by 90 min asked; counted within the "
         "tolerance of 2.5 min"), {"reason": LATE_COUNTED, "tolerance": 2.5, "minute": 92.5}),
        ((f"23 {MINUS} 5 = 18 ppm at 60 min at most; at least 20 asked; from 12 ppm the rule set "
         "leaves it undecided"),
         {"result": NOT_MET, "reason": UNDECIDED, "value": 18.0, "undecided_from_ppm": 12,
          "needs_minutes": 180}),
        ("no fasting H2 reading that counts; at least 20 by 90 min asked",
         {"result": CANNOT_BE_JUDGED, "reason": NO_FASTING, "value": math.nan, "at": -1}),
        ("no H2 reading that counts; at least 20 by 90 min asked",
         {"result": CANNOT_BE_JUDGED, "reason": NO_READING, "value": math.nan, "at": -1}),
        (("the last H2 reading was at 60 min; readings to 90 min are needed before it can be not "
         "met"), {"result": CANNOT_BE_JUDGED, "reason": STOPPED_EARLY}),
        (("the last H2 reading was at 60 min; readings to 180 min (not checked against the paper) "
         "are needed before it can be not met"),
         {"result": CANNOT_BE_JUDGED, "reason": STOPPED_EARLY, "needs_minutes": 180,
          "needs_provenance": "memory"}),
        (("the last H2 reading was at 60 min; readings to 180 min are needed before it can be not "
         "met"), {"result": CANNOT_BE_JUDGED, "reason": STOPPED_EARLY, "needs_minutes": 180,
                 "needs_provenance": "read"}),
        ((f"27 {MINUS} 5 = 22 ppm at 120 min, after the window, and the sample that would have "
         "decided by 90 min is missing; at least 20 by 90 min asked"),
         {"result": CANNOT_BE_JUDGED, "reason": KEY_MISSED, "minute": 120.0}),
        ("22 ppm at 60 min; at least 12.375 by 90 min asked",
         {"measure": "level", "threshold_ppm": 12.375}),
    ],
)  # fmt: skip
def test_each_reason_has_its_sentence(text: str, arguments: dict[str, Any]) -> None:
    """The arithmetic, where and when, and what was asked."""
    assert words(**arguments) == text


def test_symptoms_are_told_in_points() -> None:
    """And a score that was not asked before the drink in words of its own."""
    statement = rule_set(symptom_row()).statements[0]

    def told(result: int, reason: int, value: float) -> str:
        return because(
            statement, result=result, reason=reason, value=value, at=1, base=math.nan,
            lowest_before=math.nan, curves=one_curve([0, 60], [5, 9]), gas_name="symptoms",
            tolerance=0.0,
        )  # fmt: skip

    assert told(MET, PLAIN, 3.0) == "3 points at 60 min; at least 2 asked"
    assert told(CANNOT_BE_JUDGED, NO_READING, math.nan) == (
        "no score that was also asked before the drink; at least 2 asked"
    )


@pytest.mark.parametrize(
    ("value", "start", "text"),
    [
        (19.96, 5.0, f"24.96 {MINUS} 5 = 19.96 ppm"),
        (19.9996, 5.0, f"24.9996 {MINUS} 5 = 19.9996 ppm"),
        (20.0, 5.3, f"25.3 {MINUS} 5.3 = 20 ppm"),
        (21.809524, 5.333333, f"27.1 {MINUS} 5.3 = 21.8 ppm"),
        (22.17, 4.97, f"27.14 {MINUS} 4.97 = 22.17 ppm"),
        (20.04, 4.99, f"25 {MINUS} 5 = 20 ppm"),
        (19.94, 4.99, f"24.9 {MINUS} 5 = 19.9 ppm"),
        (20.0, 4.96, f"25 {MINUS} 5 = 20 ppm"),
        (20.02, 5.04, f"25.06 {MINUS} 5.04 = 20.02 ppm"),
        (20.0, -1.0, "19 + 1 = 20 ppm"),
    ],
)
def test_a_sum_has_as_many_decimals_as_it_takes_to_stay_on_its_side(
    value: float, start: float, text: str
) -> None:
    """19.96 is not shown as 20 where 20 would be met; what is printed adds up as printed."""
    found = words(MET if value >= 20 else NOT_MET, value=value, start=start)
    assert found.startswith(text)


@pytest.mark.parametrize(
    ("value", "comparison", "text"),
    [(9.96, "at least", "9.96 ppm"), (10.04, "more than", "10.04 ppm"),
     (10.0, "at least", "10 ppm"), (9.999999, "at least", "9.999999 ppm")],
)  # fmt: skip
def test_a_level_is_not_rounded_across_the_threshold(
    value: float, comparison: str, text: str
) -> None:
    """More than 10 must look like more than 10."""
    result = MET if value >= 10 else NOT_MET
    found = words(result, value=value, measure="level", threshold_ppm=10, comparison=comparison)
    assert found.startswith(text)


@pytest.mark.parametrize("measure", ["level", "rise over baseline"])
def test_even_a_hair_below_the_threshold_is_not_shown_as_the_threshold(measure: str) -> None:
    """A verdict of "not met" never stands beside a number that meets it."""
    found = words(NOT_MET, value=19.9999998, measure=measure)
    shown = re.search(r"([0-9.]+) ppm", found)
    assert shown is not None
    assert float(shown[1]) < 20.0


def test_every_sum_adds_up_as_printed() -> None:
    """Three thousand sums of normalised values: what a reader adds is what is printed."""
    rng = random.Random(20261124)
    wrong = []
    for _ in range(3000):
        start, value = rng.uniform(0.5, 14.0), rng.uniform(-5.0, 70.0)
        result = MET if value >= 20.0 else NOT_MET
        text = words(result, value=value, start=start).split(" ppm")[0].replace(MINUS, "-")
        parts = re.fullmatch(r"(-?[0-9.]+) - ([0-9.]+) = (-?[0-9.]+)", text)
        assert parts is not None
        top, low, rise = (float(part) for part in parts.groups())
        if abs(top - low - rise) > 1e-9 or (rise >= 20.0) != (value >= 20.0):
            wrong.append(text)
    assert wrong == []
