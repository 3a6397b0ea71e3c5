from dataclasses import replace
from typing import Any

import pytest

from ebbline.core.errors import SettingError
from ebbline.simulate.course import course_of
from ebbline.simulate.exhalation import Cough, Exhalation, Flow, Inhalation, Person
from ebbline.simulate.gas import Gases

LEVEL = Gases(h2_ppm=0.0, ch4_ppm=0.0, o2_pct=0.0, co2_pct=0.0)
PERSON = Person(
    alveolar=Gases(h2_ppm=42.0, ch4_ppm=12.0, o2_pct=13.9, co2_pct=5.6),
    room=Gases(h2_ppm=0.5, ch4_ppm=1.9, o2_pct=20.9, co2_pct=0.04),
    slope_per_l=LEVEL,
    dead_space_l=0.15,
    transition_l=0.08,
    lung_l=2.0,
)
BLOW = Exhalation(
    person=PERSON,
    apparatus_l=0.03,
    expired_l=2.0,
    flow=Flow("constant", 0.25, 0.25),
    room_before_s=3.0,
    flush_s=0.0,
)
COUGH = Cough(at_s=3.0, duration_s=0.4, spike=2.0, dip=0.25)
BREATH = Inhalation(at_s=4.0, duration_s=1.0, volume_l=0.5)


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
