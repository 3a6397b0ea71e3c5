"""The chart in words, for readers who do not see it."""

from ebbline.adapters.chart.criteria import criteria
from ebbline.adapters.chart.slots import (
    Series,
    missed_minutes,
    series_of,
    symptoms_scored,
)
from ebbline.adapters.chart.wording import drink, gas_name, number, sentence_list, tenths
from ebbline.core.rules.interpretation import Interpretation

_MARKS = {
    "h2": "solid line with filled circles",
    "ch4": "dashed line with open diamonds",
}


def chart_title(interpretation: Interpretation) -> str:
    """Return the name of the chart, ``Breath gases after lactose 25 g``."""
    text = drink(interpretation)
    title = f"Breath gases after {text[:1].lower()}{text[1:]}"
    return f"Invented data. {title}" if interpretation.test.invented else title


def describe_chart(interpretation: Interpretation) -> str:
    """Return everything that the chart shows, as sentences.

    Parameters
    ----------
    interpretation : Interpretation
        The test.

    Returns
    -------
    str
        Every value that counts with its actual minute, the raw values of what was scaled, what
        does not count, the window, the thresholds and the symptom scores.
    """
    gases = [series_of(interpretation, gas) for gas in ("h2", "ch4")]
    title = chart_title(interpretation)
    sentences = [f"{title}, in ppm against minutes from the end of the drink."]
    for one in gases:
        sentences += _series(one)
    if not gases[1].points and not gases[1].crosses:
        sentences.append("Methane was not measured.")
    missed = [f"{number(minute)} min" for minute in missed_minutes(interpretation)]
    if missed:
        sentences.append(f"Missed: {sentence_list(missed)}; the line is open there.")
    asked = criteria(interpretation)
    if asked is not None:
        if asked.by_minute is not None:
            sentences.append(
                f"The window of {asked.title} is shaded, 0 to {number(asked.by_minute)} min."
            )
        sentences += [f"Dotted line: {line.arithmetic}." for line in asked.thresholds]
    for name in symptoms_scored(interpretation):
        scores = [
            f"{number(s.symptoms[name])} at {number(s.minute)} min"
            for s in interpretation.samples
            if name in s.symptoms
        ]
        sentences.append(f"{name[:1].upper()}{name[1:]}, 0 to 10: {sentence_list(scores)}.")
    return " ".join(sentences)


def _series(one: Series) -> list[str]:
    """Return the sentences about one gas."""
    name = gas_name(one.gas)
    name = name[:1].upper() + name[1:]
    sentences = []
    if one.points:
        values = [f"{tenths(p.value_ppm)} at {number(p.minute)} min" for p in one.points]
        sentences.append(f"{name}, {_MARKS[one.gas]}: {sentence_list(values)}.")
    scaled = [f"{number(p.raw_ppm)} at {number(p.minute)} min" for p in one.points if p.normalised]
    if scaled:
        sentences.append(f"Raw {gas_name(one.gas)} before normalising: {sentence_list(scaled)}.")
    crosses = [f"{number(c.raw_ppm)} at {number(c.minute)} min ({c.why})" for c in one.crosses]
    if crosses:
        sentences.append(f"{name} that does not count: {sentence_list(crosses)}.")
    return sentences
