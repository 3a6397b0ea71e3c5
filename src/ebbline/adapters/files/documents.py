"""The documents that a service adopts: rule sets and protocols, as texts that are kept for ever."""

import json
from typing import Any

from ebbline.adapters.files.library import DATA, data_table, parse_protocol
from ebbline.adapters.files.rule_file import read_rule_text
from ebbline.core.clinic.dose_table import DoseTable, parse_doses
from ebbline.core.clinic.record.written import canonical
from ebbline.core.curve.protocol import Protocol
from ebbline.core.errors import FieldError, list_allowed
from ebbline.core.rules.grammar import RuleSet


class DataDocuments:
    """Documents of this release, and those that a record keeps.

    A rule set is kept as its TOML file. A protocol is kept as JSON, with the dose rules that it
    names, so that a dose can be explained years later.

    Parameters
    ----------
    substrates : tuple of str
        Substrates that a document may name.
    """

    def __init__(self, substrates: tuple[str, ...]) -> None:
        self._substrates = substrates

    def offered(self, what: str, name: str) -> str:
        """Return the text of a document of this release, to be adopted."""
        if what == "rule set":
            names = [path.stem for path in sorted((DATA / "rules").glob("*.toml"))]
            _check(name, names, what)
            return (DATA / "rules" / f"{name}.toml").read_text(encoding="utf-8")
        protocols = data_table("protocols")
        _check(name, list(protocols), what)
        doses = data_table("doses")
        chosen = [row for row in doses["rule"] if row["id"] in protocols[name]["doses"]]
        return canonical(
            {
                "id": name,
                "protocol": protocols[name],
                "doses": {"rule": chosen, "weighing": doses["weighing"]},
            }
        )

    def rule_set(self, text: str) -> RuleSet:
        """Return the rule set that an adopted text holds."""
        return read_rule_text(text, name="adopted rule set", substrates=self._substrates)

    def protocol(self, text: str) -> Protocol:
        """Return the protocol that an adopted text holds."""
        document = _document(text)
        return parse_protocol(document["id"], document["protocol"])

    def doses(self, text: str) -> DoseTable:
        """Return the dose rules that an adopted protocol holds."""
        return parse_doses(_document(text)["doses"], substrates=self._substrates)


def _document(text: str) -> dict[str, Any]:
    document: dict[str, Any] = json.loads(text)
    return document


def _check(name: str, allowed: list[str], what: str) -> None:
    if name not in allowed:
        raise FieldError(
            field="name",
            wrong=f"there is no such {what} in this release",
            allowed=list_allowed(allowed),
            came=name,
        )
