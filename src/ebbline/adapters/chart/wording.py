"""Words and numbers as the report and the chart write them."""

import tomllib
from collections.abc import Sequence
from functools import cache
from importlib import resources
from typing import Any

from ebbline.core.rules import phrases
from ebbline.core.rules.interpretation import Interpretation, RuleSetUsed


@cache
def words() -> dict[str, Any]:
    """Return the tables of data/report.toml, read once."""
    file = resources.files("ebbline") / "data" / "report.toml"
    return tomllib.loads(file.read_text(encoding="utf-8"))


def gas_label(gas: str) -> str:
    """Return a gas as charts and tables write it, ``H₂``; an unknown name stays as it is."""
    return str(words()["gas"].get(gas, gas))


def gas_name(gas: str) -> str:
    """Return a gas in words; an unknown name stays as it is."""
    return str(words()["gas_name"].get(gas, gas))


def question_title(question: str) -> str:
    """Return a question in plain words; an unknown one stays as it is."""
    return str(words()["question"].get(question, question))


def number(value: float) -> str:
    """Return a number with up to six decimals as it is, ``12.45`` or ``−5``."""
    return phrases.number(value, 6)


def tenths(value: float) -> str:
    """Return a number to at most one decimal."""
    return phrases.number(value, 1)


def column(values: Sequence[float | None], decimals: int) -> list[str]:
    """Return a column of a table: as many decimals as its values need, at most `decimals`.

    Parameters
    ----------
    values : sequence of float or None
        None where there is no value.
    decimals : int
        The most decimals that are shown.

    Returns
    -------
    list of str
        All with the same number of decimals; empty text for None.
    """
    needed = 0
    for value in values:
        if value is not None:
            _, _, after = phrases.number(value, decimals).partition(".")
            needed = max(needed, len(after))
    return [
        "" if value is None else f"{value + 0.0:.{needed}f}".replace("-", phrases.MINUS)
        for value in values
    ]


def sentence_list(items: Sequence[str]) -> str:
    """Return ``a, b and c``."""
    if len(items) < 2:
        return "".join(items)
    return f"{', '.join(items[:-1])} and {items[-1]}"


def count(n: int, one: str, many: str) -> str:
    """Return ``1 sample`` or ``3 samples``."""
    return f"{n} {one if n == 1 else many}"


def adopted(interpretation: Interpretation) -> tuple[RuleSetUsed, ...]:
    """Return the rule sets that report here; the others are for comparison."""
    return tuple(used for used in interpretation.rule_sets if used.adopted)


def drink(interpretation: Interpretation) -> str:
    """Return what was drunk, ``Lactose 25 g in 250 ml``."""
    test = interpretation.test
    text = test.substrate[:1].upper() + test.substrate[1:]
    if test.dose_g is not None:
        text += f" {number(test.dose_g)} g"
    volume = with_unit(test.facts.get("volume_ml", ""), "ml")
    return f"{text} in {volume}" if volume else text


def with_unit(fact: str, unit: str) -> str:
    """Return a fact with its unit where it is a bare number; in own words it has one already."""
    return f"{fact} {unit}" if fact.strip().replace(".", "", 1).isdecimal() else fact
