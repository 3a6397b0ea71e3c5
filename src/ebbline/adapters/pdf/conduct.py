"""How a test of the record was prepared and run: what its validity rests on."""

from ebbline.adapters.chart.wording import number, words
from ebbline.adapters.pdf.facts import Field, in_one_line, rows_of
from ebbline.core.curve.breath_test import Setback
from ebbline.core.rules.interpretation import Interpretation, InterpretedSample

NONE = "none"
# Letters of a value that fits beside another one.
_SHORT = 14


def preparation_rows(interpretation: Interpretation) -> list[list[str]]:
    """Return the preparation line by line: item, answer, and any decision with who and why."""
    return rows_of(interpretation.test.facts.get("preparation_items", ""), 3)


def baseline_rows(interpretation: Interpretation) -> list[list[str]]:
    """Return the fasting readings: label, clock time, values, and whether it was used."""
    return rows_of(interpretation.test.facts.get("baselines", ""), 4)


def conduct_lines(interpretation: Interpretation, *, stopped: str) -> list[list[Field]]:
    """Return what happened from the first breath to the last; two short fields share a line.

    Parameters
    ----------
    interpretation : Interpretation
        The test.
    stopped : str
        Why it was stopped early; empty where it was not.

    Returns
    -------
    list of list of dict
        Lines of ``label`` and ``value``; a value is empty where nothing was recorded.
    """
    facts = interpretation.test.facts
    told = {
        "baseline_used": facts.get("baseline_used", ""),
        "baseline_effect": facts.get("baseline_effect", ""),
        "missed": _setbacks(interpretation, "missed"),
        "repeated": _setbacks(interpretation, "repeat", "replaced"),
        "stopped": stopped or "no",
        "sample_age": facts.get("sample_age", ""),
        "off_time": _off_time(interpretation),
        "events": in_one_line(facts.get("events", "")) or "none recorded",
        "earlier_tests": in_one_line(facts.get("earlier_tests", "")),
    }
    labels: dict[str, str] = words()["conduct"]
    # With one fasting sample there is no other baseline to speak of.
    if not told["baseline_effect"]:
        del told["baseline_effect"]
    return _paired([{"label": labels[key], "value": value} for key, value in told.items()])


def _paired(fields: list[Field]) -> list[list[Field]]:
    lines: list[list[Field]] = []
    for one in fields:
        beside = lines[-1] if lines else []
        if len(beside) == 1 and all(len(each["value"]) <= _SHORT for each in (*beside, one)):
            beside.append(one)
        else:
            lines.append([one])
    return lines


def _setbacks(interpretation: Interpretation, *reasons: str) -> str:
    found = [slot for slot in interpretation.not_counted if slot.reason in reasons]
    return "; ".join(_with_note(slot) for slot in found) or NONE


def _with_note(slot: Setback) -> str:
    note = f" ({slot.note})" if slot.note else ""
    return f"{number(slot.minute)} min{note}"


def _off_time(interpretation: Interpretation) -> str:
    """Return the samples that were later or earlier than planned by more than the tolerance."""
    allowed = interpretation.settings.minute_tolerance
    told = [_by_how_much(one) for one in interpretation.samples if _off(one) > allowed]
    return "; ".join(told) or f"{NONE} by more than {number(allowed)} min"


def _off(sample: InterpretedSample) -> float:
    # Fasting samples have no time of their own: they are taken before the drink.
    if sample.planned_minute is None or sample.minute <= 0.0:
        return 0.0
    return abs(sample.minute - sample.planned_minute)


def _by_how_much(sample: InterpretedSample) -> str:
    planned = sample.planned_minute
    assert planned is not None
    word = "late" if sample.minute > planned else "early"
    return f"{number(planned)} min, {number(_off(sample))} min {word}"
