"""What leaves the record is in the history before it leaves, with who and why."""

import json
from datetime import date

import pytest

from ebbline.adapters.sql.record import SqlRecord
from ebbline.core.errors import AccessError, FieldError
from ebbline.services.clinic.service.export_record import export_record, find_patient
from tests.scene import Scene


class Writer:
    """Notes what it is asked to write."""

    def __init__(self) -> None:
        self.asked: list[tuple[str | None, bool]] = []

    def __call__(self, patient_id: str | None, identity: bool) -> int:
        self.asked.append((patient_id, identity))
        return 7


def test_an_export_is_an_act_with_its_reason(scene: Scene, record: SqlRecord) -> None:
    """The history names the patient by id, never by name."""
    shore = scene.patient(family_name="Shore", record_no="HC-1", born=date(1985, 3, 2))
    write = Writer()
    rows = export_record(
        scene.clinic,
        scene.reviewer,
        patient="HC-1",
        identity=False,
        why="asked for by the patient",
        token="e1",
        write=write,
    )
    assert rows == 7
    assert write.asked == [(shore.id, False)]
    with record.look() as look:
        (act,) = look.acts([look.head()[0]])
    assert (act.by, act.act, act.why) == (
        scene.reviewer.user_id,
        "export",
        "asked for by the patient",
    )
    assert json.loads(act.body)["warned"][-1] == (
        f"The record does not guard what has left it: patient {shore.id}, without names."
    )


def test_all_of_it_can_be_exported(scene: Scene, record: SqlRecord) -> None:
    """And the history says so."""
    write = Writer()
    export_record(
        scene.clinic,
        scene.manager,
        patient=None,
        identity=True,
        why="move",
        token=None,
        write=write,
    )
    assert write.asked == [(None, True)]
    with record.look() as look:
        (act,) = look.acts([look.head()[0]])
    assert "guard what has left it: the whole record, with names." in act.body


def test_an_export_sent_twice_is_one_act(scene: Scene, record: SqlRecord) -> None:
    """The files are written again."""
    write = Writer()
    heads = []
    for _ in range(2):
        export_record(
            scene.clinic,
            scene.manager,
            patient=None,
            identity=True,
            why="move",
            token="e2",
            write=write,
        )
        with record.look() as look:
            heads.append(look.head())
    assert heads[0] == heads[1]
    assert len(write.asked) == 2


@pytest.mark.parametrize("role", ["bench", "auditor"])
def test_not_everybody_exports(scene: Scene, role: str) -> None:
    """Nothing is written."""
    who = {"bench": scene.bench, "auditor": scene.auditor}[role]
    write = Writer()
    with pytest.raises(AccessError) as caught:
        export_record(
            scene.clinic, who, patient=None, identity=True, why="x", token=None, write=write
        )
    assert str(caught.value) == (
        f"export: this role may not export data; allowed: reviewer or manager; came: {role}"
    )
    assert write.asked == []


def test_an_export_needs_a_reason(scene: Scene) -> None:
    """White space is none."""
    write = Writer()
    with pytest.raises(FieldError) as caught:
        export_record(
            scene.clinic,
            scene.manager,
            patient=None,
            identity=True,
            why=" ",
            token=None,
            write=write,
        )
    assert str(caught.value) == (
        "why: a reason is missing; allowed: what the export is for; came: nothing"
    )
    assert write.asked == []


def test_a_patient_is_found_by_id_or_record_number(scene: Scene) -> None:
    """One who is not there, and a number of two, are refused."""
    shore = scene.patient(family_name="Shore", record_no="HC-1", born=date(1985, 3, 2))
    first = scene.patient(family_name="Strand", record_no="HC-2", born=date(1985, 3, 2))
    second = scene.patient(family_name="Haven", record_no="HC-2", born=date(1985, 3, 2))
    allowed = "allowed: a record number or the id of a patient"
    with scene.clinic.record.look() as look:
        assert find_patient(look, "HC-1") == find_patient(look, shore.id) == shore.id
        for named, came in (("HC-9", "HC-9"), ("", "nothing")):
            with pytest.raises(FieldError) as caught:
                find_patient(look, named)
            assert str(caught.value) == f"patient: it names no patient; {allowed}; came: {came}"
        with pytest.raises(FieldError) as caught:
            find_patient(look, "HC-2")
    ids = ", ".join(sorted((first.id, second.id)))
    assert str(caught.value) == (
        f"patient: it names more than one patient; {allowed}; came: HC-2, of {ids}"
    )
