"""docs/reference/hazards.md, from docs/hazards.toml."""

import tomllib
from typing import Any

from docs.generator import markdown
from docs.generator.markdown import ROOT, code, table

_INTRO = """\
What could go wrong and hurt somebody, what stands against it, and which test proves that it stands.
The risks are the developers' own judgement, with no patient data behind them: they order the work
and replace no risk analysis of the clinic's own. See
[the intended use](../explanation/intended-use.md).

The table is `docs/hazards.toml`. A run of all tests fails where the test of a control is not there
or did not pass."""


def page() -> str:
    """Return the page."""
    hazards = tomllib.loads((ROOT / "docs" / "hazards.toml").read_text(encoding="utf-8"))["hazard"]
    overview = table(
        ("hazard", "risk before", "risk left"),
        [(f"[{one['hazard']}](#{one['id']})", one["before"], one["left"]) for one in hazards],
    )
    parts = [_INTRO, overview]
    for one in hazards:
        parts += [f"## {one['id']}", _story(one)]
        parts.append(
            table(
                ("control", "proved by"),
                [(c["says"], "<br>".join(map(code, c["tests"]))) for c in one["control"]],
            )
        )
    return markdown.page("Hazards and the controls against them", *parts)


def _story(one: dict[str, Any]) -> str:
    return (
        f"**{one['hazard']}.** Cause: {one['cause']}. Harm: {one['harm']}. "
        f"Risk before the controls: {one['before']}; left: {one['left']}."
    )
