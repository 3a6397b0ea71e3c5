import io
import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import pikepdf
import pypdf
import pytest

from ebbline.adapters.chart.describe import describe_chart
from ebbline.adapters.pdf.issued import status_line
from ebbline.adapters.pdf.report import write_report
from ebbline.core.errors import ReportError
from ebbline.core.rules.interpretation import Interpretation
from ebbline.services.ports import Paper
from tests.adapters import invented
from tests.adapters.pdf import issues

PAPERS: tuple[Paper, ...] = ("a4", "us-letter")
TOP = Path(__file__).resolve().parents[3]


def pages(pdf: bytes) -> list[str]:
    """Return the text of each page, with line ends as spaces."""
    found = pypdf.PdfReader(io.BytesIO(pdf)).pages
    return [re.sub(r"\s+", " ", page.extract_text()) for page in found]


def text(interpretation: Interpretation) -> str:
    """Return the text of the whole report."""
    return " ".join(pages(write_report(interpretation, paper="a4")))


def with_facts(interpretation: Interpretation, facts: dict[str, str]) -> Interpretation:
    """Return the same test with some head lines changed."""
    test = interpretation.test
    return replace(interpretation, test=replace(test, facts={**test.facts, **facts}))


def structure(pdf: bytes) -> list[tuple[str, str | None]]:
    """Return every structure element in reading order: its type and its alternative text."""
    found: list[tuple[str, str | None]] = []

    def walk(node: Any) -> None:
        if isinstance(node, pikepdf.Array):
            for child in node:
                walk(child)
        elif isinstance(node, pikepdf.Dictionary) and "/S" in node:
            found.append((str(node["/S"]), str(node["/Alt"]) if "/Alt" in node else None))
            if "/K" in node:
                walk(node["/K"])

    with pikepdf.open(io.BytesIO(pdf)) as document:
        walk(document.Root["/StructTreeRoot"]["/K"])
    return found


@pytest.mark.parametrize("paper", PAPERS)
def test_a_plain_test_is_one_page(lactose: Interpretation, paper: Paper) -> None:
    """Ten samples and four statements stay together on either paper, with the id on the page."""
    found = pages(write_report(lactose, paper=paper))
    assert len(found) == 1
    assert "Page 1 of 1" in found[0]
    assert "Report HC-2026-0117 · draft, not signed" in found[0]


@pytest.mark.parametrize(
    ("paper", "width", "height"), [("a4", 595.3, 841.9), ("us-letter", 612.0, 792.0)]
)
def test_the_paper_is_the_one_asked_for(
    lactose: Interpretation, paper: Paper, width: float, height: float
) -> None:
    """A page that fits the printer is not scaled."""
    box = pypdf.PdfReader(io.BytesIO(write_report(lactose, paper=paper))).pages[0].mediabox
    assert float(box.width) == pytest.approx(width, abs=0.1)
    assert float(box.height) == pytest.approx(height, abs=0.1)


def test_the_document_has_a_title_a_language_an_author_and_a_date(
    lactose: Interpretation,
) -> None:
    """A reader's window shows the title, and a screen reader knows the language."""
    pdf = write_report(lactose, paper="a4")
    reader = pypdf.PdfReader(io.BytesIO(pdf))
    assert reader.metadata is not None
    assert reader.metadata.title == "Hydrogen and methane breath test, HC-2026-0117"
    assert reader.metadata.author == "Harbour Clinic, Breath Test Room, 3 Quay Street"
    assert reader.metadata.creation_date is not None
    assert reader.metadata.creation_date.strftime("%Y-%m-%d") == "2026-11-24"
    with pikepdf.open(io.BytesIO(pdf)) as document:
        assert str(document.Root["/Lang"]) == "en"
        assert document.Root["/ViewerPreferences"]["/DisplayDocTitle"]
        assert document.Root["/MarkInfo"]["/Marked"]


def test_the_document_names_the_standards_it_was_made_for(lactose: Interpretation) -> None:
    """PDF/UA-1 and PDF/A-2a; nowhere does it say that anybody certified it."""
    pdf = write_report(lactose, paper="a4")
    with pikepdf.open(io.BytesIO(pdf)) as document:
        metadata = document.Root["/Metadata"].read_bytes().decode()
    assert re.search(r"pdfuaid:part>1<", metadata)
    assert re.search(r"pdfaid:part>2<", metadata)
    assert re.search(r"pdfaid:conformance>A<", metadata)
    assert "certif" not in (metadata + text(lactose)).lower()


def test_the_structure_has_headings_tables_with_headers_and_a_described_chart(
    glucose: Interpretation,
) -> None:
    """A screen reader finds its way without seeing the page."""
    found = structure(write_report(glucose, paper="a4"))
    kinds = [kind for kind, _ in found]
    assert kinds.count("/H1") >= 6
    assert kinds.count("/Table") == 4
    assert kinds.count("/THead") == 4
    assert kinds.count("/TH") >= 4 + 4 + 8
    figures = [alt for kind, alt in found if kind == "/Figure"]
    assert figures == [describe_chart(glucose)]


def test_the_referrer_reads_first_what_was_tested_found_and_valid(
    lactose: Interpretation,
) -> None:
    """Question by question, in the guideline's word and what it means."""
    found = text(lactose)
    lines = [
        "Lactose 25 g in 250 ml; breath hydrogen and methane to 180 min.",
        "Carbohydrate malabsorption: positive, criterion met.",
        "Intestinal methanogen overgrowth: negative, criterion not met.",
        "Valid test. 10 samples counted.",
        "Patient Juno Okafor-Lindqvist",
    ]
    places = [found.index(line) for line in lines]
    assert places == sorted(places)


def test_findings_carry_arithmetic_and_chance(glucose: Interpretation) -> None:
    """The verdict is the guideline's; the chance stands beside it."""
    found = text(glucose)
    assert "Criterion: North American Consensus 2017" in found
    assert "27 − 7.5 = 19.5 ppm at most, at 77 min; at least 20 by 90 min asked 0.41" in found
    assert "Rule sets differ. Small-intestinal bacterial overgrowth" in found


def test_comparisons_are_secondary_and_say_what_nobody_checked(glucose: Interpretation) -> None:
    """A row from memory is marked on its own line."""
    found = text(glucose)
    start = found.index("For comparison only, not the finding of this report")
    assert found.index("Criterion: North American Consensus 2017") < start
    rome, kerlin = (
        f"{title} met 27 − 7.5 = 19.5 ppm at 77 min; at least 12 {rest}"
        for title, rest in (
            ("Rome Consensus 2009", "asked; not checked against the paper 0.99"),
            ("Kerlin and Wong 1988", "by 120 min asked 0.99"),
        )
    )
    assert rome in found[start:]
    assert kerlin in found[start:]


def test_raw_and_normalised_stand_side_by_side(glucose: Interpretation) -> None:
    """The sample at 46 min: raw 11 and 8 ppm, normalised 19.2 and 14.0 ppm."""
    assert re.search(r"46 45 11 19\.2 \d\.\d 8 14\.0 \d\.\d 16\.9 0\.57 normalised", text(glucose))


def test_rows_that_do_not_count_are_in_the_table(
    glucose: Interpretation, with_a_missed_sample: Interpretation
) -> None:
    """A repeated, a refused and a missed sample each stand at their minute with the reason."""
    assert "28 30 5 4 to be repeated stopped blowing too soon" in text(glucose)
    assert re.search(r"60 60 3 4 19\.4 0\.21 refused .*bag leaked", text(glucose))
    assert "60 60 missed patient was out of the room" in text(with_a_missed_sample)


def test_columns_that_nobody_filled_are_left_out(hydrogen_only: Interpretation) -> None:
    """Without methane or a marker gas there is nothing to head."""
    found = text(hydrogen_only)
    assert "Minute H2 raw u(H2) Quality 0 4 0.8 accepted" in found
    assert "CH4 raw" not in found


def test_symptoms_stand_apart_from_the_gases(lactose: Interpretation) -> None:
    """They are never told in the words of malabsorption."""
    found = text(lactose)
    start = found.index("Symptoms, apart from the gases")
    assert "Bloating: 0 at first, highest 5 at 121 min." in found[start:]
    assert "Symptoms provoked: positive, criterion met" in found[start:]
    assert "Symptoms provoked" not in found[:start]


def test_what_is_missing_is_left_to_be_written(hydrogen_only: Interpretation) -> None:
    """Every label stands there with nothing behind it."""
    found = text(hydrogen_only)
    assert (
        "Patient Born Sex Record no. Weight Referrer Copy to Indication Medicines Surgery" in found
    )
    assert "Author Role Date and time Reviewer Role Date and time" in found


def test_facts_outside_the_layout_are_printed_all_the_same(lactose: Interpretation) -> None:
    """Nothing that the head of a file said is lost."""
    extra = replace(lactose, test=replace(lactose.test, unused={"chair": "4"}))
    assert "Chair 4" in text(extra)
    assert "Kit no 88-1" in text(with_facts(lactose, {"kit_no": "88-1"}))


def test_invented_data_are_marked_on_every_page(long: Interpretation) -> None:
    """In the head of the page and across it."""
    for paper in PAPERS:
        found = pages(write_report(long, paper=paper))
        assert len(found) == 2
        for number, page in enumerate(found, start=1):
            assert page.count("Invented data") >= 2
            assert f"Page {number} of 2" in page
            assert "HC-2026-0121" in page
    assert "Ivo Brandt, 1961-01-30, HC-003902" in found[1]


def test_real_data_are_not_called_invented(long: Interpretation) -> None:
    """The mark is absent from every page, and from what is read aloud."""
    pdf = write_report(invented.real(long), paper="a4")
    assert "nvented data" not in " ".join(pages(pdf))
    assert not any("nvented" in (alt or "") for _, alt in structure(pdf))


HOSTILE = [
    '#import "x"',
    "*bold* _it_ $x$ `raw` @ref <label> = head",
    "<script>alert(1)</script>",
    '#eval("1+1") \\ // "',
    "{{ x }} %s %n ${y}",
]


@pytest.mark.parametrize("hostile", HOSTILE)
def test_hostile_text_prints_as_text(lactose: Interpretation, hostile: str) -> None:
    """A name, a note, a caveat or a title of a rule set can hold anything."""
    sample = replace(lactose.samples[0], notes=(f"N {hostile}",))
    finding = replace(lactose.findings[0], caveats=(f"C {hostile}",))
    titles = tuple(replace(used, title=f"T {hostile}") for used in lactose.rule_sets)
    attacked = replace(
        with_facts(lactose, {"patient": f"P {hostile}", "service": f"S {hostile}"}),
        samples=(sample, *lactose.samples[1:]),
        findings=(finding, *lactose.findings[1:]),
        rule_sets=titles,
    )
    found = re.sub(r"\s", "", text(attacked))
    for place in "PSNCT":
        assert re.sub(r"\s", "", f"{place} {hostile}") in found


def test_letters_without_a_glyph_are_printed_by_number(lactose: Interpretation) -> None:
    """A name in a script that no font here holds does not stop the report."""
    found = text(with_facts(lactose, {"patient": "李 Жук", "referrer": "Dr. \U0001f600"}))
    assert "Patient U+674E Жук" in found
    assert "Referrer Dr. U+1F600" in found


def test_control_and_direction_marks_cannot_rewrite_a_line(lactose: Interpretation) -> None:
    """They are printed by number; line ends become spaces."""
    found = text(with_facts(lactose, {"patient": "a\x07b\u202ec\nd"}))
    assert "Patient aU+0007bU+202Ec d" in found


def test_a_very_long_word_stays_in_its_field(lactose: Interpretation) -> None:
    """It is broken over lines, and no letter of it is lost."""
    found = re.sub(r"\s", "", text(with_facts(lactose, {"indication": "w" * 300})))
    assert "w" * 300 in found


def test_the_same_test_gives_the_same_bytes(lactose: Interpretation) -> None:
    """In this process, in another one, and whatever was written between."""
    first = write_report(lactose, paper="a4")
    write_report(invented.glucose(), paper="us-letter")
    assert write_report(lactose, paper="a4") == first
    code = (
        "import sys, hashlib\n"
        f"sys.path[:0] = [{str(TOP)!r}, {str(TOP / 'src')!r}]\n"
        "from tests.adapters.invented import lactose\n"
        "from ebbline.adapters.pdf.report import write_report\n"
        "sys.stdout.buffer.write(write_report(lactose(), paper='a4'))\n"
    )
    other = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True)
    assert other.stdout == first


def test_a_test_without_a_date_has_a_fixed_document_date(lactose: Interpretation) -> None:
    """The clock of the computer goes into no report."""
    pdf = write_report(with_facts(lactose, {"date": "last Tuesday"}), paper="a4")
    metadata = pypdf.PdfReader(io.BytesIO(pdf)).metadata
    assert metadata is not None
    assert metadata.creation_date is not None
    assert metadata.creation_date.strftime("%Y-%m-%d") == "2000-01-01"


def test_a_chart_that_is_no_picture_is_refused_in_our_words(
    lactose: Interpretation, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The message says what was wrong, what is allowed and what came."""
    monkeypatch.setattr("ebbline.adapters.pdf.report.to_svg", lambda spec: "no picture")
    with pytest.raises(
        ReportError,
        match=r"^the report cannot be set; allowed: text that can be printed; came: .*SVG",
    ):
        write_report(lactose, paper="a4")


@pytest.mark.parametrize("paper", PAPERS)
def test_every_page_of_a_record_tells_number_version_and_status(paper: Paper) -> None:
    """Whichever page is torn off, it says what it belongs to and how far it counts."""
    found = pages(write_report(issues.child(), paper=paper, issue=issues.AMENDED))
    assert len(found) == 2
    for number, page in enumerate(found, start=1):
        assert f"Report 42-2, version 2 · HC-2026-0120 ebbline 0.1.0 Page {number} of 2" in page
        assert status_line(issues.AMENDED) in page


def test_a_plain_test_of_the_record_is_one_page() -> None:
    """The chart gives way to preparation and conduct."""
    assert len(pages(write_report(issues.adult(), paper="a4", issue=issues.SIGNED))) == 1


def test_a_long_reason_stays_on_the_page() -> None:
    """The foot grows with it; nothing is cut."""
    reason = (
        "the weight that the dose was worked out from was read off another patient's line, " * 9
    )
    amended = replace(issues.AMENDED, reason=reason.strip(", "))
    pdf = write_report(issues.adult(), paper="a4", issue=amended)
    for page in pages(pdf):
        assert page.count(status_line(amended)) >= 1


def test_many_deviations_have_the_width_of_the_page() -> None:
    """All ten decisions are there, each beside its item."""
    found = " ".join(pages(write_report(issues.child(), paper="a4", issue=issues.DRAFT)))
    assert "Item Answer Where it was not kept: the decision" in found
    assert found.count("yes, until 1 November went ahead, Dr. Nell Harrow: the course ended") == 10


def test_a_report_of_the_record_keeps_the_standards() -> None:
    """Tagged like the other, with the tables of preparation and baselines; dated by its signing."""
    pdf = write_report(issues.adult(), paper="a4", issue=issues.SIGNED)
    kinds = [kind for kind, _ in structure(pdf)]
    assert kinds.count("/Table") == kinds.count("/THead") == 6
    with pikepdf.open(io.BytesIO(pdf)) as document:
        metadata = document.Root["/Metadata"].read_bytes().decode()
    assert re.search(r"pdfuaid:part>1<", metadata)
    assert re.search(r"pdfaid:conformance>A<", metadata)
    told = pypdf.PdfReader(io.BytesIO(pdf)).metadata
    assert told is not None
    assert told.title == "Hydrogen and methane breath test, report 42-1, version 1"
    assert told.creation_date == issues.SIGNED.at


def test_the_same_issue_gives_the_same_bytes() -> None:
    """A digest that is kept fits what is drawn again."""
    first = write_report(issues.adult(), paper="a4", issue=issues.SIGNED)
    write_report(issues.child(), paper="us-letter", issue=issues.DRAFT)
    assert write_report(issues.adult(), paper="a4", issue=issues.SIGNED) == first


def test_an_issue_that_cannot_be_is_refused() -> None:
    """A signed report has a signer."""
    with pytest.raises(ReportError, match=r"^the report cannot be issued: signed by nobody; "):
        write_report(issues.adult(), paper="a4", issue=replace(issues.SIGNED, signer=""))


@pytest.mark.parametrize("hostile", HOSTILE)
def test_hostile_text_in_an_issue_prints_as_text(hostile: str) -> None:
    """A reason, a comment, a name, an answer or a contact can hold anything."""
    attacked = with_facts(issues.adult(), {"preparation_items": f"P {hostile}\tA {hostile}\tD x"})
    issue = replace(
        issues.AMENDED,
        reason=f"R {hostile}",
        comment=f"C {hostile}",
        signer=f"S {hostile}",
        contact=(f"T {hostile}",),
    )
    pdf = write_report(attacked, paper="a4", issue=issue)
    # A very long word may be broken by a space of no width.
    found = re.sub(r"[\s\u200b]", "", " ".join(pages(pdf)))
    for place in "PARCST":
        assert re.sub(r"\s", "", f"{place} {hostile}") in found


def test_hashes_can_be_copied_whole() -> None:
    """That of the record and that of an earlier version hold no space, not even one unseen."""
    found = " ".join(pages(write_report(issues.adult(), paper="a4", issue=issues.AMENDED)))
    assert f"Record, act 1042: hash {issues.HASH}. Another hash" in found
    assert f"SHA-256 {issues.FIRST.digest} " in found
