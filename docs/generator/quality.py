"""docs/how-to/breath-quality.md, from data/quality.toml and the reasons of the reduction."""

import tomllib
from typing import get_args

from docs.generator import markdown
from docs.generator.markdown import DATA, code
from ebbline.core.breath.reasons import Code

_INTRO = """\
Every blow and every bag ends with one of three words. *Accepted*: the raw values count.
*Normalised*: the sample held room air, and the values that count are scaled to alveolar air, as
[dilution](../explanation/dilution.md) explains. *Refused*: no value counts; the numbers are kept,
with every reason beside them.

{caution}

What follows is for the bench, one reason after the other. What to do is common practice, no
source; your service's own procedure comes first. The words are rows of
`src/ebbline/data/quality.toml`, and a service may write its own; the limits are
[settings of the reduction](../reference/reduction.md)."""

_ALWAYS = """\
- Stop when the patient is dizzy, in pain or short of breath, and act as your service has laid down.
  Nobody is asked to blow beyond comfort for a number.
- A new mouthpiece or filter for each patient, and hand hygiene, as local infection control says.
- Wait until the analyser has washed out: a new blow begins with room air again, for as long as the
  zero needs.
- A refused breath stays in the record. Repeat as soon as the patient can, note the actual minute,
  and do not fill the gap with an older value.
- Three refusals in a row with different patients point at the analyser: check it with check gas
  before the next one."""


_MORE = """\
One fault often has several. An inhalation makes a gas unsteady too, and a short blow is often
dilute. Begin with the first one: they are in the order in which a cycle runs."""


def page() -> str:
    """Return the page."""
    words = tomllib.loads((DATA / "quality.toml").read_text(encoding="utf-8"))
    parts = [_INTRO.format(caution=words["caution"])]
    parts += ["## In every case", _ALWAYS]
    for name in get_args(Code):
        row = words["reason"][name]
        title = name.replace("_", " ").capitalize()
        parts += [f"## {title}", f"{code(name)}. {row['means']}", f"**What to do.** {row['do']}"]
    parts += [
        "## More than one reason",
        _MORE,
    ]
    return markdown.page("What each reason against a breath means, and what to do", *parts)
