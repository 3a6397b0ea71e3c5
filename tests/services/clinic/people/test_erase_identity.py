"""A manager erases who a patient is, on a legal request; nobody else, and nothing by halves."""

from datetime import date

import pytest

from ebbline.adapters.sql.erase import SqlEraser
from ebbline.adapters.sql.record import SqlRecord
from ebbline.adapters.sql.verify import verify
from ebbline.core.clinic.record.people import Identity, Patient
from ebbline.core.clinic.record.staff import Erasure
from ebbline.core.errors import AccessError, ClinicError, FieldError
from ebbline.services.clinic.desk import Actor
from ebbline.services.clinic.people.erase_identity import Erased, erase_identity
from ebbline.services.clinic.ports import Act
from tests.scene import Scene

GROUND = "request of 27 November, article 17"


class FailingEraser(SqlEraser):
    """Empties, and then the machine fails."""

    def empty(self, act: Act, patient_id: str) -> int:
        super().empty(act, patient_id)
        raise MemoryError


@pytest.fixture
def ben(scene: Scene) -> Patient:
    """Ben Shore, as the scene names people: Ada is everybody's given name."""
    return scene.patient(family_name="Shore", record_no="HC-1", born=date(1985, 3, 2))


def erase(
    scene: Scene,
    record: SqlRecord,
    patient_id: str,
    *,
    who: Actor | None = None,
    ground: str = GROUND,
    ordered_by: str = "data protection office",
    token: str | None = None,
) -> Erased:
    """Erase as the manager, unless told otherwise."""
    return erase_identity(
        scene.clinic,
        who or scene.manager,
        patient_id=patient_id,
        ground=ground,
        ordered_by=ordered_by,
        token=token,
        eraser=SqlEraser(record),
    )


def name_of(scene: Scene, patient: Patient) -> str:
    """Return the family name that stands."""
    with scene.clinic.record.look() as look:
        (identity,) = look.find(Identity, {"patient_id": patient.id})
    return identity.entry.family_name


def test_an_erasure_is_one_act_with_its_ground(
    scene: Scene, record: SqlRecord, ben: Patient
) -> None:
    """By the manager; the record verifies, and the identity is empty."""
    done = erase(scene, record, ben.id)
    assert done.left == ""
    with record.look() as look:
        (kept,) = look.find(Erasure, {"patient_id": ben.id})
        (act,) = look.acts([kept.seq])
        assert look.head()[0] == kept.seq
    assert kept.entry == done.erasure
    assert (kept.entry.ground, kept.entry.ordered_by) == (GROUND, "data protection office")
    assert kept.entry.rows == 1
    assert (act.by, act.act, act.why) == (scene.manager.user_id, "erase identity", "")
    assert name_of(scene, ben) == ""
    assert verify(record, head=None, progress=lambda done, total: None).fault is None


@pytest.mark.parametrize("role", ["bench", "reviewer", "auditor"])
def test_only_a_manager_erases(scene: Scene, record: SqlRecord, ben: Patient, role: str) -> None:
    """The name stays."""
    who = {"bench": scene.bench, "reviewer": scene.reviewer, "auditor": scene.auditor}[role]
    with pytest.raises(AccessError) as caught:
        erase(scene, record, ben.id, who=who)
    assert str(caught.value) == (
        "erase identity: this role may not erase a patient's identity on a legal request; "
        f"allowed: manager; came: {role}"
    )
    assert name_of(scene, ben) == "Shore"


def test_an_unknown_patient_is_refused(scene: Scene, record: SqlRecord) -> None:
    """Naming the field."""
    with pytest.raises(FieldError) as caught:
        erase(scene, record, "nobody")
    assert str(caught.value).startswith("patient_id: there is no such patient; allowed: ")


@pytest.mark.parametrize(
    ("words", "named"),
    [
        ("asked by Mrs Shore", True),
        ("asked by mrs SHORE", True),
        ("HC-1 asked for it", True),
        ("Ada herself", True),
        ("asked offshore, case HC-12", False),
    ],
)
def test_what_is_kept_for_good_may_not_name_the_patient(
    scene: Scene, record: SqlRecord, ben: Patient, words: str, named: bool
) -> None:
    """Neither the ground nor the order; a name inside another word is none."""
    for field in ("ground", "ordered_by"):
        if named:
            with pytest.raises(FieldError) as caught:
                erase(scene, record, ben.id, **{field: words})  # type: ignore[arg-type]
            assert str(caught.value) == (
                f"{field}: it names the patient, and it is kept for good; allowed: words without a "
                f"name or number of the patient; came: {words}"
            )
            assert name_of(scene, ben) == "Shore"
    if not named:
        assert erase(scene, record, ben.id, ground=words).erasure.ground == words


@pytest.mark.parametrize("field", ["ground", "ordered_by"])
def test_ground_and_order_are_needed(
    scene: Scene, record: SqlRecord, ben: Patient, field: str
) -> None:
    """White space is nothing."""
    with pytest.raises(FieldError) as caught:
        erase(scene, record, ben.id, **{field: "  "})  # type: ignore[arg-type]
    assert str(caught.value) == f"{field}: it is missing; allowed: a few words; came: nothing"


def test_an_erasure_sent_twice_is_done_once(scene: Scene, record: SqlRecord, ben: Patient) -> None:
    """The second time it says what the first one did."""
    first = erase(scene, record, ben.id, token="t1")
    with record.look() as look:
        head = look.head()
    assert erase(scene, record, ben.id, token="t1") == first
    with record.look() as look:
        assert look.head() == head


def test_erasing_again_only_cleans_the_files_again(
    scene: Scene, record: SqlRecord, ben: Patient
) -> None:
    """So that it can be finished where somebody stood in the way."""
    first = erase(scene, record, ben.id)
    with record.look() as look:
        head = look.head()
    assert erase(scene, record, ben.id) == first
    with record.look() as look:
        assert look.head() == head


def test_a_patient_without_a_name_has_nothing_to_erase(scene: Scene, record: SqlRecord) -> None:
    """Nothing is recorded."""
    with record.act("scene", by="", why="", token=None) as act:
        patient = act.add(Patient(act.new_id(), "male", "en", True))
    with pytest.raises(ClinicError) as caught:
        erase(scene, record, patient.id)
    assert str(caught.value) == (
        "patient_id: nothing of this patient is there to erase; allowed: a patient who has a name "
        f"in the record; came: {patient.id}"
    )


def test_a_failure_in_the_middle_leaves_everything(
    scene: Scene, record: SqlRecord, ben: Patient
) -> None:
    """All or nothing."""
    with record.look() as look:
        head = look.head()
    with pytest.raises(MemoryError):
        erase_identity(
            scene.clinic,
            scene.manager,
            patient_id=ben.id,
            ground=GROUND,
            ordered_by="the service",
            token=None,
            eraser=FailingEraser(record),
        )
    assert name_of(scene, ben) == "Shore"
    with record.look() as look:
        assert look.head() == head
