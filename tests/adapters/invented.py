"""Invented tests of Harbour Clinic, interpreted by hand, for what draws and prints them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from ebbline.core.breath.dilution import Marker
from ebbline.core.breath.noise import Noise
from ebbline.core.breath.reading import Dilution, read_sample
from ebbline.core.curve.breath_test import BreathTest, Setback, Try
from ebbline.core.curve.chance import MEAN
from ebbline.core.curve.measures import Measures, measure
from ebbline.core.rules.codes import Finding, Result
from ebbline.core.rules.interpretation import (
    FindingResult,
    Interpretation,
    InterpretedSample,
    RuleSetUsed,
    Settings,
    StatementResult,
    Transit,
)

NOISE = Noise(ppm=0.8, fraction=0.05, gain_fraction=0.02)
O2 = Marker(
    gas="o2",
    ambient_pct=20.9,
    u_ambient_pct=0.05,
    alveolar_pct=13.9,
    u_alveolar_pct=0.5,
    u_sample_pct=0.1,
    correlation=0.0,
)
DILUTION = Dilution(
    markers=(O2,),
    ambient_h2_ppm=0.0,
    ambient_ch4_ppm=0.0,
    u_ambient_ppm=0.3,
    accept_fraction=0.8,
    refuse_fraction=0.5,
    smallest_span_in_u=5.0,
)
SETTINGS = Settings(
    noise=NOISE,
    noise_source="analyser sheet of Harbour Clinic, invented",
    dilution=DILUTION,
    baseline="mean",
    minute_tolerance=3.0,
)
CONSENSUS = RuleSetUsed(
    id="north-american-2017",
    version="1",
    title="North American Consensus 2017",
    source="Rezaie A et al. Am J Gastroenterol 2017;112:775-784",
    checked=True,
    adopted=True,
)
ROME = RuleSetUsed(
    id="rome-2009",
    version="1",
    title="Rome Consensus 2009",
    source="Gasbarrini A et al. Aliment Pharmacol Ther 2009;29(Suppl 1):1-49",
    checked=False,
    adopted=False,
)
KERLIN = RuleSetUsed(
    id="kerlin-wong-1988",
    version="1",
    title="Kerlin and Wong 1988",
    source="Kerlin P, Wong L. Gastroenterology 1988;95:982-988",
    checked=True,
    adopted=False,
)
CAUTIONS = (
    "A criterion that is met is not a diagnosis; the clinician decides with the whole history.",
    "A test that does not meet a criterion does not exclude disease.",
    "Results after lactulose and glucose also depend on transit and on earlier surgery.",
)


@dataclass(frozen=True)
class Row:
    """One reading: actual minute, H2, CH4, O2, planned minute, symptoms and the operator's note."""

    minute: float
    h2_ppm: float
    ch4_ppm: float | None = None
    o2_pct: float | None = None
    planned_minute: float | None = None
    symptoms: Mapping[str, float] = field(default_factory=dict)
    note: str = ""


def interpreted(row: Row, dilution: Dilution = DILUTION) -> InterpretedSample:
    """Return a row as the core reads it."""
    reading = read_sample(
        h2_ppm=row.h2_ppm,
        ch4_ppm=row.ch4_ppm,
        o2_pct=row.o2_pct,
        co2_pct=None,
        noise=NOISE,
        dilution=dilution,
    )
    return InterpretedSample(
        minute=row.minute,
        planned_minute=row.planned_minute,
        h2_ppm=reading.h2,
        ch4_ppm=reading.ch4,
        o2_pct=row.o2_pct,
        co2_pct=None,
        alveolar_fraction=reading.alveolar_fraction,
        quality=reading.quality,
        notes=(*reading.notes, *([row.note] if row.note else [])),
        symptoms=row.symptoms,
    )


def measures_of(samples: Sequence[InterpretedSample]) -> dict[str, Measures]:
    """Return the measures of each gas that was measured."""
    minute = np.array([s.minute for s in samples])
    h2 = np.array([np.nan if s.h2_ppm.value_ppm is None else s.h2_ppm.value_ppm for s in samples])
    found = {"h2_ppm": measure(minute, h2, MEAN)}
    methane = [s.ch4_ppm.value_ppm if s.ch4_ppm is not None else None for s in samples]
    if any(value is not None for value in methane):
        ch4 = np.array([np.nan if value is None else value for value in methane])
        found["ch4_ppm"] = measure(minute, ch4, MEAN)
        found["h2_plus_2ch4_ppm"] = measure(minute, h2 + 2.0 * ch4, MEAN)
    return found


def statement(
    used: RuleSetUsed,
    question: str,
    gas: str,
    result: Result,
    because: str,
    *,
    threshold: float,
    value: float | None,
    measure: str = "rise over baseline",
    by_minute: float | None = None,
    first_minute: float | None = None,
    chance: float | None = 0.5,
    unit: Literal["ppm", "points"] = "ppm",
    comparison: Literal["at least", "more than"] = "at least",
) -> StatementResult:
    """Return one judged row."""
    return StatementResult(
        rule_set=used.id,
        statement=f"{gas}-{question}",
        question=question,
        gas=gas,
        measure=measure,
        result=result,
        value=value,
        threshold=threshold,
        unit=unit,
        comparison=comparison,
        by_minute=by_minute,
        first_minute=first_minute,
        chance=chance,
        because=because,
        undecided=False,
        late=False,
        checked=used.checked,
        source=used.source,
    )


def finding(
    used: RuleSetUsed, question: str, word: Finding, because: str, *caveats: str
) -> FindingResult:
    """Return one finding."""
    return FindingResult(
        rule_set=used.id, question=question, finding=word, because=because, caveats=caveats
    )


def interpretation(
    *,
    id: str,  # noqa: A002
    substrate: str,
    dose_g: float,
    facts: Mapping[str, str],
    samples: Sequence[InterpretedSample],
    statements: Sequence[StatementResult],
    findings: Sequence[FindingResult],
    rule_sets: Sequence[RuleSetUsed],
    not_counted: Sequence[Setback] = (),
    disagreements: Sequence[str] = (),
    transit: Transit | None = None,
    settings: Settings = SETTINGS,
) -> Interpretation:
    """Return a whole interpretation; the recorded tries follow from the samples."""
    tries = tuple(
        Try(
            minute=s.minute,
            planned_minute=s.planned_minute,
            status="ok",
            h2_ppm=s.h2_ppm.raw_ppm,
            ch4_ppm=s.ch4_ppm.raw_ppm if s.ch4_ppm is not None else None,
            o2_pct=s.o2_pct,
            co2_pct=s.co2_pct,
            note="",
            symptoms=s.symptoms,
            row=0,
        )
        for s in samples
    )
    return Interpretation(
        engine="ebbline 0.1.0",
        id=id,
        test=BreathTest(
            file=f"{id}.csv",
            substrate=substrate,
            dose_g=dose_g,
            weight_kg=None,
            age_years=None,
            protocol=f"{substrate}-adult, version 3",
            tries=tries,
            facts=facts,
        ),
        settings=settings,
        rule_sets=tuple(rule_sets),
        samples=tuple(samples),
        not_counted=tuple(not_counted),
        measures=measures_of(samples),
        transit=transit,
        statements=tuple(statements),
        findings=tuple(findings),
        disagreements=tuple(disagreements),
        cautions=CAUTIONS,
    )


HEAD = {
    "invented": "yes",
    "service": "Harbour Clinic, Breath Test Room, 3 Quay Street",
    "patient": "Juno Okafor-Lindqvist",
    "born": "1984-05-02",
    "sex": "female",
    "record_no": "HC-004417",
    "referrer": "Dr. P. Marlowe, Harbour Clinic",
    "indication": "Bloating after milk for two years",
    "date": "2026-11-24",
    "started": "08:53",
    "site": "Room 2",
    "operator": "R. Tamsin",
    "analyser": "Analyser 1, serial 0231",
    "calibrated": "2026-11-17",
    "check_gas": "lot G-118",
    "lot": "L-5520",
    "expiry": "2027-06",
    "volume_ml": "250",
    "fasting_h": "12",
    "preparation": "white diet the day before, followed",
    "antibiotics": "none for 4 weeks",
    "rinse": "before the first sample",
}

MALABSORPTION = "carbohydrate-malabsorption"
OVERGROWTH = "bacterial-overgrowth"
METHANOGENS = "methanogen-overgrowth"
PROVOKED = "symptoms-provoked"


def lactose() -> Interpretation:
    """Return a plain lactose test: ten samples on uneven minutes, all accepted."""
    rows = [
        (0, 6, 3, 14.6, 0), (15, 5, 3, 14.4, 0), (31, 7, 3, 14.9, 0), (45, 9, 4, 14.2, 0),
        (62, 14, 4, 14.7, 1), (75, 21, 5, 14.5, 2), (90, 28, 4, 14.8, 4), (121, 37, 6, 14.1, 5),
        (150, 44, 6, 14.3, 5), (180, 41, 5, 14.6, 3),
    ]  # fmt: skip
    samples = [
        interpreted(Row(m, h2, ch4, o2, 15 * round(m / 15), {"bloating": b, "pain": b // 3}))
        for m, h2, ch4, o2, b in rows
    ]
    because = "28 − 6 = 22 ppm at 90 min; at least 20 asked"
    return interpretation(
        id="HC-2026-0117",
        substrate="lactose",
        dose_g=25.0,
        facts=HEAD,
        samples=samples,
        rule_sets=(CONSENSUS, ROME),
        statements=(
            statement(CONSENSUS, MALABSORPTION, "h2", "met", because, threshold=20.0, value=22.0,
                      by_minute=180.0, first_minute=90.0, chance=0.998),
            statement(CONSENSUS, METHANOGENS, "ch4", "not met",
                      "6 ppm at most, at 121 min; at least 10 asked", threshold=10.0, value=6.0,
                      measure="level", chance=0.001),
            statement(CONSENSUS, PROVOKED, "symptoms", "met",
                      "bloating 5 − 0 = 5 points at 121 min; at least 2 asked", threshold=2.0,
                      value=5.0, measure="level", unit="points", chance=None),
            statement(ROME, MALABSORPTION, "h2", "met",
                      "28 − 6 = 22 ppm at 90 min; more than 20 asked", threshold=20.0, value=22.0,
                      by_minute=240.0, first_minute=90.0, chance=0.99, comparison="more than"),
        ),
        findings=(
            finding(CONSENSUS, MALABSORPTION, "positive", because),
            finding(CONSENSUS, METHANOGENS, "negative", "6 ppm at most; at least 10 asked"),
            finding(CONSENSUS, PROVOKED, "positive", "bloating rose by 5 points"),
            finding(ROME, MALABSORPTION, "positive", because,
                    "Readings end at 180 min; the rule set asks for 240 min."),
        ),
    )  # fmt: skip


def glucose() -> Interpretation:
    """Return a glucose test with scaled and refused readings, a repeat and symptoms."""
    rows = [
        Row(-10, 8, 12, 14.2, -10, {"bloating": 1, "pain": 0, "nausea": 0}),
        Row(0, 7, 12, 14.6, 0, {"bloating": 1, "pain": 0, "nausea": 0}),
        Row(15, 7, 8, 16.4, 15, {"bloating": 1, "pain": 0, "nausea": 1}, "coughed"),
        Row(30, 16, 13, 14.8, 30, {"bloating": 2, "pain": 1, "nausea": 1}),
        Row(46, 11, 8, 16.9, 45, {"bloating": 3, "pain": 1, "nausea": 2}),
        Row(60, 3, 4, 19.4, 60, {"bloating": 4, "pain": 2, "nausea": 0}, "bag leaked"),
        Row(77, 27, 14, 14.5, 75, {"bloating": 6, "pain": 3, "nausea": 0}),
        Row(90, 25, 13, 14.9, 90, {"bloating": 7, "pain": 3, "nausea": 0}),
        Row(105, 17, 9, 15.9, 105, {"bloating": 6, "pain": 2, "nausea": 0}),
        Row(120, 17, 12, 14.3, 120, {"bloating": 4, "pain": 1, "nausea": 0}),
    ]
    because = "27 − 7.5 = 19.5 ppm at most, at 77 min; at least 20 by 90 min asked"
    return interpretation(
        id="HC-2026-0118",
        substrate="glucose",
        dose_g=75.0,
        facts={
            **HEAD,
            "patient": "Ivo Brandt",
            "born": "1961-01-30",
            "sex": "male",
            "record_no": "HC-003902",
            "indication": "Bloating and loose stools, 14 months",
            "surgery": "Billroth II, 2009",
            "medicines": "omeprazole 20 mg, continued",
            "copy_to": "Dr. S. Amari",
            "bowel_preparation": "none for 4 weeks",
            "events": "coughed at 15 min",
            "author": "R. Tamsin",
        },
        samples=[interpreted(row) for row in rows],
        not_counted=(
            Setback(28.0, 30.0, "repeat", 5.0, 4.0, "stopped blowing too soon", {}),
        ),
        rule_sets=(CONSENSUS, KERLIN, ROME),
        statements=(
            statement(CONSENSUS, OVERGROWTH, "h2", "not met", because, threshold=20.0, value=19.5,
                      by_minute=90.0, chance=0.41),
            statement(CONSENSUS, METHANOGENS, "ch4", "met",
                      "12 ppm at −10 min; at least 10 asked", threshold=10.0, value=12.0,
                      measure="level", first_minute=-10.0, chance=0.97),
            statement(KERLIN, OVERGROWTH, "h2", "met",
                      "27 − 7.5 = 19.5 ppm at 77 min; at least 12 by 120 min asked",
                      threshold=12.0, value=19.5, by_minute=120.0, first_minute=77.0, chance=0.99),
            statement(ROME, OVERGROWTH, "h2", "met",
                      "27 − 7.5 = 19.5 ppm at 77 min; at least 12 asked", threshold=12.0,
                      value=19.5, by_minute=120.0, first_minute=77.0, chance=0.99),
        ),
        findings=(
            finding(CONSENSUS, OVERGROWTH, "negative", because,
                    "The highest rise is within the measurement uncertainty of the threshold.",
                    "The sample at 60 min was refused, so a rise there could not be seen."),
            finding(CONSENSUS, METHANOGENS, "positive", "12 ppm at −10 min; at least 10 asked"),
            finding(KERLIN, OVERGROWTH, "positive", "19.5 ppm at 77 min",
                    "Published for 50 g of glucose; 75 g was given."),
            finding(ROME, OVERGROWTH, "positive", "19.5 ppm at 77 min"),
        ),
        disagreements=(
            "Small-intestinal bacterial overgrowth: not met by the adopted set, met by two others.",
        ),
    )  # fmt: skip


def hydrogen_only() -> Interpretation:
    """Return a fructose test without methane or marker gases, with an almost empty head."""
    rows = [(0, 4), (30, 6), (60, 11), (90, 13), (120, 12), (150, 9), (180, 7)]
    because = "13 − 4 = 9 ppm at most, at 90 min; at least 20 asked"
    return interpretation(
        id="HC-2026-0119",
        substrate="fructose",
        dose_g=25.0,
        facts={"invented": "yes", "service": "Harbour Clinic", "date": "2026-11-24"},
        samples=[interpreted(Row(m, h2)) for m, h2 in rows],
        rule_sets=(CONSENSUS,),
        statements=(
            statement(CONSENSUS, MALABSORPTION, "h2", "not met", because, threshold=20.0,
                      value=9.0, by_minute=180.0, chance=0.0),
        ),
        findings=(
            finding(CONSENSUS, MALABSORPTION, "negative", because,
                    "Methane was not measured: a rise in methane alone would not be seen."),
        ),
    )  # fmt: skip


def with_a_missed_sample() -> Interpretation:
    """Return a lactulose test whose sample at 60 min was missed."""
    rows = [
        (0, 3, 2, 0), (15, 4, 2, 0), (30, 6, 2, 0), (46, 15, 3, 1),
        (75, 31, 3, 2), (92, 38, 4, 4), (105, 52, 4, 4), (120, 61, 5, 3),
    ]  # fmt: skip
    because = "31 − 3 = 28 ppm at 75 min; at least 20 by 90 min asked"
    return interpretation(
        id="HC-2026-0120",
        substrate="lactulose",
        dose_g=10.0,
        facts={**HEAD, "patient": "Mara Feld", "events": "left the room at 55 min"},
        samples=[
            interpreted(Row(m, h2, ch4, 14.5, 15 * round(m / 15), {"flatulence": f}))
            for m, h2, ch4, f in rows
        ],
        not_counted=(Setback(60.0, 60.0, "missed", None, None, "patient was out of the room", {}),),
        rule_sets=(CONSENSUS, KERLIN),
        statements=(
            statement(CONSENSUS, OVERGROWTH, "h2", "met", because, threshold=20.0, value=28.0,
                      by_minute=90.0, first_minute=75.0, chance=1.0),
            statement(CONSENSUS, METHANOGENS, "ch4", "not met",
                      "5 ppm at most, at 120 min; at least 10 asked", threshold=10.0, value=5.0,
                      measure="level", chance=0.0),
        ),
        findings=(
            finding(CONSENSUS, OVERGROWTH, "positive", because,
                    "A rise by 90 min after lactulose can come from fast transit."),
            finding(CONSENSUS, METHANOGENS, "negative", "5 ppm at most; at least 10 asked"),
        ),
        transit=Transit("rise of 10 ppm or more in two samples", 30.0, 46.0),
    )  # fmt: skip


def long() -> Interpretation:
    """Return a test with so many samples and notes that its report needs two pages."""
    base = glucose()
    samples = [
        interpreted(
            Row(
                10.0 * i, 5 + 2 * i, 3, 14.0, 10.0 * i, {"bloating": i % 4, "pain": i % 3},
                f"sample {i}: patient was asked to sit still and to breathe quietly before it",
            )
        )
        for i in range(25)
    ]  # fmt: skip
    return replace(
        base,
        id="HC-2026-0121",
        samples=tuple(samples),
        measures=measures_of(samples),
        disagreements=base.disagreements * 3,
    )


def real(made_up: Interpretation) -> Interpretation:
    """Return the same test without the mark that its data are invented."""
    facts = {key: value for key, value in made_up.test.facts.items() if key != "invented"}
    return replace(made_up, test=replace(made_up.test, facts=facts))


EXAMPLES = {
    "lactose": lactose,
    "glucose": glucose,
    "hydrogen_only": hydrogen_only,
    "with_a_missed_sample": with_a_missed_sample,
    "long": long,
}
