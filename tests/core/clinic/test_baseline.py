import math
import tomllib
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ebbline.adapters.files.library import DATA
from ebbline.core.clinic.baseline import (
    BaselineAdvice,
    BaselineChoice,
    Fasting,
    Limit,
    check_choice,
    judge_baselines,
)
from ebbline.core.clinic.baseline_table import parse_baseline
from ebbline.core.errors import FieldError

TABLE = parse_baseline(tomllib.loads((DATA / "test_life.toml").read_text(encoding="utf-8")))

# H2 of at least 20 ppm as published: Alegre E, et al. Sci Rep 2022;12:9752 (abstract). For CH4 the
# abstract has at least 10 ppm; "more than" here is invented, so that both comparisons are used.
H2 = Limit("h2", "at least", 20.0, "fasting H2 is high", "Alegre 2022")
CH4 = Limit("ch4", "more than", 10.0, "fasting CH4 is high", "invented")
SUM = Limit("h2_plus_2ch4", "at least", 40.0, "the sum is high", "invented")

B1 = Fasting("B1", -75.0, 28.0, 10.0)
B2 = Fasting("B2", -5.0, 12.0, 4.0)


def advice(*readings: Fasting, limits: tuple[Limit, ...] = (H2, CH4)) -> BaselineAdvice:
    """Return what there is to decide between."""
    return judge_baselines(readings, limits, table=TABLE)


def values(*readings: Fasting) -> list[tuple[str, tuple[str, ...], float | None, float | None]]:
    """Return rule, samples and values of each candidate."""
    return [(c.rule, c.uses, c.h2_ppm, c.ch4_ppm) for c in advice(*readings).candidates]


def go(**changes: Any) -> BaselineChoice:
    """Return a decision to go ahead with the second sample."""
    parts: dict[str, Any] = {
        "choice": "go",
        "rule": "last",
        "uses": ("B2",),
        "why": "walked for an hour",
        "by": "Ben Shore",
    }
    return BaselineChoice(**(parts | changes))


def test_each_rule_and_each_sample_is_a_candidate_with_its_value_for_each_gas() -> None:
    """By hand: means (28 + 12)/2 = 20 and (10 + 4)/2 = 7."""
    assert values(B2, B1) == [
        ("mean", ("B1", "B2"), 20.0, 7.0),
        ("last", ("B1", "B2"), 12.0, 4.0),
        ("lowest", ("B1", "B2"), 12.0, 4.0),
        ("last", ("B1",), 28.0, 10.0),
        ("last", ("B2",), 12.0, 4.0),
    ]


def test_the_lowest_is_taken_for_each_gas_on_its_own() -> None:
    """As the verdicts do."""
    rows = values(Fasting("B1", -30.0, 8.0, 6.0), Fasting("B2", 0.0, 9.0, 3.0))
    assert rows[2] == ("lowest", ("B1", "B2"), 8.0, 3.0)


def test_one_sample_alone_is_a_candidate_under_each_rule_and_not_twice() -> None:
    """All three give its value; the report names the rule."""
    assert values(B1) == [(rule, ("B1",), 28.0, 10.0) for rule in ("mean", "last", "lowest")]


def test_methane_that_was_not_measured_is_missing_and_never_zero() -> None:
    """A reading without it is passed over; without any there is no value."""
    bare = Fasting("B1", -10.0, 5.0, None)
    assert [row[3] for row in values(bare, Fasting("B2", 0.0, 6.0, 4.0))] == [4, 4, 4, None, 4]
    assert [row[3] for row in values(bare)] == [None, None, None]


def test_each_limit_is_held_against_each_reading_and_each_candidate() -> None:
    """At least 20 is reached by a mean of 20; more than 10 is not by 10."""
    found = advice(B1, B2)
    assert [(one.sample, [e.limit for e in past]) for one, past in found.by_sample] == [
        ("B1", [H2]),
        ("B2", []),
    ]
    assert [(c.rule, len(c.uses), [e.value_ppm for e in c.excesses]) for c in found.candidates] == [
        ("mean", 2, [20.0]),
        ("last", 2, []),
        ("lowest", 2, []),
        ("last", 1, [28.0]),
        ("last", 1, []),
    ]
    assert found.past_a_limit
    assert not advice(B2).past_a_limit


@pytest.mark.parametrize(
    ("comparison", "value", "past"),
    [
        ("at least", 19.9, False),
        ("at least", 20.0, True),
        ("more than", 20.0, False),
        ("more than", 20.1, True),
    ],
)
def test_a_limit_is_compared_as_its_row_says(comparison: str, value: float, past: bool) -> None:
    """At the limit itself and a tenth beside it."""
    limit = Limit("h2", comparison, 20.0, "high", "invented")
    assert advice(Fasting("B1", 0.0, value, None), limits=(limit,)).past_a_limit is past


def test_a_mean_of_decimals_at_the_limit_counts_as_at_the_limit() -> None:
    """The mean of 19.9, 20.0 and 20.1 is not 20 in binary, and yet it is 20."""
    readings = [Fasting(f"B{i}", -float(3 - i), v, None) for i, v in enumerate((20.1, 20.0, 19.9))]
    strict = Limit("h2", "more than", 20.0, "high", "invented")
    assert len(advice(*readings, limits=(H2,)).candidates[0].excesses) == 1
    assert advice(*readings, limits=(strict,)).candidates[0].excesses == ()


def test_a_limit_on_a_sum_of_gases_is_held_against_the_sum() -> None:
    """28 + 2 × 10 = 48 ppm; without methane there is no sum and no limit is passed."""
    (past,) = [past for _, past in advice(B1, limits=(SUM,)).by_sample]
    assert [excess.value_ppm for excess in past] == [48.0]
    assert not advice(Fasting("B1", 0.0, 100.0, None), limits=(SUM,)).past_a_limit


def test_nothing_is_chosen_and_every_choice_is_laid_out() -> None:
    """With or without a limit that is passed."""
    for found in (advice(B1), advice(B2), advice(B2, limits=())):
        assert [row.id for row in found.choices] == [
            "go", "rinse and repeat", "walk and repeat", "rebook",
        ]  # fmt: skip


PPM = st.floats(0.0, 200.0)
READINGS = st.lists(st.tuples(PPM, st.none() | PPM), min_size=1, max_size=5).map(
    lambda rows: [Fasting(f"B{i}", float(i - 9), *row) for i, row in enumerate(rows)]
)


@given(READINGS)
def test_the_values_are_those_of_plain_arithmetic(readings: list[Fasting]) -> None:
    """Mean, last and lowest of the values that are there, by Python's own functions."""
    found = advice(*readings).candidates
    for field in ("h2_ppm", "ch4_ppm"):
        there = [v for one in readings if (v := getattr(one, field)) is not None]
        mean, last, lowest = (getattr(found[i], field) for i in range(3))
        if not there:
            assert (mean, last, lowest) == (None, None, None)
        else:
            assert math.isclose(mean, math.fsum(there) / len(there), rel_tol=1e-12, abs_tol=1e-12)
            assert (last, lowest) == (there[-1], min(there))


def test_a_complete_choice_passes() -> None:
    """With a reason past a limit, without one below, and without a baseline unless it goes on."""
    check_choice(go(), [B1, B2], limits=[H2])
    check_choice(go(why=""), [B2], limits=[H2])
    check_choice(go(why=""), [B1, B2], limits=[])
    check_choice(go(rule="mean", uses=("B1", "B2")), [B1, B2], limits=[H2])
    for choice in ("rinse and repeat", "walk and repeat", "rebook"):
        check_choice(go(choice=choice, rule=None, uses=(), why=""), [B1], limits=[H2])


@pytest.mark.parametrize(
    ("choice", "message"),
    [
        (
            go(choice="wait"),
            "choice: unknown; allowed: go, rinse and repeat, walk and repeat or rebook; came: wait",
        ),
        (go(by=" "), "by: nobody decided; allowed: the name of a person; came: nothing"),
        (
            go(choice="rebook", uses=()),
            (
                "rule: rebook makes no baseline; allowed: no rule and no samples unless the choice "
                "is go; came: last"
            ),
        ),
        (
            go(choice="rebook", rule=None),
            (
                "rule: rebook makes no baseline; allowed: no rule and no samples unless the choice "
                "is go; came: B2"
            ),
        ),
        (go(rule="first"), "rule: unknown; allowed: mean, last or lowest; came: first"),
        (go(rule=None), "rule: unknown; allowed: mean, last or lowest; came: nothing"),
        (
            go(uses=()),
            (
                "uses: not the samples that make the baseline; allowed: one or more of B1 or B2, "
                "each once; came: nothing"
            ),
        ),
        (
            go(uses=("B2", "B2")),
            (
                "uses: not the samples that make the baseline; allowed: one or more of B1 or B2, "
                "each once; came: B2, B2"
            ),
        ),
        (go(uses=("B2", "B7")), "uses: unknown; allowed: B1 or B2; came: B7"),
        (
            go(why="  "),
            (
                "why: a fasting reading is past a limit and no reason is given to go ahead; "
                "allowed: a reason; came: nothing"
            ),
        ),
    ],
)
def test_a_choice_that_leaves_something_open_is_refused(
    choice: BaselineChoice, message: str
) -> None:
    """The first sample was past the limit: the reason is asked for though the second is not."""
    with pytest.raises(FieldError) as caught:
        check_choice(choice, [B1, B2], limits=[H2])
    assert str(caught.value) == message


@pytest.mark.parametrize(
    ("readings", "limits", "message"),
    [
        ([], [H2], "readings: no fasting reading; allowed: one or more; came: none"),
        ([B1, B1], [H2], "sample: repeated; allowed: each sample once; came: B1"),
        (
            [Fasting("B1", 15.0, 5.0, None)],
            [H2],
            "minute: B1 is not a fasting reading; allowed: 0 or less; came: 15",
        ),
        (
            [Fasting("B1", math.nan, 5.0, None)],
            [H2],
            "minute: B1 is not a fasting reading; allowed: 0 or less; came: nan",
        ),
        (
            [Fasting("B1", 0.0, math.nan, None)],
            [H2],
            "h2_ppm: B1 has no value; allowed: a number in ppm; came: nan",
        ),
        (
            [Fasting("B1", 0.0, 5.0, math.inf)],
            [H2],
            "ch4_ppm: B1 has no value; allowed: a number in ppm; came: inf",
        ),
        (
            [B1],
            [Limit("co", "at least", 20.0, "high", "invented")],
            "gas: unknown; allowed: h2, ch4, h2_plus_ch4, h2_plus_2ch4 or h2_plus_4ch4; came: co",
        ),
        (
            [B1],
            [Limit("h2", "about", 20.0, "high", "invented")],
            "comparison: unknown; allowed: at least or more than; came: about",
        ),
    ],
)
def test_readings_and_limits_that_cannot_be_used_are_refused(
    readings: list[Fasting], limits: list[Limit], message: str
) -> None:
    """When they are judged and when a choice is checked against them alike."""
    with pytest.raises(FieldError) as judged:
        judge_baselines(readings, limits, table=TABLE)
    with pytest.raises(FieldError) as checked:
        check_choice(go(), readings, limits=limits)
    assert (str(judged.value), str(checked.value)) == (message, message)
