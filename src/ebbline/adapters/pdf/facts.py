"""Who and what was tested: the identity fields of a report, blank where nothing is known."""

from collections.abc import Iterable, Mapping
from types import MappingProxyType
from typing import Any

from ebbline.adapters.chart.wording import drink, number, with_unit, words
from ebbline.core.rules.interpretation import Interpretation

Field = dict[str, str]

T0 = "end of the drink"

RECORD_FACTS: Mapping[str, str] = MappingProxyType(
    {
        "national_no": "second identifier: national or insurance number",
        "requested": "date of the request",
        "kit_no": "number of the home kit",
        "dose_arithmetic": "how the dose was worked out: per weight, limit, limit reached",
        "drunk": "how much was drunk: all or part",
        "t0_defined_as": "what minute 0 is, from the protocol",
        "method": "how the analyser measures",
        "check_today": "the analyser's check of that day: passed or not, when, by whom",
        "surgery_words": "which surgery of the upper gut, and when",
        "preparation_items": "rows: item, answer, decision with who and why (empty where kept)",
        "baselines": "rows: label, clock time, values, whether it was used",
        "baseline_used": "which baseline rises count from, why, and who decided",
        "baseline_effect": "what another baseline would make of the test",
        "sample_age": "how long stored samples waited for the analyser, or: not stored",
        "earlier_tests": "earlier breath tests and their results, one a line",
    }
)
"""Facts that only a record knows. Rows are lines, and their cells are separated by tabs."""

# Told by the methods paragraph from the settings that ran, or by the report's own signatures.
_SETTINGS = frozenset(
    {
        "criterion", "reference", "baseline", "minute_tolerance", "noise_ppm", "noise_fraction",
        "gain_fraction", "ambient_o2_pct", "ambient_h2_ppm", "ambient_ch4_ppm",
        "delimiter", "decimal",
    }
)  # fmt: skip
_ELSEWHERE = frozenset({"service", "author", "reviewer", "invented", "volume_ml"})
_JOINED = frozenset({"t0_defined_as", "surgery_words", "kit_no"})
_IN_SECTIONS = frozenset(
    {
        "preparation_items",
        "baselines",
        "baseline_used",
        "baseline_effect",
        "sample_age",
        "earlier_tests",
        "events",
    }
)


def identity(interpretation: Interpretation) -> list[list[list[Field]]]:
    """Return the columns of identity fields: columns of lines of ``{label, value}``.

    A value is empty where the field is to be filled in by hand. Facts that the layout of
    data/report.toml does not name come last, so that nothing that was given is left out.
    """
    return _columns(interpretation, words()["identity"], _known(interpretation), _ELSEWHERE)


def record_identity(interpretation: Interpretation) -> list[list[list[Field]]]:
    """Return the same for a test of the record, which knows more and prints some of it elsewhere.

    Nothing of a signed report is filled in by hand, so an empty value is told as not recorded.
    """
    known = _known(interpretation)
    if known.get("t0_defined_as"):
        known["minute_0"] = known["t0_defined_as"]
    surgery = [known.get(key, "") for key in ("surgery", "surgery_words")]
    known["surgery"] = ", ".join(text for text in surgery if text)
    if known.get("kit_no"):
        site = [known.get("site", ""), f"home kit no. {known['kit_no']}"]
        known["site"] = ", ".join(text for text in site if text)
    elsewhere = _ELSEWHERE | _SETTINGS | _IN_SECTIONS | _JOINED
    return _columns(interpretation, words()["record_identity"], known, elsewhere)


def rows_of(fact: str, cells: int) -> list[list[str]]:
    """Return the rows of a fact, each with so many cells; what is missing is empty text."""
    rows = []
    for line in fact.splitlines():
        if line.strip():
            *first, last = line.split("\t", cells - 1)
            row = [*first, last.replace("\t", ", ")]
            rows.append(row + [""] * (cells - len(row)))
    return rows


def in_one_line(fact: str) -> str:
    """Return the lines of a fact as one, ``a; b``."""
    return "; ".join(line.strip() for line in fact.splitlines() if line.strip())


def _columns(
    interpretation: Interpretation,
    layout: Mapping[str, Any],
    known: Mapping[str, str],
    elsewhere: Iterable[str],
) -> list[list[list[Field]]]:
    columns = [
        [
            [{"label": label, "value": known.get(key, "")} for key, label in line]
            for line in layout[column]
        ]
        for column in layout
    ]
    named = {key for column in layout.values() for line in column for key, _ in line}
    named |= set(elsewhere)
    test = interpretation.test
    left = [(key, value) for key, value in test.facts.items() if key not in named]
    for key, value in [*left, *test.unused.items()]:
        columns[-1].append([{"label": key.replace("_", " ").capitalize(), "value": value}])
    return columns


def _known(interpretation: Interpretation) -> dict[str, str]:
    """Return every field by its key, those that are not plain facts included."""
    test = interpretation.test
    known = dict(test.facts)
    known["drink"] = drink(interpretation)
    known["minute_0"] = T0
    if test.protocol is not None:
        known["protocol"] = test.protocol
    if test.weight_kg is not None:
        known["weight"] = f"{number(test.weight_kg)} kg"
    if test.age_years is not None:
        known["age"] = f"{number(test.age_years)} years"
    known["fasting_h"] = with_unit(known.get("fasting_h", ""), "h")
    return known
