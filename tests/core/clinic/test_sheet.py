import re
from datetime import datetime
from zoneinfo import ZoneInfo

import pytest

from ebbline.core.clinic.preparation import plan_preparation
from ebbline.core.clinic.preparation_item import SERVICE
from ebbline.core.clinic.sheet import Sheet, preparation_sheet, sheet_text
from ebbline.core.errors import FieldError
from tests.core.clinic.prepared_rows import PREPARATION, SUBSTRATES

AT = datetime(2026, 11, 27, 9, 0, tzinfo=ZoneInfo("Europe/London"))
GUIDANCES = ("north-american-2017", "european-2022", SERVICE)


def a_sheet(
    *,
    substrate: str = "lactose",
    guidance: str = "north-american-2017",
    age: float = 40.0,
    service: str = "Harbour Clinic",
    contact: str = "the desk, 00000 000000",
    invented: bool = True,
) -> Sheet:
    """Return the sheet of an invented patient of the invented Harbour Clinic."""
    planned = plan_preparation(
        appointment=AT,
        substrate=substrate,
        guidance=guidance,
        age_years=age,
        table=PREPARATION,
    )
    return preparation_sheet(
        planned,
        substrate=substrate,
        plain=substrate,
        service=service,
        contact=contact,
        for_child=age < 16,
        invented=invented,
        table=PREPARATION,
    )


def test_the_sheet_is_in_order_of_time() -> None:
    """At once, weeks, days, hours, the day."""
    assert [section.heading for section in a_sheet().sections] == [
        "As soon as you get this sheet",
        "4 weeks before",
        "1 week before",
        "2 days before",
        "The day before",
        "The last hours",
        "On the day",
    ]


def test_two_lengths_of_weeks_stand_apart() -> None:
    """The European report asks 4 weeks for one and 2 for another."""
    headings = [section.heading for section in a_sheet(guidance="european-2022").sections]
    assert headings[1:4] == ["4 weeks before", "2 weeks before", "1 week before"]


def test_the_sheet_holds_every_item_once_with_real_dates() -> None:
    """Each planned line is there, and no place was left open."""
    sheet = a_sheet()
    lines = [line for section in sheet.sections for line in section.lines]
    assert len(lines) == len({row.id for row in PREPARATION.items})
    text = sheet_text(sheet)
    assert "From Friday 30 October: no antibiotics." in text
    assert "On Thursday 26 November, eat plain food" in text
    assert "Your test is on Friday 27 November at 09:00, at Harbour Clinic." in text
    assert not re.search(r"[{}]", text)


@pytest.mark.parametrize("substrate", SUBSTRATES)
def test_every_sheet_says_not_to_stop_medicines_and_to_call_with_diabetes(substrate: str) -> None:
    """The cautions stand first, for every substrate."""
    sheet = a_sheet(substrate=substrate)
    assert sheet.cautions[0].startswith("Do not stop a medicine that a doctor gave you")
    assert "diabetes" in sheet.cautions[1]
    assert "Call us" in sheet.contact
    assert "the desk, 00000 000000" in sheet.contact
    text = sheet_text(sheet)
    assert text.index("Do not stop") < text.index("As soon as you get this sheet")


@pytest.mark.parametrize(
    ("word", "substrates"),
    [
        ("hereditary fructose intolerance", {"fructose", "sucrose", "sorbitol", "lactulose"}),
        ("galactosaemia", {"lactose", "lactulose"}),
    ],
)
def test_a_sheet_names_the_illness_that_forbids_the_drink(word: str, substrates: set[str]) -> None:
    """Source: GeneReviews NBK333439 for fructose; EFSA Journal 2010;8(9):1777 for lactose."""
    shown = {
        substrate
        for substrate in SUBSTRATES
        if any(word in caution for caution in a_sheet(substrate=substrate).cautions)
    }
    assert shown == substrates
    text = sheet_text(a_sheet(substrate=min(substrates)))
    assert "do not take this test. Call us." in text


def test_an_invented_sheet_says_so_first_and_a_real_one_does_not() -> None:
    """Demo data is marked."""
    assert sheet_text(a_sheet()).startswith("INVENTED")
    real = a_sheet(invented=False)
    assert real.mark is None
    assert "INVENTED" not in sheet_text(real)


def test_a_sheet_for_a_child_says_who_you_is() -> None:
    """The parent reads it."""
    assert any("your child" in line for line in a_sheet(age=6.0).intro)
    assert len(a_sheet().intro) == 1


def test_the_text_holds_every_part_once() -> None:
    """Parts are set apart by one blank line; the last line ends."""
    sheet = a_sheet()
    text = sheet_text(sheet)
    parts = text.split("\n\n")
    assert parts[:3] == [sheet.mark, sheet.title, sheet.intro[0]]
    assert parts[3].splitlines()[0] == "Read this first"
    assert [part.splitlines()[0] for part in parts[4:-1]] == [
        section.heading for section in sheet.sections
    ]
    assert parts[-1] == f"{sheet.contact}\n"


@pytest.mark.parametrize(("service", "contact"), [(" ", "the desk"), ("Harbour Clinic", "")])
def test_a_sheet_without_a_service_or_a_way_to_reach_it_is_refused(
    service: str, contact: str
) -> None:
    """A patient must be able to call."""
    field, came = ("service", "' '") if not service.strip() else ("contact", "''")
    with pytest.raises(FieldError) as caught:
        a_sheet(service=service, contact=contact)
    assert str(caught.value) == f"{field}: blank; allowed: a text; came: {came}"


def test_a_sheet_without_items_is_refused() -> None:
    """An empty sheet would read as nothing to do."""
    with pytest.raises(FieldError) as caught:
        preparation_sheet(
            (),
            substrate="lactose",
            plain="lactose",
            service="Harbour Clinic",
            contact="the desk",
            for_child=False,
            invented=True,
            table=PREPARATION,
        )
    assert str(caught.value) == (
        "planned: nothing to prepare; allowed: at least one item; came: none"
    )


def lines_of(sheet: Sheet) -> list[str]:
    """Return the sentences of a sheet, without its headings, which are too short to count."""
    lines = [line for section in sheet.sections for line in section.lines]
    return [*sheet.intro, *sheet.cautions, *lines, sheet.contact]


def syllables(word: str) -> int:
    """Count groups of vowels, without a silent e at the end; at least one."""
    word = re.sub(r"[^a-z]", "", word.lower())
    count = len(re.findall(r"[aeiouy]+", word))
    if re.search(r"[^aeiouyl]e$", word) or re.search(r"[^aeiouytd]ed$", word):
        count -= 1
    return max(count, 1)


def grade(text: str) -> float:
    """Return the Flesch-Kincaid grade: 0.39 words a sentence + 11.8 syllables a word − 15.59.

    Source: Kincaid JP, Fishburne RP, Rogers RL, Chissom BS. Research Branch Report 8-75, 1975; the
    formula as public pages print it. Only full sentences count: a colon ends none.
    """
    words = re.findall(r"[A-Za-z]+(?:'[a-z]+)?|\d[\d:]*", text)
    sentences = [one for one in re.split(r"[.?!](?:\s|$)", text) if re.search(r"[A-Za-z]", one)]
    count = sum(syllables(word) if word[0].isalpha() else 1 for word in words)
    return 0.39 * len(words) / len(sentences) + 11.8 * count / len(words) - 15.59


def test_the_reading_grade_is_that_of_a_published_example() -> None:
    """24 syllables in 13 words are grade 11.3, in the encyclopaedia's article on the formula."""
    sentence = "The Australian platypus is seemingly a hybrid of a mammal and reptilian creature."
    assert sum(syllables(word) for word in sentence.split()) == 24
    assert grade(sentence) == pytest.approx(11.3, abs=0.05)


@pytest.mark.parametrize("substrate", SUBSTRATES)
@pytest.mark.parametrize("guidance", GUIDANCES)
@pytest.mark.parametrize("age", [0.5, 6.0, 40.0])
def test_a_child_of_twelve_can_read_the_sheet(substrate: str, guidance: str, age: float) -> None:
    """Grade 6 is read at 11 to 12 years; the number of the pattern, common practice, no source."""
    lines = lines_of(a_sheet(substrate=substrate, guidance=guidance, age=age))
    assert grade(" ".join(lines)) <= 6.0


def test_no_line_of_the_sheet_is_hard_by_itself() -> None:
    """Easy lines must not hide a hard one; names of illnesses are the hard words."""
    assert max(grade(line) for line in lines_of(a_sheet(substrate="lactulose"))) <= 8.0
