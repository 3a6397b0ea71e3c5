"""docs/reference/errors.md: the family, and every text that src raises, found in its syntax."""

import inspect
import itertools
from collections.abc import Iterable

from docs.generator import markdown
from docs.generator.markdown import code, table
from docs.generator.messages import Message, messages
from ebbline.core import errors

_INTRO = """\
Every refusal says what was wrong, what was allowed and what came:
`PLACE: WRONG; allowed: ALLOWED; came: CAME`. The place is the file, with row and column for a curve
file, with line and key for a rule set. Nothing of what was refused is used or kept. In the tables a
text that depends on the case is written as …"""


def family() -> list[type[errors.EbblineError]]:
    """Return the classes of the family, in the order of the source."""
    found = [value for value in vars(errors).values() if inspect.isclass(value)]
    return [one for one in found if issubclass(one, errors.EbblineError)]


def page() -> str:
    """Return the page."""
    doc = inspect.getdoc(errors) or ""
    tree = inspect.cleandoc(doc[doc.index("    EbblineError") : doc.index("\n\nEach message")])
    rows = [
        (code(one.__name__), str(one.exit_code), (inspect.getdoc(one) or "").splitlines()[0])
        for one in family()
    ]
    parts = [_INTRO, f"```text\n{tree}\n```"]
    parts.append(table(("error", "exit code", "when"), rows))
    parts.append("Exit code 0 means done. A wrong command or option ends with 2 and a usage line.")
    found = sorted(messages(), key=_order)
    for name, group in itertools.groupby(found, key=lambda message: message.error):
        parts += [f"## {name}", _table(group)]
    return markdown.page("Errors", *parts)


def _order(message: Message) -> tuple[int, str, str, str]:
    names = [one.__name__ for one in family()]
    return names.index(message.error), message.module, message.wrong, message.allowed


def _table(group: Iterable[Message]) -> str:
    rows = dict.fromkeys((m.wrong, m.allowed, code(m.module)) for m in group)
    return table(("wrong", "allowed", "module"), rows)
