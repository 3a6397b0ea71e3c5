"""Adopt a rule set or a protocol: from then on the service may report, or test, by it."""

from dataclasses import replace

from ebbline.core.clinic.record.entry import Kept
from ebbline.core.clinic.record.staff import Adoption
from ebbline.core.clinic.record.written import sha256
from ebbline.core.errors import ClinicError, FieldError, list_allowed
from ebbline.core.rules.interpret import check_adoption
from ebbline.services.clinic.desk import Actor, Clinic
from ebbline.services.clinic.ports import Look
from ebbline.services.clinic.repeated import repeated

RULE_SET = "rule set"
PROTOCOL = "protocol"


def adopt(
    clinic: Clinic, who: Actor, *, what: str, text: str, adopted_by: str, token: str | None
) -> Adoption:
    """Adopt a document as it stands, under the name of the person who answers for it.

    An earlier adoption of a document of that name is withdrawn in the same act. Tests and reports
    made under it keep it.

    Parameters
    ----------
    clinic : Clinic
        Where.
    who : Actor
        Who records it.
    what : {"rule set", "protocol"}
        What it is.
    text : str
        The document.
    adopted_by : str
        Name of the person who answers for it.
    token : str or None
        What the sender calls this act.

    Returns
    -------
    Adoption

    Raises
    ------
    FieldError
        If it is neither, nobody answers for it, or this very document is in force already.
    RuleError
        If the document cannot be read.
    AdoptionError
        If a rule set holds a row that nobody has checked.
    """
    if what not in (RULE_SET, PROTOCOL):
        raise FieldError(
            field="what", wrong="nothing to adopt", allowed="rule set or protocol", came=what
        )
    if not adopted_by.strip():
        raise FieldError(
            field="adopted_by",
            wrong="nobody answers for it",
            allowed="the name of a person",
            came="nothing",
        )
    if what == RULE_SET:
        rule_set = clinic.documents.rule_set(text)
        check_adoption(rule_set)
        name, release = rule_set.id, rule_set.version
    else:
        protocol = clinic.documents.protocol(text)
        clinic.documents.doses(text)
        name, release = protocol.id, protocol.release
    with clinic.act("adopt", who, why="", token=token) as act:
        if before := repeated(act, Adoption, token, same=lambda one: one.text == text):
            return before
        for earlier in act.find(Adoption, {"what": what, "name": name, "in_force": True}):
            if earlier.entry.text == text:
                raise FieldError(
                    field="text",
                    wrong=f"this {what} is adopted already",
                    allowed="another release of it",
                    came=f"{name}, release {release}",
                )
            act.revise(replace(earlier.entry, in_force=False), version=earlier.version)
        return act.add(
            Adoption(
                id=act.new_id(),
                what="rule set" if what == RULE_SET else "protocol",
                name=name,
                release=release,
                text=text,
                digest=sha256(text),
                adopted_by=adopted_by.strip(),
                in_force=True,
            )
        )


def withdraw(
    clinic: Clinic, who: Actor, *, adoption_id: str, version: int, why: str, token: str | None
) -> Adoption:
    """Withdraw a document: no new test may be booked under it.

    Parameters
    ----------
    clinic : Clinic
        Where.
    who : Actor
        Who records it.
    adoption_id : str
        The adoption.
    version : int
        The version that the person saw.
    why : str
        The reason.
    token : str or None
        What the sender calls this act.

    Returns
    -------
    Adoption

    Raises
    ------
    FieldError
        If no reason is given.
    ConflictError
        If it has changed since it was seen.
    """
    if not why.strip():
        raise FieldError(field="why", wrong="no reason", allowed="a reason", came="nothing")
    with clinic.act("withdraw adoption", who, why=why, token=token) as act:
        if before := repeated(act, Adoption, token, same=lambda one: one.id == adoption_id):
            return before
        stands = act.get(Adoption, adoption_id).entry
        return act.revise(replace(stands, in_force=False), version=version)


def in_force(look: Look, *, what: str, name: str) -> Kept[Adoption]:
    """Return the adoption of a document that is in force.

    Parameters
    ----------
    look : Look
        The record.
    what : {"rule set", "protocol"}
        What it is.
    name : str
        Its id.

    Returns
    -------
    Kept of Adoption

    Raises
    ------
    ClinicError
        If nobody has adopted it.
    """
    adopted = look.find(Adoption, {"what": what, "in_force": True})
    for one in adopted:
        if one.entry.name == name:
            return one
    raise ClinicError(
        field=what.replace(" ", "_"),
        wrong=f"this service has not adopted this {what}",
        allowed=list_allowed([one.entry.name for one in adopted])
        or f"a {what} to be adopted first",
        came=name or "nothing",
    )
