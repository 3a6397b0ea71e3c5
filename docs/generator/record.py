"""docs/reference/record.md: the data dictionary, from the kinds of entry and the tables."""

import inspect

from docs.generator import markdown
from docs.generator.markdown import code, table
from ebbline.adapters.sql.tables import METADATA
from ebbline.core.clinic.record.entry import Column, columns_of
from ebbline.core.clinic.record.kinds import KINDS

_INTRO = """\
Every kind of entry has a table of its name. Each row is one version of an entry; what stands now is
the row without a later version. Beside the fields below, each table has

- `version`, from 1,
- `seq`, the number of the act that wrote the row, in `history`,
- `salt` and `apart_digest`, where fields are held apart.

**Apart** marks fields that may tell who somebody is. They can be emptied on a legal request, and
the chain still verifies. See [the record](../explanation/the-record.md). An export has one CSV file
for each kind, with the same names."""

_FORMS = {
    "text": "text",
    "whole": "whole number",
    "number": "number",
    "yes-no": "yes or no",
    "day": "day, `2026-11-27`",
    "moment": "moment in UTC, `2026-11-27T08:30:00.000000Z`",
    "list": "list, as JSON",
    "map": "names and values, as JSON",
    "bytes": "bytes",
}


def page() -> str:
    """Return the page."""
    parts = [_INTRO]
    for name, kind in KINDS.items():
        parts += [f"## {name}", inspect.getdoc(kind) or ""]
        parts.append(table(("field", "form", "apart", "meaning"), map(_row, columns_of(kind))))
    parts += ["## Tables beside the entries", "They hold what is no entry."]
    for one in METADATA.sorted_tables:
        if one.name not in KINDS:
            rows = [(code(c.name), str(c.info.get("says", ""))) for c in one.columns]
            parts += [f"### {one.name}", str(one.info.get("says", ""))]
            parts.append(table(("column", "meaning"), rows))
    return markdown.page("The record, table by table", *parts)


def _row(column: Column) -> tuple[str, str, str, str]:
    form = _FORMS[column.form] if column.refers is None else f"id of a `{column.refers}`"
    if column.optional:
        form += ", or nothing"
    return code(column.name), form, "apart" if column.apart else "", column.says
