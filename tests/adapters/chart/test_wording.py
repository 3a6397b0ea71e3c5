from dataclasses import replace

from ebbline.adapters.chart import wording
from ebbline.core.rules.interpretation import Interpretation


def test_a_column_has_as_many_decimals_as_it_needs() -> None:
    """Numbers under one another line up; what is missing is blank."""
    assert wording.column([6.0, None, 12.44], 1) == ["6.0", "", "12.4"]
    assert wording.column([6.0, 7.0], 1) == ["6", "7"]
    assert wording.column([-10.0, -0.0], 2) == ["−10", "0"]


def test_an_unknown_name_stays_as_it_is() -> None:
    """A service's own question or gas is printed rather than lost."""
    assert wording.question_title("bacterial-overgrowth") == "Small-intestinal bacterial overgrowth"
    assert wording.question_title("something-else") == "something-else"
    assert wording.gas_label("n2") == "n2"
    assert wording.gas_name("n2") == "n2"


def test_a_fact_in_its_own_words_keeps_its_own_unit(lactose: Interpretation) -> None:
    """A bare number gets the unit of its name; "15 mL syrup" does not get a second one."""
    assert wording.with_unit("250", "ml") == "250 ml"
    assert wording.with_unit("12.5", "h") == "12.5 h"
    assert wording.with_unit("15 mL syrup in 200 mL", "ml") == "15 mL syrup in 200 mL"
    assert wording.with_unit("", "h") == ""
    assert wording.drink(lactose) == "Lactose 25 g in 250 ml"
    plain = replace(lactose, test=replace(lactose.test, dose_g=None, facts={}))
    assert wording.drink(plain) == "Lactose"
