"""Numbers are computed by the settings that the service has on record."""

from ebbline.core.clinic.record.staff import Setting
from ebbline.services.clinic.service.settings_on_record import (
    COMPUTED_BY,
    computed_by,
    settings_now,
    settings_on_record,
)
from tests.scene import LIBRARY, RULES, Scene
from tests.services.clinic.breaths import begun, sampled


def test_every_setting_that_numbers_depend_on_can_be_recorded() -> None:
    """By the rows of data/service_settings.toml."""
    assert set(COMPUTED_BY) <= set(RULES.settings)


def test_nothing_on_record_leaves_those_of_the_release(scene: Scene) -> None:
    """A service starts with them."""
    with scene.clinic.record.look() as look:
        assert settings_on_record(look) == {}
        found = settings_now(scene.clinic, look, substrate="lactose")
    assert found.noise == LIBRARY.noise
    assert found.dilution == LIBRARY.dilution


def test_a_recorded_setting_is_used_from_then_on(scene: Scene) -> None:
    """The uncertainty of a reading follows it, and its fraction survives being written as text."""
    noise = 1.0 / 3.0
    with scene.clinic.record.act("scene", by="", why="", token=None) as act:
        act.add(Setting(act.new_id(), "noise_ppm", {"value": noise}))
        act.add(Setting(act.new_id(), "noise_fraction", {"value": 0.0}))
        act.add(Setting(act.new_id(), "gain_fraction", {"value": 0.0}))
        act.add(Setting(act.new_id(), "report_contact", {"value": ["a", "b"]}))
    (sample,) = sampled(scene, begun(scene), [6.0])
    assert sample.h2_u_ppm is not None
    assert abs(sample.h2_u_ppm - noise) < 1e-12
    with scene.clinic.record.look() as look:
        kept = settings_on_record(look)
    assert kept["report_contact"] == ["a", "b"]
    assert set(computed_by(kept)) == {"noise_ppm", "noise_fraction", "gain_fraction"}
