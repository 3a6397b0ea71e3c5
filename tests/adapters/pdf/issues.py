"""Invented reports of the record of Harbour Clinic, for what prints them."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone

from ebbline.core.rules.interpretation import Interpretation
from ebbline.services.clinic.report.issue import EarlierVersion, Issue
from tests.adapters import invented

ISLAND_TIME = timezone(timedelta(hours=1))
HASH = "9f2c" * 16
FIRST = EarlierVersion(
    version=1,
    status="signed",
    at=datetime(2026, 11, 24, 13, 2, tzinfo=UTC),
    signer="Dr. Nell Harrow",
    reason="",
    digest="ab12" * 16,
)


def rows(*lines: tuple[str, ...]) -> str:
    """Return rows as a fact holds them."""
    return "\n".join("\t".join(cells) for cells in lines)


FACTS = {
    "patient": "Ben Shore",
    "born": "1984-05-02",
    "sex": "male",
    "record_no": "HC-004417",
    "national_no": "INV 943 476",
    "referrer": "Dr. P. Marlowe, Harbour Clinic",
    "copy_to": "Dr. S. Amari, Quay Surgery",
    "requested": "2026-10-30",
    "indication": "Bloating after milk for two years",
    "medicines": "none",
    "dose_arithmetic": "1 g/kg × 71 kg = 71 g, limit 25 g reached",
    "drunk": "all",
    "t0_defined_as": "end of the drink",
    "site": "Room 2",
    "operator": "R. Tamsin, K. Dune",
    "method": "electrochemical cells",
    "check_today": "passed at 08:05 by R. Tamsin",
    "check_gas": "lot G-118, 100 ppm H2, C-88",
    "bowel_preparation": "none for 4 weeks",
    "surgery": "no",
    "preparation_items": rows(
        ("Medicines as prescribed", "yes", ""),
        ("Antibiotics, 4 weeks", "no", ""),
        ("Bowel wash-out, 4 weeks", "no", ""),
        ("Laxatives, 1 week", "no", ""),
        ("White diet the day before", "yes", ""),
        ("Fasting 8 to 12 hours", "12 h", ""),
        ("No smoking that day", "yes", ""),
        ("Teeth brushed", "no", "went ahead after a rinse, K. Dune: brushed the night before"),
    ),
    "baselines": rows(
        ("B1", "08:31", "H2 22 ppm, CH4 4 ppm", "not used: before the rinse"),
        ("B2", "08:46", "H2 6 ppm, CH4 3 ppm", "used"),
    ),
    "baseline_used": "B2, the last: B1 fell after rinsing; K. Dune",
    "baseline_effect": "with B1 alone: carbohydrate malabsorption negative",
    "events": "08:33 rinsed\n10:20 walked to the window",
    "sample_age": "not stored",
    "earlier_tests": "2025-03-02 glucose: criterion not met",
}

DRAFT = Issue(
    test_number=42,
    version=1,
    status="draft",
    reason="",
    comment="",
    stopped="",
    author="R. Tamsin",
    signer="",
    role="",
    at=datetime(2026, 11, 24, 13, 2, tzinfo=ISLAND_TIME),
    head_seq=1042,
    head_hash=HASH,
    earlier=(),
    contact=("Harbour Clinic, 3 Quay Street", "telephone 555 0142, weekdays 8 to 16"),
)
SIGNED = replace(
    DRAFT,
    status="signed",
    signer="Dr. Nell Harrow",
    role="reviewer",
    at=datetime(2026, 11, 24, 15, 2, tzinfo=ISLAND_TIME),
)
AMENDED = replace(
    SIGNED,
    version=2,
    status="amended",
    reason="the referrer's name was wrong",
    comment="Next step, where local policy allows one: a trial without lactose.",
    stopped="after 120 min of 180: two samples past the criterion; K. Dune",
    earlier=(FIRST,),
)


def with_facts(interpretation: Interpretation, facts: Mapping[str, str]) -> Interpretation:
    """Return the same test with some facts changed."""
    test = interpretation.test
    return replace(interpretation, test=replace(test, facts={**test.facts, **facts}))


def adult() -> Interpretation:
    """Return the plain lactose test as the record tells it, where no baseline changes it."""
    plain = {key: value for key, value in FACTS.items() if key != "baseline_effect"}
    told = with_facts(invented.lactose(), plain)
    return replace(told, test=replace(told.test, weight_kg=71.0, age_years=42.0))


def child() -> Interpretation:
    """Return a child's test with a missed sample and many deviations."""
    item = "From Tuesday 27 October: no antibiotics, and nothing else that a doctor did not give"
    why = (
        "went ahead, Dr. Nell Harrow: the course ended 26 days before, the parents cannot come "
        "again this year, and the referrer was told on the telephone"
    )
    facts = {
        **FACTS,
        "patient": "Wren Shingle",
        "born": "2019-02-11",
        "sex": "female",
        "preparation_items": rows(
            *((f"{item} ({n})", "yes, until 1 November", why) for n in range(1, 11)),
            ("Fasting 8 hours", "9 h", ""),
        ),
        "events": "\n".join(f"{9 + n}:05 cried, calm after {n + 2} min" for n in range(4)),
    }
    told = with_facts(invented.with_a_missed_sample(), facts)
    return replace(told, test=replace(told.test, weight_kg=21.4, age_years=7.8))
