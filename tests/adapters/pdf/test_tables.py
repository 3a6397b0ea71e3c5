from dataclasses import replace

import pytest

from ebbline.adapters.pdf.tables import adopted_rows, comparisons, measure_table, sample_table
from ebbline.core.rules.interpretation import Interpretation


def test_only_the_adopted_rule_set_is_the_criterion(lactose: Interpretation) -> None:
    """Its statements about gases, in their order; the others are grouped by question."""
    assert [row["question"] for row in adopted_rows(lactose)] == [
        "Carbohydrate malabsorption",
        "Intestinal methanogen overgrowth",
    ]
    groups = comparisons(lactose)
    assert [group["question"] for group in groups] == ["Carbohydrate malabsorption"]
    assert [row["title"] for row in groups[0]["rows"]] == ["Rome Consensus 2009"]


def test_a_statement_that_cannot_be_judged_has_no_chance(lactose: Interpretation) -> None:
    """There is no number where there is nothing to count."""
    row = replace(lactose.statements[0], result="cannot be judged", chance=None, value=None)
    shown = adopted_rows(replace(lactose, statements=(row,)))[0]
    assert (shown["chance"], shown["chance_text"]) == (None, "")


def test_samples_and_setbacks_are_in_order_of_time(glucose: Interpretation) -> None:
    """What does not count is told from what does."""
    table = sample_table(glucose, clock=False)
    assert [row[0] for row in table["rows"]] == [
        "−10", "0", "15", "28", "30", "46", "60", "77", "90", "105", "120",
    ]  # fmt: skip
    assert [i for i, counted in enumerate(table["counted"]) if not counted] == [3, 6]
    labels = [one["label"] for one in table["columns"]]
    assert labels[:8] == [
        "Minute", "Planned", "H2 raw", "H2 norm.", "u(H2)", "CH4 raw", "CH4 norm.", "u(CH4)",
    ]  # fmt: skip


def test_a_score_of_none_is_not_a_score_that_was_not_asked(glucose: Interpretation) -> None:
    """Zero is an answer; blank is a question that was not put."""
    calm = replace(glucose.samples[0], symptoms={"pain": 0.0})
    unasked = replace(glucose.samples[1], symptoms={})
    table = sample_table(
        replace(glucose, samples=(calm, unasked, *glucose.samples[2:])), clock=False
    )
    at = [one["label"] for one in table["columns"]].index("Symptoms")
    assert [row[at] for row in table["rows"][:3]] == ["none", "", "bloating 1, nausea 1"]


def test_measures_are_those_of_the_gases_and_of_sums_that_a_row_judges(
    lactose: Interpretation,
) -> None:
    """Peak and rise come with their minute."""
    rows = measure_table(lactose)["rows"]
    assert [row[0] for row in rows] == ["Hydrogen", "Methane"]
    assert rows[0][1:5] == ["6", "44 at 150 min", "38 at 150 min", "39"]
    row = replace(lactose.statements[0], gas="h2_plus_2ch4")
    judged = replace(lactose, statements=(*lactose.statements, row))
    assert [row[0] for row in measure_table(judged)["rows"]][-1] == "Hydrogen + 2 × methane"


def test_the_time_of_day_stands_beside_the_minute(lactose: Interpretation) -> None:
    """It is counted from minute 0, over midnight too; without that time there is no column."""

    def times(started: str) -> list[str]:
        test = replace(lactose.test, facts={**lactose.test.facts, "started": started})
        table = sample_table(replace(lactose, test=test), clock=True)
        at = [one["label"] for one in table["columns"]].index("Time")
        return [row[at] for row in table["rows"]]

    assert times("08:53")[:3] == ["08:53", "09:08", "09:24"]
    assert times("23:50:20")[:2] == ["23:50", "00:05"]
    with pytest.raises(ValueError, match="'Time' is not in list"):
        times("about nine")
