"""Whether what a patient says fits who is on record: two identifiers of different kinds, at least.

Names are compared without case, accents and marks, since a tablet's keyboard may not have them;
dates and numbers must be the same. What is on record is never told to whoever answers wrongly.

Source: at least two identifiers, such as the name and the date of birth, neither of them a room
number: World Health Organization, Patient Safety Solutions, volume 1, solution 2, Patient
identification, May 2007, suggested actions. How names are compared: common practice, no source.
"""

import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from ebbline.core.errors import ClinicError, FieldError, list_allowed

NAME = "name"

KIND_OF = {
    "family_name": NAME,
    "given_name": NAME,
    "born": "date of birth",
    "record_no": "record number",
    "national_no": "national number",
}
"""What may be asked of a patient, and which kind of identifier it is: both names are one."""

# Letters that no accent can be taken off.
_PLAIN = str.maketrans({"ø": "o", "ł": "l", "đ": "d", "ð": "d", "þ": "th", "æ": "ae", "œ": "oe"})


@dataclass(frozen=True, slots=True)
class OnRecord:
    """Who somebody is by the record; an empty text, or None, is not known."""

    family_name: str
    given_name: str
    born: date | None
    record_no: str
    national_no: str


def check_identifiers(known: OnRecord, said: Mapping[str, str | date]) -> tuple[str, ...]:
    """Return the identifiers that were asked for, where each of them fits.

    Parameters
    ----------
    known : OnRecord
        The patient of the test.
    said : mapping
        What the patient said, by the names in `KIND_OF`.

    Returns
    -------
    tuple of str
        Names of the identifiers, in the order of `KIND_OF`.

    Raises
    ------
    FieldError
        If something was asked that is no identifier, or an answer is of the wrong form.
    ClinicError
        If fewer than two kinds were asked for, or one does not fit: it may be another patient.
    """
    for name, value in said.items():
        _check_form(name, value)
    kinds = {KIND_OF[name] for name in said}
    if len(kinds) < 2:
        raise ClinicError(
            field="identity",
            wrong="not enough identifiers",
            allowed=f"two or more of {list_allowed(dict.fromkeys(KIND_OF.values()))}",
            came=list_allowed(kinds) or "none",
        )
    for name, value in said.items():
        if not _fits(getattr(known, name), value, KIND_OF[name]):
            raise ClinicError(
                field=name,
                wrong="not what is on record for this patient",
                allowed="the patient of this test, and nobody else",
                came=value.isoformat() if isinstance(value, date) else value,
            )
    return tuple(name for name in KIND_OF if name in said)


def fits(known: OnRecord, said: Mapping[str, str | date]) -> bool:
    """Return whether what was said would do for a patient.

    Parameters
    ----------
    known : OnRecord
        Who the patient is.
    said : mapping
        What was said.

    Returns
    -------
    bool
    """
    try:
        check_identifiers(known, said)
    except ClinicError:
        return False
    return True


def fold_name(name: str) -> str:
    """Return a name as names are compared: ``d'Île-Ørsted`` is ``dile orsted``.

    Parameters
    ----------
    name : str
        Name.

    Returns
    -------
    str
        Letters and digits in words, one blank between them.
    """
    apart = unicodedata.normalize("NFKD", name.casefold().translate(_PLAIN))
    kept = (
        letter if letter.isalnum() else "" if letter in "'’." else " "
        for letter in apart
        if not unicodedata.combining(letter)
    )
    return " ".join("".join(kept).split())


def fold_number(number: str) -> str:
    """Return a record number as numbers are compared: without case and blanks.

    Parameters
    ----------
    number : str
        Number.

    Returns
    -------
    str
    """
    return "".join(number.casefold().split())


def search_text(*, family_name: str, given_name: str, record_no: str, national_no: str) -> str:
    """Return what a patient is searched by: each word of a name after a blank, numbers after #.

    Parameters
    ----------
    family_name, given_name, record_no, national_no : str
        Who the patient is; an empty text is not known.

    Returns
    -------
    str
        Such as ``" shore ada #hc-1 "``; it begins and ends with a blank.
    """
    numbers = [f"#{folded}" for one in (record_no, national_no) if (folded := fold_number(one))]
    return f" {' '.join([fold_name(f'{family_name} {given_name}'), *numbers])} "


def _check_form(name: str, value: str | date) -> None:
    if name not in KIND_OF:
        raise FieldError(
            field=name, wrong="no identifier", allowed=list_allowed(KIND_OF), came=name
        )
    if isinstance(value, date) != (name == "born"):
        allowed = "a date" if name == "born" else "text"
        raise FieldError(field=name, wrong="not of that form", allowed=allowed, came=repr(value))
    if isinstance(value, str) and not value.strip():
        raise FieldError(field=name, wrong="blank", allowed="what was said", came="nothing")


def _fits(known: str | date | None, said: str | date, kind: str) -> bool:
    """Return whether an answer fits; what is not known fits nothing."""
    if not isinstance(known, str) or not isinstance(said, str):
        return known is not None and known == said
    fold = fold_name if kind == NAME else fold_number
    return fold(known) != "" and fold(known) == fold(said)
