from dataclasses import replace

import pytest

from ebbline.adapters.pdf.methods import methods_paragraph
from ebbline.core.breath.noise import Noise
from ebbline.core.rules.interpretation import Interpretation
from tests.adapters.pdf.issues import with_facts


def test_every_setting_that_ran_is_in_the_paragraph(glucose: Interpretation) -> None:
    """Noise, references, limits, baseline, tolerance, rule sets and engine, each with its value."""
    text = methods_paragraph(glucose)
    for part in (
        "a = 0.8 ppm and b = 0.05",
        "uncertainty of 0.02 (source: analyser sheet of Harbour Clinic, invented)",
        "O2 (room 20.9 %, u = 0.05; alveolar 13.9 %, u = 0.5; sample u = 0.1 %)",
        "from 0.8 the raw value stands, below 0.5 or within 5 standard uncertainties",
        "The baseline is the mean of the readings at minute 0 or before.",
        "at most 3 min late",
        "Criterion: North American Consensus 2017, version 1, Rezaie A et al.",
        "For comparison: Kerlin and Wong 1988, version 1; Rome Consensus 2009, version 1, not ",
        "Computed by ebbline 0.1.0.",
    ):
        assert part in text


def test_the_paragraph_follows_the_settings(glucose: Interpretation) -> None:
    """Other settings give other words: nothing is written by heart."""
    settings = replace(
        glucose.settings,
        noise=Noise(ppm=1.25, fraction=0.08, gain_fraction=0.0),
        dilution=replace(glucose.settings.dilution, markers=()),
        baseline="lowest",
        minute_tolerance=0.0,
    )
    text = methods_paragraph(replace(glucose, settings=settings))
    assert "a = 1.25 ppm and b = 0.08" in text
    assert "Readings were taken as they are, without a marker gas." in text
    assert "The baseline is the lowest reading at minute 0 or before." in text
    assert "A sample after a by-minute does not count for it." in text
    assert "O2" not in text


def test_a_transit_is_told_with_its_definition(with_a_missed_sample: Interpretation) -> None:
    """Different definitions give different transits."""
    text = methods_paragraph(with_a_missed_sample)
    assert "Transit is defined as rise of 10 ppm or more in two samples." in text


def test_a_test_without_marker_gas_says_so(glucose: Interpretation) -> None:
    """References that no sample was judged by are not told."""
    samples = tuple(replace(sample, o2_pct=None, co2_pct=None) for sample in glucose.samples)
    text = methods_paragraph(replace(glucose, samples=samples))
    assert "Readings were taken as they are, without a marker gas." in text


@pytest.mark.parametrize("defined", ["start of the drink", "the start of the drink"])
def test_minute_0_is_what_the_protocol_says(glucose: Interpretation, defined: str) -> None:
    """A record knows it; a file does not, and the end of the drink is then meant."""
    assert "Minutes count from the end of the drink;" in methods_paragraph(glucose)
    told = with_facts(glucose, {"t0_defined_as": defined})
    assert "Minutes count from the start of the drink;" in methods_paragraph(told)
