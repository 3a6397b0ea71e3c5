"""The methods paragraph, written from the settings that ran and from nothing else."""

from ebbline.adapters.chart.wording import number, sentence_list
from ebbline.adapters.pdf.facts import T0
from ebbline.core.breath.dilution import Marker
from ebbline.core.breath.noise import Noise
from ebbline.core.rules.interpretation import Interpretation, RuleSetUsed, Settings

_BASELINE = {
    "mean": "the mean of the readings at minute 0 or before",
    "last": "the last reading at minute 0 or before",
    "lowest": "the lowest reading at minute 0 or before",
}


def methods_paragraph(interpretation: Interpretation) -> str:
    """Return how the numbers of a report were made, as one paragraph.

    Parameters
    ----------
    interpretation : Interpretation
        The result with the settings, rule sets and engine that made it.

    Returns
    -------
    str
        Noise and its source, dilution references and limits, baseline rule, minute tolerance,
        rule sets with version, the criterion's source, transit definition and engine version.
    """
    settings = interpretation.settings
    sentences = [
        f"Minutes count from {_minute_0(interpretation)}; the actual minute decides.",
        _noise(settings.noise, settings.noise_source),
        _dilution(interpretation),
        f"The baseline is {_BASELINE[settings.baseline]}.",
        _tolerance(settings),
        "No value is interpolated.",
        "Chance: probability that a statement is met, given the measurement uncertainty, no prior.",
    ]
    if interpretation.transit is not None:
        sentences.append(f"Transit is defined as {interpretation.transit.definition}.")
    sentences += _rule_sets(interpretation.rule_sets)
    sentences.append(f"Computed by {interpretation.engine}.")
    return " ".join(sentences)


def _minute_0(interpretation: Interpretation) -> str:
    """Return what minute 0 is, with the article that its definition is written without."""
    defined = interpretation.test.facts.get("t0_defined_as") or T0
    return defined if defined.startswith("the ") else f"the {defined}"


def _noise(noise: Noise, source: str) -> str:
    return (
        f"A reading C scatters by sqrt(a² + (b C)²) with a = {number(noise.ppm)} ppm and b = "
        f"{number(noise.fraction)}; the gain, shared by all readings of a test, has a relative "
        f"standard uncertainty of {number(noise.gain_fraction)} (source: {source})."
    )


def _dilution(interpretation: Interpretation) -> str:
    dilution = interpretation.settings.dilution
    samples = interpretation.samples
    measured = {
        "o2": any(sample.o2_pct is not None for sample in samples),
        "co2": any(sample.co2_pct is not None for sample in samples),
    }
    used = [marker for marker in dilution.markers if measured[marker.gas]]
    if not used:
        return "Readings were taken as they are, without a marker gas."
    markers = sentence_list([_marker(marker) for marker in used])
    if len(used) > 1:
        markers += ", the first that a sample has"
    return (
        f"Alveolar fraction by {markers}; from "
        f"{number(dilution.accept_fraction)} the raw value stands, below "
        f"{number(dilution.refuse_fraction)} or within {number(dilution.smallest_span_in_u)} "
        "standard uncertainties of room air the sample is refused, between them it is normalised "
        f"to full alveolar fraction, with {number(dilution.ambient_h2_ppm)} ppm H2 and "
        f"{number(dilution.ambient_ch4_ppm)} ppm CH4 (u = {number(dilution.u_ambient_ppm)} ppm) "
        "in the room."
    )


def _marker(marker: Marker) -> str:
    return (
        f"{marker.gas.upper()} (room {number(marker.ambient_pct)} %, u = "
        f"{number(marker.u_ambient_pct)}; alveolar {number(marker.alveolar_pct)} %, u = "
        f"{number(marker.u_alveolar_pct)}; sample u = {number(marker.u_sample_pct)} %)"
    )


def _tolerance(settings: Settings) -> str:
    if settings.minute_tolerance == 0.0:
        return "A sample after a by-minute does not count for it."
    return (
        f"A sample counts for a by-minute when it is at most {number(settings.minute_tolerance)} "
        "min late."
    )


def _rule_sets(rule_sets: tuple[RuleSetUsed, ...]) -> list[str]:
    """Return the criterion with its document, and what it was compared with by title."""
    sentences = [
        f"Criterion: {used.title}, version {used.version}, {used.source}."
        for used in rule_sets
        if used.adopted
    ]
    others = [_compared(used) for used in rule_sets if not used.adopted]
    if others:
        sentences.append(f"For comparison: {'; '.join(others)}.")
    return sentences


def _compared(used: RuleSetUsed) -> str:
    unchecked = ", not checked against the paper" if not used.checked else ""
    return f"{used.title}, version {used.version}{unchecked}"
