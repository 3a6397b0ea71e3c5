"""Every element that the report of a record has a place for.

Elements of an ISO 15189 report as listed by national adoptions of the older edition; common
practice, no source for the rest.
"""

from dataclasses import dataclass, replace

import pytest

from ebbline.adapters.pdf.report import write_report
from ebbline.core.curve.breath_test import Setback
from tests.adapters import invented
from tests.adapters.pdf.issues import AMENDED, DRAFT, adult, with_facts
from tests.adapters.pdf.test_report import pages, structure


@dataclass(frozen=True)
class Element:
    """One element: how it reads where it is known, and where it is not.

    ``blank`` is what deliberately stands there when nothing is known; None where the element is
    always known, as it is made by the software itself, or is left out when there is none.
    """

    number: int
    name: str
    known: tuple[str, ...]
    blank: str | None = None


SIGNED = "signed by Dr. Nell Harrow, reviewer, on 2026-11-24 15:02 UTC+01:00"
QUESTIONS = "Questions about this report: Harbour Clinic, 3 Quay Street, telephone 555 0142"
ELEMENTS = (
    # Identity.
    Element(1, "service", ("Harbour Clinic, Breath Test Room, 3 Quay Street", QUESTIONS)),
    Element(2, "title", ("Hydrogen and methane breath test",)),
    Element(3, "number of the report", ("Report 42-2, version 2 · HC-2026-0117",)),
    Element(4, "version and status",
            ("amended, version 2, replaces version 1: the referrer's name was wrong",)),
    Element(5, "page of pages", ("Page 1 of 2", "Page 2 of 2")),
    Element(6, "patient", ("Patient Ben Shore",), "Patient not recorded"),
    Element(7, "born and age", ("Born 1984-05-02 Age 42 years",),
            "Born not recorded Age not recorded"),
    Element(8, "sex", ("Sex male",), "Sex not recorded"),
    Element(9, "identifiers", ("Record no. HC-004417 National no. INV 943 476",),
            "Record no. not recorded National no. not recorded"),
    Element(10, "referrer and copies",
            ("Referrer Dr. P. Marlowe, Harbour Clinic Copy to Dr. S. Amari, Quay Surgery",),
            "Referrer not recorded Copy to not recorded"),
    Element(11, "indication", ("Indication Bloating after milk for two years",),
            "Indication not recorded"),
    Element(12, "date of the request", ("Requested 2026-10-30",), "Requested not recorded"),
    # Test.
    Element(13, "what was tested", ("breath hydrogen and methane to 180 min.",)),
    Element(14, "substrate", ("Drink Lactose 25 g",)),
    Element(15, "dose", ("Dose 1 g/kg × 71 kg = 71 g, limit 25 g reached", "Weight 71 kg"),
            "Dose not recorded"),
    Element(16, "volume", ("25 g in 250 ml",)),
    Element(17, "lot and expiry", ("Lot L-5520 Expiry 2027-06",),
            "Lot not recorded Expiry not recorded"),
    Element(18, "protocol", ("Protocol lactose-adult, version 3",)),
    Element(19, "criterion and source",
            ("Criterion: North American Consensus 2017, version 1, Rezaie A et al.",)),
    Element(20, "date", ("Date 2026-11-24",)),
    Element(21, "minute 0", ("Minute 0 at 08:53 Minute 0 is end of the drink",),
            "Minute 0 at not recorded"),
    Element(22, "site or kit", ("Site Room 2, home kit no. 88-1",), "Site not recorded"),
    Element(23, "operators", ("Operators R. Tamsin, K. Dune",), "Operators not recorded"),
    Element(24, "analyser",
            (("Analyser Analyser 1, serial 0231 Method electrochemical cells Calibrated 2026-11-17 "
             "Check that day passed at 08:05 by R. Tamsin"),),
            "Analyser not recorded Method not recorded Calibrated not recorded Check that day not "
            "recorded"),
    Element(25, "check gas", ("Check gas lot G-118",), "Check gas not recorded"),
    # Validity.
    Element(26, "preparation line by line",
            ("Medicines as prescribed yes Antibiotics, 4 weeks no Bowel wash-out, 4 weeks no",),
            "Preparation Not recorded."),
    Element(27, "deviations and decisions",
            ("Teeth brushed no: went ahead after a rinse, K. Dune: brushed the night before",)),
    Element(28, "fasting", ("Fasting 12 h",), "Fasting not recorded"),
    Element(29, "medicines, antibiotics, bowel preparation",
            ("Medicines none", "Antibiotics none for 4 weeks Bowel prep. none for 4 weeks"),
            "Antibiotics not recorded Bowel prep. not recorded"),
    Element(30, "baselines",
            (("B1 08:31 H2 22 ppm, CH4 4 ppm not used: before the rinse B2 08:46 H2 6 ppm, CH4 3 "
             "ppm used"), "Baseline used B2, the last: B1 fell after rinsing; K. Dune"),
            "Baseline used not recorded"),
    Element(31, "quality of the samples",
            ("10 samples counted, 1 missed, 1 repeated.", "H2 raw H2 norm.",
             "the raw value stands")),
    Element(32, "missed, repeated, late",
            ("Missed 165 min (slept)", "Repeated 29 min (coughed)",
             "Off their time 70 min, 5 min late")),
    Element(33, "events", ("Events 08:33 rinsed; 10:20 walked to the window",),
            "Events none recorded"),
    Element(34, "early stop",
            ("Stopped early after 120 min of 180: two samples past the criterion; K. Dune",),
            "Stopped early no"),
    Element(35, "age of stored samples", ("Stored samples not stored",),
            "Stored samples not recorded"),
    # Results.
    Element(36, "table",
            ("90 10:23 90 28 28 1.7 4 4 0.8 14.8 0.87 accepted bloating 4, pain 1",)),
    Element(37, "curve", ("drink finished", "H₂ baseline 6 + 20 = 26 ppm")),
    Element(38, "peak, rise, first crossing",
            ("Hydrogen 6 44 at 150 min 38 at 150 min", "Methane 3 6 at 121 min 3 at 121 min",
             "28 − 6 = 22 ppm at 90 min")),
    Element(39, "symptoms by time, and whether provoked",
            ("121 10:54 120 37", "bloating 5, pain 1", "Symptoms provoked: positive"),
            "Symptoms were not scored."),
    Element(40, "earlier results", ("Earlier tests 2025-03-02 glucose: criterion not met",),
            "Earlier tests not recorded"),
    # Interpretation.
    Element(41, "criterion with its numbers",
            ("Carbohydrate malabsorption met 28 − 6 = 22 ppm at 90 min; at least 20 asked",)),
    Element(42, "finding in words",
            ("Carbohydrate malabsorption: positive, criterion met.",)),
    Element(43, "symptoms apart", ("Symptoms, apart from the gases Bloating: 0 at first",)),
    Element(44, "what may mislead",
            ("To keep in mind with this result", "Surgery no", "Mouth rinse before"),
            "Surgery not recorded"),
    Element(45, "limits and uncertainty",
            ("u is the standard uncertainty of what counts", "Chance, given the noise > 0.99",
             "relative standard uncertainty of 0.02")),
    Element(46, "next step, where local policy allows",
            ("Comment of the reviewer Next step, where local policy allows one: a trial",)),
    # Release.
    Element(47, "who answers for it",
            (("Author R. Tamsin Reviewer Dr. Nell Harrow Role reviewer Signed 2026-11-24 15:02 "
             "UTC+01:00"), SIGNED),
            "Reviewer not signed"),
    Element(48, "cautions and contact",
            ("Cautions A criterion that is met is not a diagnosis", QUESTIONS)),
)  # fmt: skip


@pytest.fixture(scope="module")
def full() -> str:
    """The text of a report of which everything is known."""
    told = with_facts(adult(), {"kit_no": "88-1"})
    late = replace(told.samples[5], planned_minute=70.0)
    drawn = replace(
        told,
        samples=(*told.samples[:5], late, *told.samples[6:]),
        not_counted=(
            Setback(29.0, 30.0, "repeat", 5.0, 3.0, "coughed", {}),
            Setback(165.0, 165.0, "missed", None, None, "slept", {}),
        ),
    )
    text = " ".join(pages(write_report(drawn, paper="a4", issue=AMENDED)))
    # The chance is set as a bar and its number; the question stands between it and its head.
    return text.replace(
        "Chance, given the noise Carbohydrate malabsorption met 28 − 6 = 22 ppm at 90 min; at "
        "least 20 asked > 0.99",
        "Carbohydrate malabsorption met 28 − 6 = 22 ppm at 90 min; at least 20 asked "
        "Chance, given the noise > 0.99",
    )


@pytest.fixture(scope="module")
def bare() -> str:
    """The text of a draft of which next to nothing is known."""
    issue = replace(DRAFT, contact=())
    return " ".join(pages(write_report(invented.hydrogen_only(), paper="a4", issue=issue)))


def test_there_are_48_elements() -> None:
    """Each with its number."""
    assert [one.number for one in ELEMENTS] == list(range(1, 49))


@pytest.mark.parametrize("element", ELEMENTS, ids=lambda one: f"{one.number} {one.name}")
def test_an_element_that_is_known_is_printed(full: str, element: Element) -> None:
    """In the words and the order of the page."""
    for text in element.known:
        assert text in full


@pytest.mark.parametrize(
    "element",
    [one for one in ELEMENTS if one.blank is not None],
    ids=lambda one: f"{one.number} {one.name}",
)
def test_an_element_that_is_not_known_says_so(full: str, bare: str, element: Element) -> None:
    """Nothing is left to be written in by hand, and nothing known is said of it."""
    assert element.blank is not None
    assert element.blank in bare
    assert element.blank not in full
    assert not all(text in bare for text in element.known)


def test_the_curve_is_read_aloud() -> None:
    """The chart has a description for those who do not see it."""
    found = structure(write_report(adult(), paper="a4", issue=AMENDED))
    (alt,) = [alt for kind, alt in found if kind == "/Figure"]
    assert alt
