"""Find patients by name, record number or date of birth."""

from collections.abc import Collection
from datetime import date

from ebbline.core.clinic.identify import fold_name, fold_number
from ebbline.core.clinic.record.entry import Kept
from ebbline.core.clinic.record.people import Identity
from ebbline.core.errors import FieldError
from ebbline.services.clinic.desk import Actor, Clinic
from ebbline.services.clinic.ports import Containing


def find_patients(
    clinic: Clinic, who: Actor, *, name: str, record_no: str, born: date | None
) -> tuple[Kept[Identity], ...]:
    """Return the patients that fit everything that is given.

    Parameters
    ----------
    clinic : Clinic
        Where.
    who : Actor
        Who looks.
    name : str
        Beginnings of family or given names, in any order, without regard to case and accents;
        empty for any.
    record_no : str
        The whole record number; empty for any.
    born : date or None
        Date of birth; None for any.

    Returns
    -------
    tuple of Kept of Identity
        In the order of registration.

    Raises
    ------
    FieldError
        If nothing is given: a list of all patients is no search.
    """
    beginnings, number = fold_name(name).split(), fold_number(record_no)
    if not (beginnings or number or born):
        raise FieldError(
            field="name", wrong="nothing to look for", allowed="a name, a record number or a date",
            came="nothing",
        )  # fmt: skip
    # Names are folded here and not in the database: no two databases fold letters alike.
    wanted = f" #{number} " if number else f" {beginnings[0]}" if beginnings else " "
    with clinic.look(who) as look:
        return tuple(
            one
            for one in look.find(Identity, {"search": Containing(wanted)})
            if number in ("", fold_number(one.entry.record_no))
            and born in (None, one.entry.born)
            and _named(one.entry, beginnings)
        )


def _named(identity: Identity, beginnings: Collection[str]) -> bool:
    parts = fold_name(f"{identity.family_name} {identity.given_name}").split()
    return all(any(part.startswith(one) for part in parts) for one in beginnings)
