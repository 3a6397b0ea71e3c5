"""A breath goes to the patient that it came from, or nowhere."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import date

import pytest

from ebbline.core.clinic.record.people import Identity
from ebbline.core.clinic.record.visit import Test
from ebbline.core.errors import ClinicError
from ebbline.services.clinic.bench.right_patient import Checked, right_patient
from tests.scene import Scene


def named(scene: Scene, *, state: str = "sampling", **who: object) -> Test:
    """Return a test whose patient is somebody; Ada Shore, 1985-03-02, by default."""
    test = scene.test(substrate="lactose", state=state)
    with scene.clinic.record.act("scene", by="", why="", token=None) as act:
        stands = act.find(Identity, {"patient_id": test.patient_id})[0]
        act.revise(replace(stands.entry, **who), version=stands.version)  # type: ignore[arg-type]
    return test


def said(scene: Scene, test: Test, words: Mapping[str, str | date]) -> tuple[str, ...]:
    """Return what told whose breath it is."""
    with scene.clinic.record.look() as look:
        return right_patient(look, test, Checked(label="", said=words))


def refusal(scene: Scene, test: Test, checked: Checked) -> str:
    """Return the text of a refusal."""
    with scene.clinic.record.look() as look, pytest.raises(ClinicError) as caught:
        right_patient(look, test, checked)
    return str(caught.value)


@pytest.mark.parametrize("by", ["id", "number"])
def test_a_label_tells_by_the_id_or_the_number_of_the_test(scene: Scene, by: str) -> None:
    """As it is printed."""
    test = named(scene)
    with scene.clinic.record.look() as look:
        assert right_patient(look, test, Checked(f" {getattr(test, by)} ", {})) == ("label",)


def test_the_label_of_another_test_is_refused(scene: Scene) -> None:
    """Even of the same patient."""
    test = named(scene)
    assert refusal(scene, test, Checked("2", {})) == (
        "label: the label is of another test; allowed: the label of test 1; came: 2"
    )


def test_two_identifiers_tell(scene: Scene) -> None:
    """A name without its accent, and the date of birth."""
    test = named(scene, family_name="Île-Shore")
    words: dict[str, str | date] = {"family_name": "ile shore", "born": date(1985, 3, 2)}
    assert said(scene, test, words) == ("family_name", "born")


def test_one_that_does_not_fit_refuses_all(scene: Scene) -> None:
    """Two that fit are not enough where a third does not."""
    test = named(scene)
    words: dict[str, str | date] = {
        "family_name": "Shore",
        "born": date(1985, 3, 2),
        "record_no": "HC-0002",
    }
    assert refusal(scene, test, Checked("", words)) == (
        "record_no: not what is on record for this patient; allowed: the patient of this test, and "
        "nobody else; came: HC-0002"
    )


def test_what_fits_two_patients_who_are_here_tells_nothing(scene: Scene) -> None:
    """One more identifier does."""
    test, _ = named(scene), named(scene, state="arrived")
    words: dict[str, str | date] = {"family_name": "Shore", "born": date(1985, 3, 2)}
    assert refusal(scene, test, Checked("", words)) == (
        "identity: what was said fits another patient who is here as well; allowed: one more "
        "identifier, or the patient's label; came: family_name and born"
    )
    assert said(scene, test, {**words, "record_no": "hc-0001"}) == (
        "family_name",
        "born",
        "record_no",
    )


def test_who_is_not_here_cannot_be_mixed_up(scene: Scene) -> None:
    """A test that is booked, or over, is of somebody who sits elsewhere."""
    test = named(scene)
    for state in ("booked", "finished", "signed"):
        named(scene, state=state)
    words: dict[str, str | date] = {"family_name": "Shore", "born": date(1985, 3, 2)}
    assert said(scene, test, words) == ("family_name", "born")


def test_both_ways_at_once_are_refused(scene: Scene) -> None:
    """It would not be clear what told."""
    test = named(scene)
    with scene.clinic.record.look() as look, pytest.raises(Exception, match="came: both"):
        right_patient(look, test, Checked("1", {"family_name": "Shore"}))
