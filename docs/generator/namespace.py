"""docs/reference/python.md, from the public namespace."""

import inspect

import ebbline
from docs.generator import markdown
from docs.generator.markdown import code, table
from ebbline import _version

_INTRO = """\
What `import ebbline` offers. These names are public and stay; everything else may move. Functions
take values and return values: nothing in `ebbline.core` opens a file, reads a clock or draws a
random number. `ebbline.core.cohort` judges whole tables of tests
([how to](../how-to/judge-a-whole-table.md)), and `ebbline.simulate` makes invented ones with known
truth."""


def page() -> str:
    """Return the page."""
    rows = []
    for name in ebbline.__all__:
        value = getattr(ebbline, name)
        if inspect.isclass(value) or inspect.isfunction(value):
            kind = "function" if inspect.isfunction(value) else "class"
            if inspect.isclass(value) and issubclass(value, Exception):
                kind = "error"
            line = (inspect.getdoc(value) or "").splitlines()[0]
            rows.append((code(name), kind, code(value.__module__), line))
        else:
            rows.append((code(name), "text", code("ebbline._version"), _version.__doc__ or ""))
    return markdown.page("Python", _INTRO, table(("name", "kind", "module", "meaning"), rows))
