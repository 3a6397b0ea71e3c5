import io
import re
from dataclasses import replace
from datetime import UTC, datetime

import pikepdf
import pypdf
import pytest

from ebbline.adapters.pdf.sheet import write_sheet
from ebbline.core.clinic.sheet import Section, Sheet, sheet_text
from ebbline.services.ports import Paper
from tests.adapters.pdf.test_report import PAPERS, pages, structure
from tests.core.clinic.prepared_rows import GUIDANCES, SUBSTRATES
from tests.core.clinic.test_sheet import a_sheet

AT = datetime(2026, 10, 30, tzinfo=UTC)
CONTACT = "the desk of Harbour Clinic, 3 Quay Street, 00000 000000, weekdays 8 to 16"


def longest() -> Sheet:
    """Return the longest of all sheets that the shipped rows give."""
    sheets = [
        a_sheet(substrate=substrate, guidance=guidance, age=age, contact=CONTACT)
        for substrate in SUBSTRATES
        for guidance in GUIDANCES
        for age in (0.5, 8.0, 40.0)
    ]
    return max(sheets, key=lambda sheet: len(sheet_text(sheet)))


def drawn(sheet: Sheet, paper: Paper = "a4") -> bytes:
    """Return a sheet as PDF."""
    return write_sheet(sheet, paper=paper, created=AT)


def text(pdf: bytes) -> str:
    """Return its text without the mark across the page."""
    return " ".join(pages(pdf)).replace("Invented data ", "")


def sizes(pdf: bytes) -> set[float]:
    """Return the sizes of type on the first page, points."""
    found: set[float] = set()

    def note(words: str, _cm: object, _tm: object, _font: object, size: float) -> None:
        if words.strip():
            found.add(round(size, 2))

    pypdf.PdfReader(io.BytesIO(pdf)).pages[0].extract_text(visitor_text=note)
    return found


@pytest.mark.parametrize("paper", PAPERS)
def test_the_longest_sheet_is_one_page_in_large_type(paper: Paper) -> None:
    """Nothing is smaller than 11 points, and no word of it is cut."""
    sheet = longest()
    pdf = drawn(sheet, paper)
    assert len(pages(pdf)) == 1
    assert min(sizes(pdf)) >= 11.0
    words = re.sub(r"^- ", "", sheet_text(sheet), flags=re.MULTILINE)
    assert text(pdf) == re.sub(r"\s+", " ", words).strip()


@pytest.mark.parametrize("paper", PAPERS)
def test_no_line_leaves_the_paper(paper: Paper) -> None:
    """Every piece of text begins between the margins of the page."""
    page = pypdf.PdfReader(io.BytesIO(drawn(longest(), paper))).pages[0]
    width, height = float(page.mediabox.width), float(page.mediabox.height)
    places: list[tuple[float, float]] = []

    def note(words: str, cm: list[float], tm: list[float], _font: object, size: float) -> None:
        if words.strip() and size < 90.0:
            x, y = tm[4], tm[5]
            places.append((cm[0] * x + cm[2] * y + cm[4], cm[1] * x + cm[3] * y + cm[5]))

    page.extract_text(visitor_text=note)
    assert len(places) > 20
    assert all(40.0 < x < width - 40.0 and 30.0 < y < height - 30.0 for x, y in places)


def test_a_short_sheet_has_larger_type() -> None:
    """The room of the page is used."""
    sheet = a_sheet()
    short = replace(sheet, sections=sheet.sections[:2])
    assert min(sizes(drawn(short))) == pytest.approx(14.0)


def test_a_sheet_that_is_too_long_goes_on() -> None:
    """Rather two pages than small type or lost lines."""
    sheet = a_sheet()
    lines = tuple(f"Line {n} of what this invented patient is asked to do." for n in range(80))
    pdf = drawn(replace(sheet, sections=(Section("Much to do", lines),)))
    found = pages(pdf)
    assert len(found) == 2
    assert min(sizes(pdf)) == pytest.approx(11.0)
    assert all(line in " ".join(found) for line in lines)


def test_the_sheet_of_a_real_patient_has_no_mark() -> None:
    """The mark stands in the frame and across the page of an invented one only."""
    assert "INVENTED: this sheet is for nobody. Do not use it." in text(drawn(a_sheet()))
    assert "invented" not in " ".join(pages(drawn(a_sheet(invented=False)))).lower()


def test_a_screen_reader_finds_headings_and_lists() -> None:
    """PDF/UA-1 with a title; a heading for each time, an item for each line."""
    sheet = a_sheet()
    pdf = drawn(sheet)
    kinds = [kind for kind, _ in structure(pdf)]
    assert kinds.count("/H1") == len(sheet.sections) + 1
    assert kinds.count("/LI") == sum(len(section.lines) for section in sheet.sections)
    with pikepdf.open(io.BytesIO(pdf)) as document:
        metadata = document.Root["/Metadata"].read_bytes().decode()
    assert re.search(r"pdfuaid:part>1<", metadata)
    reader = pypdf.PdfReader(io.BytesIO(pdf))
    assert reader.metadata is not None
    assert reader.metadata.title == sheet.title


def test_hostile_text_prints_as_text() -> None:
    """What a person typed is never markup."""
    hostile = '#import "x" *bold* $x$ <label>'
    assert hostile in text(drawn(replace(a_sheet(), contact=hostile)))


def test_the_same_sheet_gives_the_same_bytes() -> None:
    """Its date is the one that was given."""
    assert drawn(a_sheet()) == drawn(a_sheet())
