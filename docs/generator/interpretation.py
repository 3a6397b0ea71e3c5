"""docs/reference/interpretation.md, from the JSON Schema of the document."""

import json
from typing import Any

from docs.generator import markdown
from docs.generator.markdown import DATA, code, codes, table

SCHEMA = DATA / "schema" / "interpretation.v1.json"

_INTRO = """\
`ebbline interpret --json` prints one such document a line for each file
([in a script](../how-to/use-it-in-a-script.md)). The schema is
`src/ebbline/data/schema/interpretation.v1.json`, a JSON Schema of draft 2020-12. Keys are always
there: a value that is missing is `null`. Numbers are not rounded. A key may be added under the same
name of the schema; one is renamed or taken away only under a new name."""


def page() -> str:
    """Return the page."""
    schema = json.loads(SCHEMA.read_text(encoding="utf-8"))
    parts = [_INTRO, schema["description"]]
    _sections("", schema, parts, {})
    return markdown.page(f"The document {schema['title']}", *parts)


def _sections(path: str, schema: dict[str, Any], parts: list[str], seen: dict[str, str]) -> None:
    """Append a table for an object, then one for each object inside; equal ones are shown once."""
    shape = json.dumps(schema["properties"], sort_keys=True)
    parts.append(f"## {code(path)}" if path else "## The document")
    if shape in seen:
        parts.append(f"The keys of {code(seen[shape])}.")
        return
    seen[shape] = path
    rows = []
    for name, inner in schema["properties"].items():
        rows.append((code(name), _type(inner), inner.get("description", "")))
    parts.append(table(("key", "value", "meaning"), rows))
    for name, inner in schema["properties"].items():
        deeper, ending = _inside(inner)
        if deeper is not None:
            _sections(f"{path}.{name}{ending}".lstrip("."), deeper, parts, seen)


def _inside(schema: dict[str, Any]) -> tuple[dict[str, Any] | None, str]:
    """Return the object with named keys inside a value, and what its path ends with."""
    for option in schema.get("anyOf", (schema,)):
        if "properties" in option:
            return option, ""
        if "properties" in option.get("items", {}):
            return option["items"], "[]"
    return None, ""


def _type(schema: dict[str, Any]) -> str:
    if "anyOf" in schema:
        return " or ".join(_type(option) for option in schema["anyOf"])
    if "const" in schema:
        return code(json.dumps(schema["const"]))
    if "enum" in schema:
        return codes(json.dumps(value) for value in schema["enum"])
    types = schema["type"] if isinstance(schema["type"], list) else [schema["type"]]
    text = " or ".join(types)
    if "array" in types:
        return f"{text} of {_type(schema['items'])}s"
    if isinstance(schema.get("additionalProperties"), dict):
        return f"{text} of {_type(schema['additionalProperties'])}s"
    if "minimum" in schema:
        return f"{text}, {schema['minimum']} to {schema['maximum']}"
    return text
