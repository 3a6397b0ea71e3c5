"""One invented person and blow that the tests of virtual breaths start from."""

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
