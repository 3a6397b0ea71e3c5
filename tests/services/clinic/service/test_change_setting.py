"""A setting is one of the rows, is what its row asks, and each change is a version."""

from typing import Any

import pytest

from ebbline.core.clinic.record.staff import Setting
from ebbline.core.errors import AccessError, ConflictError, FieldError
from ebbline.services.clinic.service.change_setting import change_setting, setting_of
from tests.scene import Scene
from tests.services.clinic.given import refused


def put_setting(scene: Scene, name: str, value: object, **changes: Any) -> Setting:
    """Change a setting."""
    values: dict[str, Any] = {"version": 0, "why": "", "token": None} | changes
    return change_setting(scene.clinic, scene.manager, name=name, value=value, **values)


def value_of(scene: Scene, name: str) -> object:
    """Return what stands."""
    with scene.clinic.look(scene.bench) as look:
        return setting_of(look, name)


@pytest.mark.parametrize(
    ("name", "value", "kept"),
    [
        ("contact", " an invented number ", "an invented number"),
        ("report_contact", ["Harbour Clinic", "quay 1"], ["Harbour Clinic", "quay 1"]),
        ("noise_ppm", 1, 1.0),
        ("baseline", "lowest", "lowest"),
    ],
)
def test_a_setting_is_kept(scene: Scene, name: str, value: object, kept: object) -> None:
    """What is not set is none; the same act sent twice is one."""
    assert value_of(scene, name) is None
    first = put_setting(scene, name, value, token="t1")
    assert put_setting(scene, name, value, token="t1") == first
    assert value_of(scene, name) == kept


def test_each_change_is_a_version(scene: Scene) -> None:
    """An older sight conflicts, also one of nothing."""
    first = put_setting(scene, "noise_ppm", 1.0)
    put_setting(scene, "noise_ppm", 2.0, version=1, why="new analyser")
    with scene.clinic.look(scene.auditor) as look:
        values = [one.entry.value for one in look.versions(Setting, first.id)]
    assert values == [{"value": 1.0}, {"value": 2.0}]
    for version in (0, 1):
        with pytest.raises(ConflictError):
            put_setting(scene, "noise_ppm", 3.0, version=version)


def test_what_is_no_setting_or_cannot_be_is_refused(scene: Scene) -> None:
    """The refusal names the field."""
    with refused(scene, FieldError, "noise_ppm: out of range; allowed: 0 to 100; came: 101"):
        put_setting(scene, "noise_ppm", 101)
    with refused(scene, FieldError, "version: this setting is not set yet; allowed: 0; came: 4"):
        put_setting(scene, "noise_ppm", 1, version=4)
    with pytest.raises(
        FieldError, match=r"name: no such setting; allowed: service, .*; came: tide"
    ):
        put_setting(scene, "tide", "high")


def test_the_bench_changes_no_setting(scene: Scene) -> None:
    """Settings are a manager's."""
    with pytest.raises(AccessError, match="this role may not change the settings of the service"):
        change_setting(
            scene.clinic, scene.bench, name="noise_ppm", value=1, version=0, why="", token=None
        )
