"""docs/reference/settings.md, from the settings files: value, comment and class docstring."""

import re
import tomllib
from typing import Any

from docs.generator import markdown
from docs.generator.markdown import DATA, code, table
from ebbline import Dilution, Marker, Noise
from ebbline.core.curve.transit import TransitDefinition

_INTRO = """\
Settings are rows in `src/ebbline/data`. A line in the head of a [curve file](curve-file.md)
overrides them for one test, and a [flag](commands.md) overrides that. Every result carries the
settings that it was made with. A value that is called a setting, a common practice or from memory
is no published limit: a service checks it and may change it."""

FILES = {
    "settings": ("Service", ()),
    "noise": ("Noise of the analyser", (Noise,)),
    "dilution": ("Dilution", (Dilution, Marker)),
    "transit": ("Orocaecal transit", (TransitDefinition,)),
    "backup": ("Backups of the record", ()),
}


def page() -> str:
    """Return the page."""
    parts = [_INTRO]
    for name, (title, classes) in FILES.items():
        known: dict[str, str] = {}
        for one in classes:
            known |= described_parameters(one.__doc__ or "")
        parts += [f"## {title}", f"`src/ebbline/data/{name}.toml`.", *_tables(name, known, None)]
    parts += ["## Protocols", "`src/ebbline/data/protocols.toml`.", *_protocols()]
    parts += ["## Limits of caveats", "`src/ebbline/data/wording.toml`, table `limit`."]
    parts += _tables("wording", {}, "limit")
    return markdown.page("Settings", *parts)


def described_parameters(docstring: str) -> dict[str, str]:
    """Return the meaning of each parameter that a numpydoc docstring describes."""
    found: dict[str, str] = {}
    names: list[str] = []
    for line in docstring.partition("----------\n")[2].splitlines():
        text = line.strip()
        head = re.fullmatch(r"([a-z0-9_, ]+) : .+", text)
        if not text or text.startswith("---"):
            names = []
        elif head:
            names = [name.strip() for name in head[1].split(",")]
        for name in names if text and not head else ():
            found[name] = f"{found.get(name, '')} {text}".strip()
    return found


def commented(text: str) -> tuple[str, dict[tuple[str, str], str]]:
    """Return the comment that a TOML file opens with, and the comment of each (table, key)."""
    opening: list[str] = []
    comments: dict[tuple[str, str], str] = {}
    above: list[str] = []
    inside = ""
    for line in text.splitlines():
        key = re.match(r"([a-z0-9_]+)\s*=\s*(?:\"[^\"]*\"|[^#]*)(?:#\s*(.*))?", line)
        if line.startswith("#"):
            above.append(line.lstrip("# "))
            continue
        if not opening and not comments:
            opening, above = above, []
        if line.startswith("["):
            inside, above = line.strip("[]"), []
        elif key:
            comments[inside, key[1]] = " ".join(filter(None, [*above, key[2]]))
            above = []
    return " ".join(opening), comments


def _tables(name: str, known: dict[str, str], only: str | None) -> list[str]:
    text = (DATA / f"{name}.toml").read_text(encoding="utf-8")
    opening, comments = commented(text)
    whole: dict[str, Any] = tomllib.loads(text)
    inside = {"": {key: value for key, value in whole.items() if not isinstance(value, dict)}}
    inside |= {key: value for key, value in whole.items() if isinstance(value, dict)}
    parts = [] if only else [opening]
    for table_name, values in inside.items():
        if not values or only not in (None, table_name):
            continue
        if table_name and not only:
            parts.append(f"Table `{table_name}`:")
        rows = []
        for key, value in values.items():
            said = (known.get(key, ""), comments.get((table_name, key), ""))
            rows.append((code(key), _shown(value), " ".join(filter(None, said))))
        parts.append(table(("setting", "value", "meaning and where it comes from"), rows))
    return [part for part in parts if part]


def _protocols() -> list[str]:
    text = (DATA / "protocols.toml").read_text(encoding="utf-8")
    whole: dict[str, dict[str, Any]] = tomllib.loads(text)
    heads = list(dict.fromkeys(key for values in whole.values() for key in values))
    rows = [
        (code(name), *(_shown(values[key]) if key in values else "" for key in heads))
        for name, values in whole.items()
    ]
    return [commented(text)[0], table(("protocol", *heads), rows)]


def _shown(value: Any) -> str:
    if isinstance(value, list):
        return ", ".join(_shown(one) for one in value)
    return code(f"{value:g}" if isinstance(value, float) else str(value))
