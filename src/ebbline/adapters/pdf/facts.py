"""Who and what was tested: the identity fields of a report, blank where nothing is known."""

from typing import Any

from ebbline.adapters.chart.wording import drink, number, with_unit, words
from ebbline.core.rules.interpretation import Interpretation

Field = dict[str, str]

T0 = "end of the drink"


def identity(interpretation: Interpretation) -> list[list[list[Field]]]:
    """Return the columns of identity fields: columns of lines of ``{label, value}``.

    A value is empty where the field is to be filled in by hand. Facts that the layout of
    data/report.toml does not name come last, so that nothing that was given is left out.
    """
    known = _known(interpretation)
    layout: dict[str, Any] = words()["identity"]
    columns = [
        [
            [{"label": label, "value": known.get(key, "")} for key, label in line]
            for line in layout[column]
        ]
        for column in layout
    ]
    named = {key for column in layout.values() for line in column for key, _ in line}
    elsewhere = {"service", "author", "reviewer", "invented", "volume_ml"}
    test = interpretation.test
    left = [(key, value) for key, value in test.facts.items() if key not in named | elsewhere]
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
