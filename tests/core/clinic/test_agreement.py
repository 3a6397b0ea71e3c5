import pytest
from hypothesis import given
from hypothesis import strategies as st

from ebbline.core.clinic.agreement import Agreement, Pair, agreement, agreements
from ebbline.core.errors import FieldError

FINDINGS = ("positive", "negative", "indeterminate")


def of(*pairs: Pair) -> Agreement:
    """Return the agreement on these tests."""
    return agreement("bacterial-overgrowth", pairs, categories=FINDINGS)


def test_the_counts_have_the_first_reader_in_rows_and_the_second_in_columns() -> None:
    """In the order of the categories."""
    found = of(("positive", "negative"), ("positive", "negative"), ("negative", "negative"))
    assert found.counts == ((0, 2, 0), (0, 1, 0), (0, 0, 0))
    assert (found.tests, found.agreed) == (3, 1)
    assert found.percent == pytest.approx(100 / 3)


def test_readers_who_agree_as_often_as_by_chance_have_a_kappa_of_zero() -> None:
    """By hand: shares 1/2 each, independent, so that p_o = p_e = 1/2."""
    pairs = [(a, b) for a in ("positive", "negative") for b in ("positive", "negative")]
    assert of(*pairs).kappa == pytest.approx(0.0, abs=1e-15)


def test_readers_who_never_differ_have_a_kappa_of_one_and_no_interval() -> None:
    """The formula's width of nothing would promise too much."""
    found = of(("positive", "positive"), ("negative", "negative"))
    assert (found.kappa, found.low, found.high, found.percent) == (1.0, None, None, 100.0)


def test_readers_who_always_differ_between_two_halves_have_a_kappa_of_minus_one() -> None:
    """Here too the formula gives no width."""
    found = of(("positive", "negative"), ("negative", "positive"))
    assert (found.kappa, found.low, found.high, found.percent) == (-1.0, None, None, 0.0)


def test_kappa_is_not_defined_when_all_tests_are_in_one_category() -> None:
    """The percentage still is."""
    found = of(*[("negative", "negative")] * 5)
    assert (found.kappa, found.low, found.high) == (None, None, None)
    assert (found.tests, found.agreed, found.percent) == (5, 5, 100.0)


def test_without_a_test_nothing_is_said() -> None:
    """Not even a percentage."""
    found = of()
    assert (found.tests, found.percent, found.kappa, found.low) == (0, None, None, None)


def test_the_limits_are_cut_where_kappa_ends() -> None:
    """Three of four tests alike: the formula alone would pass 1."""
    found = of(*[("positive", "positive")] * 2, ("negative", "negative"), ("negative", "positive"))
    assert found.high == 1.0
    assert found.low is not None
    assert -1.0 <= found.low < 0.5


def test_each_question_is_counted_on_its_own() -> None:
    """In the order in which they came."""
    found = agreements(
        {
            "methanogen-overgrowth": [("positive", "positive"), ("negative", "negative")],
            "bacterial-overgrowth": [("positive", "negative")],
        },
        categories=FINDINGS,
    )
    assert [(one.question, one.tests, one.agreed) for one in found] == [
        ("methanogen-overgrowth", 2, 2),
        ("bacterial-overgrowth", 1, 0),
    ]


PAIRS = st.lists(st.tuples(st.sampled_from(FINDINGS), st.sampled_from(FINDINGS)), max_size=30)


@given(PAIRS)
def test_kappa_lies_between_minus_one_and_one_and_does_not_ask_who_read_first(
    pairs: list[Pair],
) -> None:
    """And lies between its own limits."""
    found = of(*pairs)
    swapped = of(*[(b, a) for a, b in pairs])
    assert swapped.kappa == pytest.approx(found.kappa)
    if found.kappa is not None:
        assert -1.0 <= found.kappa <= 1.0
    if found.kappa is not None and found.low is not None and found.high is not None:
        assert -1.0 <= found.low <= found.kappa <= found.high <= 1.0


def test_a_finding_that_is_no_category_is_refused() -> None:
    """The message names the question."""
    with pytest.raises(FieldError) as caught:
        of(("positive", "perhaps"))
    assert str(caught.value) == (
        "bacterial-overgrowth: unknown finding; allowed: positive, negative or indeterminate; "
        "came: perhaps"
    )


def test_a_category_that_is_repeated_is_refused() -> None:
    """It would count one finding in two places."""
    with pytest.raises(FieldError) as caught:
        agreement("symptoms-provoked", [], categories=["positive", "positive"])
    assert str(caught.value) == (
        "categories: repeated; allowed: each category once; came: positive, positive"
    )
