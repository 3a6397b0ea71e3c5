"""A service reports and tests only by documents that a named person has adopted."""

import pytest

from ebbline.core.clinic.record.staff import Adoption
from ebbline.core.errors import AccessError, AdoptionError, ClinicError, ConflictError, FieldError
from ebbline.services.clinic.service.adopt import adopt, in_force, withdraw
from tests.scene import DOCUMENTS, Scene


def test_what_is_adopted_is_kept_as_it_was(scene: Scene) -> None:
    """The whole text, its release, and who answers for it."""
    with scene.clinic.look(scene.auditor) as look:
        kept = in_force(look, what="rule set", name="north-american-2017").entry
    assert kept.text == DOCUMENTS.offered("rule set", "north-american-2017")
    assert (kept.release, kept.adopted_by) == ("1", "Dr L. Harbour")


def test_what_is_not_adopted_cannot_be_used(scene: Scene) -> None:
    """The refusal names what is."""
    with scene.clinic.look(scene.bench) as look, pytest.raises(ClinicError) as caught:
        in_force(look, what="rule set", name="rome-2009")
    assert str(caught.value) == (
        "rule_set: this service has not adopted this rule set; allowed: north-american-2017; "
        "came: rome-2009"
    )


def test_a_new_release_takes_the_place_of_the_old_one(scene: Scene) -> None:
    """The old one is withdrawn in the same act, and stays on record."""
    old = DOCUMENTS.offered("protocol", "lactose-180")
    new = old.replace('"release":"1"', '"release":"2"')
    adopt(scene.clinic, scene.manager, what="protocol", text=new, adopted_by="R. Q.", token=None)
    with scene.clinic.look(scene.bench) as look:
        assert in_force(look, what="protocol", name="lactose-180").entry.release == "2"
        all_of_it = look.find(Adoption, {"name": "lactose-180"})
    assert {(one.entry.release, one.entry.in_force) for one in all_of_it} == {
        ("1", False),
        ("2", True),
    }


def test_a_rule_set_with_unchecked_rows_is_not_adopted(scene: Scene) -> None:
    """Nothing of it is stored."""
    with pytest.raises(AdoptionError):
        adopt(
            scene.clinic,
            scene.manager,
            what="rule set",
            text=DOCUMENTS.offered("rule set", "rome-2009"),
            adopted_by="Dr L. Harbour",
            token=None,
        )
    with scene.clinic.look(scene.bench) as look:
        assert look.find(Adoption, {"name": "rome-2009"}) == ()


@pytest.mark.parametrize(
    ("what", "adopted_by", "text"),
    [
        (
            "poem",
            "Dr L. Harbour",
            "what: nothing to adopt; allowed: rule set or protocol; came: poem",
        ),
        (
            "protocol",
            " ",
            "adopted_by: nobody answers for it; allowed: the name of a person; came: nothing",
        ),
        (
            "protocol",
            "Dr L. Harbour",
            (
                "text: this protocol is adopted already; allowed: another release of it; came: "
                "lactose-180, release 1"
            ),
        ),
    ],
)
def test_what_cannot_be_adopted_is_refused(
    scene: Scene, what: str, adopted_by: str, text: str
) -> None:
    """The refusal names the field."""
    with pytest.raises(FieldError) as caught:
        adopt(
            scene.clinic,
            scene.manager,
            what=what,
            text=DOCUMENTS.offered("protocol", "lactose-180"),
            adopted_by=adopted_by,
            token=None,
        )
    assert str(caught.value) == text


def test_the_bench_adopts_nothing(scene: Scene) -> None:
    """A document is adopted by a reviewer or a manager."""
    with pytest.raises(AccessError, match="this role may not adopt a rule set or a protocol"):
        adopt(
            scene.clinic,
            scene.bench,
            what="protocol",
            text=DOCUMENTS.offered("protocol", "lactose-180"),
            adopted_by="M. Tide",
            token=None,
        )


def test_a_document_is_withdrawn_with_a_reason(scene: Scene) -> None:
    """And not twice from the same sight of it."""
    chosen = scene.criterion.id
    with pytest.raises(FieldError, match="why: no reason; allowed: a reason; came: nothing"):
        withdraw(scene.clinic, scene.manager, adoption_id=chosen, version=1, why=" ", token=None)
    withdraw(scene.clinic, scene.manager, adoption_id=chosen, version=1, why="2 is out", token=None)
    with scene.clinic.look(scene.bench) as look, pytest.raises(ClinicError):
        in_force(look, what="rule set", name="north-american-2017")
    with pytest.raises(ConflictError):
        withdraw(scene.clinic, scene.manager, adoption_id=chosen, version=1, why="x", token=None)


def test_an_adoption_or_withdrawal_sent_twice_is_done_once(scene: Scene) -> None:
    """And a token that was used for another document is refused, naming the field."""
    text = DOCUMENTS.offered("protocol", "lactose-180").replace('"release":"1"', '"release":"2"')

    def adopt_it(text: str) -> Adoption:
        return adopt(
            scene.clinic, scene.manager, what="protocol", text=text, adopted_by="R. Q.", token="a"
        )

    def withdraw_it() -> Adoption:
        return withdraw(
            scene.clinic, scene.manager, adoption_id=first.id, version=1, why="3 is out", token="w"
        )

    first = adopt_it(text)
    assert adopt_it(text) == first
    with pytest.raises(FieldError, match="token: this was sent before with other content"):
        adopt_it(text.replace('"release":"2"', '"release":"3"'))
    gone = withdraw_it()
    assert withdraw_it() == gone
    assert not gone.in_force
