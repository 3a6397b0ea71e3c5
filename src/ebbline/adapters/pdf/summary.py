"""What a referrer reads first: what was tested, what the rule set says, whether it was valid."""

from collections.abc import Sequence

from ebbline.adapters.chart.slots import symptoms_scored
from ebbline.adapters.chart.wording import (
    adopted,
    count,
    drink,
    number,
    question_title,
    sentence_list,
    words,
)
from ebbline.core.rules.interpretation import FindingResult, Interpretation

SYMPTOMS_QUESTION = "symptoms-provoked"
_SAMPLE = ("sample", "samples")


def tested_line(interpretation: Interpretation) -> str:
    """Return what was drunk, which gases were measured and for how long."""
    gases = ["hydrogen"]
    if any(sample.ch4_ppm is not None for sample in interpretation.samples):
        gases.append("methane")
    text = f"{drink(interpretation)}; breath {sentence_list(gases)}"
    if interpretation.samples:
        text += f" to {number(interpretation.samples[-1].minute)} min"
    return f"{text}."


def finding_lines(interpretation: Interpretation) -> list[dict[str, str]]:
    """Return one line for each question about a gas that the adopted rule set answers."""
    lines = [
        {"question": question_title(found.question), "words": _in_words(found)}
        for found in adopted_findings(interpretation)
        if found.question != SYMPTOMS_QUESTION
    ]
    if lines:
        return lines
    names = [used.title for used in adopted(interpretation)]
    if names:
        said = f"{sentence_list(names)} says nothing about {interpretation.test.substrate}"
    else:
        said = "no rule set is adopted here, so nothing is concluded"
    return [{"question": "No finding", "words": said}]


def validity_line(interpretation: Interpretation) -> str:
    """Return whether the test was valid, and how many samples that rests on."""
    findings = adopted_findings(interpretation)
    spoilt = [found for found in findings if found.finding == "invalid"]
    if spoilt:
        reasons = dict.fromkeys(found.because for found in spoilt)
        whole = len(spoilt) == len(findings)
        asked = sentence_list([question_title(found.question).lower() for found in spoilt])
        start = "Not valid" if whole else f"Not valid for {asked}"
        return f"{start}: {'; '.join(reasons)}. {_samples(interpretation)}"
    judged = [found for found in findings if found.finding != "indeterminate"]
    if findings and not judged:
        return f"Valid only in part: no question can be decided. {_samples(interpretation)}"
    start = "Valid test" if findings else "Validity was not judged"
    return f"{start}. {_samples(interpretation)}"


def symptom_lines(interpretation: Interpretation) -> list[str]:
    """Return what was scored, and apart from the gases what any rule set says of it."""
    lines = []
    for name in symptoms_scored(interpretation):
        scored = [sample for sample in interpretation.samples if name in sample.symptoms]
        top = max(scored, key=lambda sample: sample.symptoms[name])
        score = top.symptoms[name]
        title = name[:1].upper() + name[1:]
        if score == 0.0:
            lines.append(f"{title}: 0 throughout.")
        else:
            first = f"{number(scored[0].symptoms[name])} at first, "
            lines.append(f"{title}: {first}highest {number(score)} at {number(top.minute)} min.")
    titles = {used.id: used.title for used in interpretation.rule_sets}
    for found in interpretation.findings:
        if found.question == SYMPTOMS_QUESTION:
            question = question_title(found.question)
            title = titles.get(found.rule_set, found.rule_set)
            named = "" if title == question else f"{title}: "
            lines.append(f"{question}: {_in_words(found)} ({named}{found.because}).")
    return lines or ["Symptoms were not scored."]


def adopted_findings(interpretation: Interpretation) -> Sequence[FindingResult]:
    """Return the findings of the rule sets that report here."""
    ids = {used.id for used in adopted(interpretation)}
    return [found for found in interpretation.findings if found.rule_set in ids]


def _in_words(found: FindingResult) -> str:
    """Return ``positive, criterion met``: the guideline's word, then what it means."""
    return f"{found.finding}, {words()['finding'][found.finding]}"


def _samples(interpretation: Interpretation) -> str:
    """Return how many samples count and what became of the others."""
    samples = interpretation.samples
    refused = sum(sample.quality == "refused" for sample in samples)
    parts = [f"{count(len(samples) - refused, *_SAMPLE)} counted"]
    scaled = sum(sample.quality == "normalised" for sample in samples)
    if scaled:
        parts.append(f"{scaled} of them normalised")
    if refused:
        parts.append(f"{refused} refused")
    for reason, said in (("missed", "missed"), ("repeat", "repeated"), ("replaced", "replaced")):
        n = sum(slot.reason == reason for slot in interpretation.not_counted)
        if n:
            parts.append(f"{n} {said}")
    return f"{', '.join(parts)}."
