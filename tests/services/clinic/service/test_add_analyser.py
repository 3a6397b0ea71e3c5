"""The analysers of a service, and their checks: also those that failed."""

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from ebbline.core.clinic.record.staff import Analyser, AnalyserCheck
from ebbline.core.errors import ClinicError, ConflictError, FieldError
from ebbline.services.clinic.service.add_analyser import add_analyser, record_check, retire_analyser
from tests.scene import Scene
from tests.services.clinic.given import last_act, refused, stands

NOW = datetime(2026, 11, 27, 8, 0, tzinfo=UTC)


def add(scene: Scene, **changes: Any) -> Analyser:
    """Add an invented analyser."""
    values: dict[str, Any] = {
        "name": "analyser 2", "serial": "HC-A2", "method": "electrochemical", "profile": "",
        "token": None,
    } | changes  # fmt: skip
    return add_analyser(scene.clinic, scene.manager, **values)


def check(scene: Scene, **changes: Any) -> AnalyserCheck:
    """Record a check of the analyser of the scene."""
    values: dict[str, Any] = {
        "analyser_id": scene.analyser.id, "what": "check", "at": NOW, "passed": True,
        "gas": "certificate C1, lot G1", "findings": "", "token": None,
    } | changes  # fmt: skip
    return record_check(scene.clinic, scene.bench, **values)


def retire(scene: Scene, **changes: Any) -> Analyser:
    """Take the analyser of the scene out of use."""
    values: dict[str, Any] = {"version": 1, "why": "worn out", "token": None} | changes
    return retire_analyser(scene.clinic, scene.manager, analyser_id=scene.analyser.id, **values)


def test_an_analyser_is_added_once(scene: Scene) -> None:
    """The same act sent twice is one; no two in use share a name or a serial number."""
    assert add(scene, token="t1") == add(scene, token="t1")
    assert stands(scene, Analyser, serial="HC-A2").entry.in_use
    for field, value in (("name", "Analyser 1"), ("serial", "hc-a1")):
        with refused(
            scene,
            ClinicError,
            f"{field}: an analyser in use has it; allowed: another {field}, or that analyser out "
            f"of use first; came: {value}",
        ):
            add(scene, **{"name": "analyser 3", "serial": "HC-A3", field: value})


@pytest.mark.parametrize(
    ("changes", "text"),
    [
        ({"name": ""}, "name: missing; allowed: what the analyser is called; came: nothing"),
        ({"serial": " "}, "serial: missing; allowed: the serial number; came: nothing"),
        ({"method": ""}, "method: missing; allowed: how the analyser measures; came: nothing"),
    ],
)
def test_an_analyser_has_a_name_a_number_and_a_method(
    scene: Scene, changes: dict[str, str], text: str
) -> None:
    """Reports print them."""
    with refused(scene, FieldError, text):
        add(scene, **changes)


def test_an_analyser_out_of_use_frees_its_name(scene: Scene) -> None:
    """It stays on record; an older sight conflicts."""
    with refused(scene, FieldError, "why: missing; allowed: a reason in words; came: nothing"):
        retire(scene, why="")
    assert retire(scene, token="t1") == retire(scene, token="t1")
    with pytest.raises(ConflictError):
        retire(scene)
    assert add(scene, name="analyser 1").in_use
    with scene.clinic.record.look() as look:
        assert look.count(Analyser) == 2


def test_a_check_is_kept_with_its_gas(scene: Scene) -> None:
    """The same act sent twice is one, and another under its token is refused."""
    assert check(scene, token="t1") == check(scene, token="t1")
    with pytest.raises(FieldError, match="token"):
        check(scene, what="zero", token="t1")
    found = stands(scene, AnalyserCheck, analyser_id=scene.analyser.id).entry
    assert (found.what, found.at, found.passed, found.gas) == (
        "check", NOW, True, "certificate C1, lot G1",
    )  # fmt: skip


def test_a_check_that_failed_is_kept_and_warned_of(scene: Scene) -> None:
    """Readings by that analyser are not fit for use."""
    check(scene, passed=False, findings="8 % low")
    assert not stands(scene, AnalyserCheck, analyser_id=scene.analyser.id).entry.passed
    assert "check of analyser 1 failed: readings by it are not fit for use" in last_act(scene)[2]


@pytest.mark.parametrize(
    ("changes", "text"),
    [
        (
            {"what": "polish"},
            (
                "what: not one of the choices; allowed: calibration, check, zero or room air; "
                "came: polish"
            ),
        ),
        ({"gas": ""}, "gas: missing; allowed: certificate and lot of the gas; came: nothing"),
        ({"passed": False}, "findings: missing; allowed: what was found; came: nothing"),
        (
            {"at": NOW + timedelta(minutes=1)},
            (
                "at: too late; allowed: 2025-11-26 08:00 UTC to 2026-11-27 08:00 UTC; came: "
                "2026-11-27 08:01 UTC"
            ),
        ),
        (
            {"at": NOW - timedelta(days=367)},
            (
                "at: too early; allowed: 2025-11-26 08:00 UTC to 2026-11-27 08:00 UTC; came: "
                "2025-11-25 08:00 UTC"
            ),
        ),
    ],
)
def test_a_check_that_cannot_be_is_refused(
    scene: Scene, changes: dict[str, Any], text: str
) -> None:
    """A zero or room air needs no gas."""
    with refused(scene, FieldError, text):
        check(scene, **changes)
    assert check(scene, what="zero", gas="").gas == ""


def test_an_analyser_out_of_use_is_not_checked(scene: Scene) -> None:
    """It comes into use again as a new one."""
    retire(scene)
    with refused(
        scene,
        ClinicError,
        "analyser_id: this analyser is not in use; allowed: an analyser that is in use; came: "
        "analyser 1",
    ):
        check(scene)
