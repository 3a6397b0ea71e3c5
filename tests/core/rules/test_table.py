import numpy as np
from numpy.testing import assert_array_equal

from ebbline.core.rules.codes import BASELINE, LEVEL, RISE_OVER_BASELINE, RISE_OVER_LOWEST
from tests.core.rules.rows import symptom_row
from tests.helpers import SUBSTRATES, VALID, rule_set, statement_row, table_of


def test_rows_are_grouped_by_rule_set_and_question_in_the_order_shown() -> None:
    """Statements of one finding stand together; validity rows come last."""
    first = rule_set(
        statement_row(id="a"),
        statement_row(id="b", question="bacterial-overgrowth"),
        statement_row(id="c"),
        validity=[VALID],
        id="first",
    )
    second = rule_set(symptom_row(id="d"), id="second")
    table = table_of(first, second)
    assert [row.id for _, row in table.statements] == ["a", "c", "b", "d"]
    assert [row.id for _, row in table.validity] == ["fasting"]
    assert [(owner.id, question) for owner, question in table.findings] == [
        ("first", "carbohydrate-malabsorption"),
        ("first", "bacterial-overgrowth"),
        ("second", "symptoms-provoked"),
    ]
    assert_array_equal(table.rows.finding, [0, 0, 1, 2, -1])
    assert_array_equal(table.rows.rule_set, [0, 0, 0, 1, 0])
    assert_array_equal(table.rows.finding_set, [0, 0, 1])
    assert table.rows.first_validity == 4
    assert table.substrates == SUBSTRATES


def test_each_row_keeps_its_numbers() -> None:
    """Measures, comparisons, thresholds, windows and bands arrive as they are written."""
    table = table_of(
        rule_set(
            statement_row(id="a", by_minute=90),
            statement_row(id="b", measure="level", gas="ch4", threshold_ppm=10),
            statement_row(id="c", measure="rise over lowest earlier", comparison="more than",
                          gas="h2_plus_2ch4", threshold_ppm=53, undecided_from_ppm=18),
            validity=[VALID],
        )
    )  # fmt: skip
    rows = table.rows
    assert_array_equal(rows.measure, [RISE_OVER_BASELINE, LEVEL, RISE_OVER_LOWEST, BASELINE])
    assert_array_equal(rows.strict, [False, False, True, False])
    assert_array_equal(rows.threshold, [20, 10, 53, 15])
    assert_array_equal(rows.end, [90, 180, 180, np.nan])
    assert_array_equal(rows.closed, [True, False, False, False])
    assert_array_equal(rows.undecided_from, [np.nan, np.nan, 18, np.nan])
    assert_array_equal(rows.weights[rows.series], [(1, 0), (0, 1), (1, 2), (1, 0)])


def test_symptoms_have_no_weights() -> None:
    """The last series stands for them."""
    rows = table_of(rule_set(symptom_row(), statement_row(id="gas"))).rows
    assert_array_equal(rows.weights[rows.series], [(0, 0), (1, 0)])


def test_each_row_says_which_substrates_it_covers() -> None:
    """A row that does not cover a substrate is not asked."""
    rows = table_of(rule_set(statement_row(substrates=["glucose", "lactulose"]))).rows
    asked = [[0 in rows.of_substrate[s] for s in range(len(SUBSTRATES))]]
    assert_array_equal(asked, [[s in ("glucose", "lactulose") for s in SUBSTRATES]])


def test_rows_that_ask_the_same_of_a_curve_share_an_event() -> None:
    """They are computed once, whatever rule set or substrate they come from."""
    one = rule_set(statement_row(), validity=[VALID], id="one")
    two = rule_set(
        statement_row(substrates=["fructose"]),
        statement_row(id="strict", comparison="more than"),
        statement_row(id="window", by_minute=180),
        validity=[VALID],
        id="two",
    )
    rows = table_of(one, two).rows
    assert_array_equal(rows.event, [0, 0, 1, 2, 3, 3])
    assert rows.n_events == 4
