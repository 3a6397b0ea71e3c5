"""docs/reference/reduction.md, from data/reduction.toml and the class that holds its rows."""

import tomllib

from docs.generator import markdown
from docs.generator.markdown import DATA, code, table
from docs.generator.settings import described_parameters
from ebbline.core.breath.settings import ReductionSettings

_INTRO = """\
How a trace becomes a reading hangs on these windows and limits, rows of
`src/ebbline/data/reduction.toml`. Each has its source beside it. No standard defines a plateau for
hydrogen or methane, so most are judgement: a service checks them and may change them. Every
reduction carries the settings that it was made with. What they do is explained in
[catching the breath](../explanation/catching-the-breath.md), [stream](../explanation/stream.md) and
[chamber](../explanation/chamber.md)."""


def page() -> str:
    """Return the page."""
    rows = tomllib.loads((DATA / "reduction.toml").read_text(encoding="utf-8"))
    known = described_parameters(ReductionSettings.__doc__ or "")
    lines = [
        (code(name), code(str(row["value"])), known[name], row["source"])
        for name, row in rows.items()
    ]
    heads = ("setting", "value", "meaning", "source")
    return markdown.page("Settings of the reduction", _INTRO, table(heads, lines))
