"""docs/reference/rule-sets.md, from the grammar and the bundled rows."""

from docs.generator import markdown
from docs.generator.markdown import code, codes, table
from ebbline import RuleSet, Statement, Validity, build
from ebbline.core.rules.fields import Field
from ebbline.core.rules.grammar import SET_KEYS, STATEMENT_KEYS, VALIDITY_KEYS

_INTRO = """\
A rule set is a TOML file: a few keys, then a `[[statement]]` table for each criterion and a
`[[validity]]` table for each condition under which the set itself calls a test invalid.
[Write a rule set](../how-to/write-a-rule-set.md) goes through it step by step,
[where the guidelines disagree](../explanation/guidelines.md) says why the rows differ."""

_READING = """\
A row has `by_minute` or `needs_minutes`, not both. With `by_minute` only samples up to that minute
count. With `needs_minutes` any sample counts, and the row is "not met" only once there are readings
to that minute. The threshold is `threshold_ppm`, or `threshold_points` for symptoms. A rise never
counts from a sample before the drink; a level may. Minutes are actual minutes.

The word of a row on where it comes from is its `provenance`. A set with a row from memory that
nobody has confirmed is shown for comparison and cannot be the reporting criterion
(`confirmed_by`, `confirmed_on`)."""

PROVENANCE = {
    "read": "read in the document",
    "reported": "reported by another document",
    "memory": "from memory, not checked against the paper",
}


def page() -> str:
    """Return the page."""
    library = build().library
    parts = [_INTRO, "## Keys of the set", _keys(SET_KEYS, library.substrates)]
    parts += ["## Keys of a statement", _keys(STATEMENT_KEYS, library.substrates)]
    parts += ["## Keys of a validity row", _keys(VALIDITY_KEYS, library.substrates)]
    parts += ["## How a row is read", _READING, "## Bundled rule sets"]
    parts.append(
        f"Shown in the order of {code('settings.toml')}. The reporting criterion, where a test "
        f"names no other, is {code(library.criterion)}."
    )
    for rule_set in library.rule_sets:
        parts += _rule_set(rule_set)
    return markdown.page("Rule sets", *parts)


def _keys(fields: tuple[Field, ...], substrates: tuple[str, ...]) -> str:
    rows = [
        (
            code(field.name),
            "yes" if field.required else "",
            _allowed(field, substrates),
            field.meaning,
        )
        for field in fields
    ]
    return table(("key", "needed", "allowed", "meaning"), rows)


def _allowed(field: Field, substrates: tuple[str, ...]) -> str:
    if field.kind == "choice":
        return codes(field.allowed)
    if field.kind in ("number", "numbers"):
        text = f"more than {field.allowed[0]:g}, up to {field.allowed[1]:g}"
        return text if field.kind == "number" else f"a list of numbers, {text}"
    return {
        "substrates": f"a list of {codes(substrates)}",
        "date": "a date such as `2026-11-24`",
        "id": "lower-case letters, digits and hyphens",
    }.get(field.kind, "any text")


def _rule_set(rule_set: RuleSet) -> list[str]:
    parts = [f"### {code(rule_set.id)}", f"{rule_set.title}, version {rule_set.version}."]
    parts.append(f"Source: {rule_set.source}.")
    if rule_set.population != "any":
        parts.append(f"Written for {rule_set.population}.")
    if rule_set.note:
        parts.append(rule_set.note)
    if rule_set.unchecked:
        parts.append(f"For comparison only until somebody confirms: {codes(rule_set.unchecked)}.")
    heads = ("row", "question", "substrates", "gas", "measure", "threshold", "window", "doses, g")
    rows = [_statement(row) for row in rule_set.statements]
    parts.append(table((*heads, "source", "provenance"), rows))
    if rule_set.validity:
        spoilers = ("row", "substrates", "invalid where", "says", "source", "provenance")
        parts.append(table(spoilers, [_validity(row) for row in rule_set.validity]))
    return parts


def _statement(row: Statement) -> tuple[str, ...]:
    threshold = f"{row.comparison} {row.threshold:g} {row.unit}"
    if row.undecided_from is not None:
        threshold += f", undecided from {row.undecided_from:g}"
    return (
        code(row.id),
        row.question,
        ", ".join(row.substrates),
        code(row.gas),
        row.measure,
        threshold,
        _window(row),
        " to ".join(f"{dose:g}" for dose in row.doses_g),
        row.source,
        _provenance(row),
    )


def _window(row: Statement) -> str:
    if row.by_minute is not None:
        return f"by {row.by_minute:g} min"
    text = f"any sample; not met needs readings to {row.needs_minutes:g} min"
    if row.needs_provenance is not None:
        text += f" ({PROVENANCE[row.needs_provenance]})"
    return text


def _validity(row: Validity) -> tuple[str, ...]:
    where = f"{code(row.gas)} baseline {row.comparison} {row.threshold:g} ppm"
    return code(row.id), ", ".join(row.substrates), where, row.says, row.source, _provenance(row)


def _provenance(row: Statement | Validity) -> str:
    if row.confirmed_by is not None:
        return f"confirmed by {row.confirmed_by} on {row.confirmed_on}"
    return PROVENANCE[row.provenance]
