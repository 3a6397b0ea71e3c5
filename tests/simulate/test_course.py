from dataclasses import replace
from typing import Any

import pytest

from ebbline.core.errors import SettingError
from ebbline.simulate.course import course_of
from tests.simulate.givens import BLOW, BREATH, COUGH


@pytest.mark.parametrize(
    ("change", "text"),
    [
        (
            {"inhalation": replace(BREATH, at_s=8.0)},
            "inhalation does not fit into the blow; allowed: between 0 s and 8 s; came: 8 s, for 1",
        ),
        (
            {"cough": replace(COUGH, at_s=4.5), "inhalation": BREATH},
            "cough does not fit into the blow; allowed: between 5 s and 9 s; came: 4.5 s, for 0.2",
        ),
    ],
)
def test_an_event_that_does_not_fit_into_the_blow_is_refused(
    change: dict[str, Any], text: str
) -> None:
    """After its end, or in the middle of another."""
    with pytest.raises(SettingError) as caught:
        course_of(replace(BLOW, **change))
    assert str(caught.value) == f"virtual {text} s"
