"""Two identifiers of different kinds, and both fit: else it may be another patient."""

from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ebbline.core.clinic.identify import (
    OnRecord,
    check_identifiers,
    fold_name,
    fold_number,
    search_text,
)
from ebbline.core.errors import ClinicError, EbblineError, FieldError

ADA = OnRecord("d'Île-Ørsted", "Zoë", date(1985, 3, 2), "HC 0001", "")
BORN = date(1985, 3, 2)


@pytest.mark.parametrize(
    ("said", "checked"),
    [
        ({"family_name": "DILE ORSTED", "born": BORN}, ("family_name", "born")),
        ({"born": BORN, "family_name": "d’île-ørsted"}, ("family_name", "born")),
        (
            {"record_no": "hc0001", "given_name": " zoe "},
            ("given_name", "record_no"),
        ),
        ({"record_no": "HC 0001", "born": BORN}, ("born", "record_no")),
    ],
)
def test_what_fits_is_returned_in_one_order(
    said: dict[str, str | date], checked: tuple[str, ...]
) -> None:
    """Case, accents and marks do not count, nor do blanks in a number."""
    assert check_identifiers(ADA, said) == checked


@pytest.mark.parametrize(
    ("said", "error", "text"),
    [
        (
            {"family_name": "Ile Orsted", "born": BORN},
            ClinicError,
            (
                "family_name: not what is on record for this patient; allowed: the patient of this "
                "test, and nobody else; came: Ile Orsted"
            ),
        ),
        (
            {"family_name": "dile orsted", "born": date(1985, 2, 3)},
            ClinicError,
            (
                "born: not what is on record for this patient; allowed: the patient of this test, "
                "and nobody else; came: 1985-02-03"
            ),
        ),
        (
            {"national_no": "7", "born": BORN},
            ClinicError,
            (
                "national_no: not what is on record for this patient; allowed: the patient of this "
                "test, and nobody else; came: 7"
            ),
        ),
        (
            {},
            ClinicError,
            (
                "identity: not enough identifiers; allowed: two or more of name, date of birth, "
                "record number or national number; came: none"
            ),
        ),
        (
            {"family_name": "dile orsted", "given_name": "Zoe"},
            ClinicError,
            (
                "identity: not enough identifiers; allowed: two or more of name, date of birth, "
                "record number or national number; came: name"
            ),
        ),
        (
            {"room": "2", "born": BORN},
            FieldError,
            (
                "room: no identifier; allowed: family_name, given_name, born, record_no or "
                "national_no; came: room"
            ),
        ),
        (
            {"born": "1985-03-02", "record_no": "HC 0001"},
            FieldError,
            "born: not of that form; allowed: a date; came: '1985-03-02'",
        ),
        (
            {"born": BORN, "record_no": BORN},
            FieldError,
            "record_no: not of that form; allowed: text; came: datetime.date(1985, 3, 2)",
        ),
        (
            {"born": BORN, "record_no": " "},
            FieldError,
            "record_no: blank; allowed: what was said; came: nothing",
        ),
    ],
)
def test_what_does_not_fit_is_refused(
    said: dict[str, str | date], error: type[EbblineError], text: str
) -> None:
    """The refusal never tells what is on record."""
    with pytest.raises(error) as caught:
        check_identifiers(ADA, said)
    assert str(caught.value) == text


def test_what_is_not_known_fits_nothing() -> None:
    """An erased name is not fitted by a name of marks alone, nor a missing date by any."""
    erased = OnRecord("", "", None, "", "")
    with pytest.raises(ClinicError, match="family_name: not what is on record"):
        check_identifiers(erased, {"family_name": "-", "record_no": "HC 0001"})
    with pytest.raises(ClinicError, match="born: not what is on record"):
        check_identifiers(replace(ADA, born=None), {"born": BORN, "record_no": "HC0001"})


@pytest.mark.parametrize(
    ("name", "folded"),
    [
        ("Straße", "strasse"),
        ("Łódź", "lodz"),
        ("Ægir Œuvre", "aegir oeuvre"),
        ("O'Shore", "oshore"),
        ("  Van  der\tQuay ", "van der quay"),
        ("Ñandú", "nandu"),
        ("Þór", "thor"),
        ("山田", "山田"),
    ],
)
def test_names_are_folded_by_hand_made_examples(name: str, folded: str) -> None:
    """Accents are taken off, letters of other scripts stay."""
    assert fold_name(name) == folded


@given(st.text())
def test_folding_twice_is_folding_once(name: str) -> None:
    """A folded name is compared with a folded name."""
    assert fold_name(fold_name(name)) == fold_name(name)


def test_numbers_keep_their_marks() -> None:
    """HC-1 and HC1 may be two patients."""
    assert fold_number(" hc - 1\u00a0") == "hc-1"
    assert fold_number("HC1") != fold_number("HC-1")


@pytest.mark.parametrize(
    ("person", "text"),
    [
        (("Shore", "Ada", "HC-1", "INV 943"), " shore ada #hc-1 #inv943 "),
        (("d'Île-Ørsted", "", "hc 2", ""), " dile orsted #hc2 "),
        (("Shore", "", "", ""), " shore "),
    ],
)
def test_a_patient_is_searched_by_folded_words_and_numbers(
    person: tuple[str, str, str, str], text: str
) -> None:
    """Each stands between blanks, so that a whole one can be asked for."""
    family_name, given_name, record_no, national_no = person
    assert (
        search_text(
            family_name=family_name,
            given_name=given_name,
            record_no=record_no,
            national_no=national_no,
        )
        == text
    )
