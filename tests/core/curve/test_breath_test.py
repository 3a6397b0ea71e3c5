import pytest

from ebbline.core.curve.breath_test import SYMPTOMS
from tests.helpers import a_try, of_tries


@pytest.mark.parametrize(
    ("facts", "invented"),
    [({"invented": "yes"}, True), ({"invented": "YES"}, True), ({"invented": "no"}, False),
     ({}, False)],
)  # fmt: skip
def test_a_test_is_invented_only_where_its_head_says_so(
    facts: dict[str, str], invented: bool
) -> None:
    """Data that do not say it are taken as a patient's."""
    assert of_tries(a_try(0, 5), facts=facts).invented is invented


def test_five_complaints_are_scored() -> None:
    """Source: the paediatric and adult questionnaires of clinical practice score these five."""
    assert SYMPTOMS == ("pain", "bloating", "flatulence", "nausea", "diarrhoea")
