"""``ebbline rules``: list and explain the rule sets, and check a rule file."""

import argparse

from ebbline.core.errors import list_allowed
from ebbline.core.rules.grammar import RuleSet, Statement, Validity
from ebbline.core.rules.phrases import number

PROVENANCE_WORDS = {
    "read": "read in the document",
    "reported": "as reported by another document",
    "memory": "not checked against the paper",
}


def add_to(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command to the parser."""
    parser = commands.add_parser(
        "rules",
        help="list and explain the rule sets, or check a file",
        description="List and explain the rule sets. With 'check FILE', check a rule file: exit "
        "code 0 if it can be used, 3 if it is refused.",
        allow_abbrev=False,
    )
    parser.set_defaults(run=run_list, ids=[])
    actions = parser.add_subparsers(dest="action", metavar="ACTION")
    check = actions.add_parser("check", help="check a rule file", allow_abbrev=False)
    check.add_argument("files", nargs="+", metavar="FILE", help="a rule file (TOML)")
    check.set_defaults(run=run_check)
    explain = actions.add_parser("explain", help="explain rule sets", allow_abbrev=False)
    explain.add_argument("ids", nargs="+", metavar="ID", help="ids of rule sets")
    explain.set_defaults(run=run_list)


def run_list(chosen: argparse.Namespace) -> int:
    """Print the rule sets that were asked for, or all."""
    from ebbline.bootstrap import build
    from ebbline.services.choose_rules import find_rule_set

    application = build()
    library = application.library
    shown = [
        find_rule_set(name, library, application.read_rules) for name in chosen.ids
    ] or library.rule_sets
    print("\n\n".join(explain_rule_set(rule_set, library.criterion) for rule_set in shown))
    return 0


def run_check(chosen: argparse.Namespace) -> int:
    """Check rule files; the first that is refused ends the command with exit code 3."""
    from ebbline.bootstrap import build

    application = build()
    for name in chosen.files:
        rule_set = application.read_rules(name)
        rows = len(rule_set.statements) + len(rule_set.validity)
        print(f"{name}: {rule_set.title} ({rule_set.id}), {rows} rows, can be used.")
        if rule_set.unchecked:
            print(
                "  It cannot be the reporting criterion until a named person confirms: "
                f"{', '.join(rule_set.unchecked)}."
            )
    return 0


def explain_rule_set(rule_set: RuleSet, criterion: str) -> str:
    """Return a rule set in words."""
    lines = [f"{rule_set.id}  {rule_set.title}, version {rule_set.version}"]
    if rule_set.id == criterion:
        lines[0] += "  (reporting criterion here)"
    elif rule_set.unchecked:
        lines[0] += "  (for comparison only: rows not checked)"
    lines.append(f"  {rule_set.source}")
    if rule_set.population != "any":
        lines.append(f"  Written for {rule_set.population}.")
    lines += [f"  - {explain_statement(row)}" for row in rule_set.statements]
    lines += [f"  - {explain_validity(row)}" for row in rule_set.validity]
    if rule_set.note:
        lines.append(f"  {rule_set.note}")
    return "\n".join(lines)


def explain_statement(row: Statement) -> str:
    """Return one criterion in words."""
    window = "in any sample" if row.by_minute is None else f"by {number(row.by_minute)} min"
    text = (
        f"{row.id}: {row.question.replace('-', ' ')} after {list_allowed(row.substrates)}: "
        f"{_series(row.gas)} {row.measure} of {row.comparison} {number(row.threshold, 3)} "
        f"{row.unit} {window}"
    )
    if row.undecided_from is not None:
        text += f", undecided from {number(row.undecided_from, 3)} ppm"
    if row.needs_minutes is not None:
        text += f"; not met needs readings to {number(row.needs_minutes)} min"
        if row.needs_provenance is not None:
            text += f" ({PROVENANCE_WORDS[row.needs_provenance]})"
    return f"{text}. Source: {row.source}; {_provenance(row)}."


def explain_validity(row: Validity) -> str:
    """Return one validity row in words."""
    return (
        f"{row.id}: invalid after {list_allowed(row.substrates)} where the {_series(row.gas)} "
        f"baseline is {row.comparison} {number(row.threshold, 3)} ppm. {row.says}. "
        f"Source: {row.source}; {_provenance(row)}."
    )


def _series(gas: str) -> str:
    """Return a series as people write it, such as H2 + 2CH4."""
    return "symptom" if gas == "symptoms" else gas.upper().replace("_PLUS_", " + ")


def _provenance(row: Statement | Validity) -> str:
    if row.confirmed_by is not None:
        return f"confirmed by {row.confirmed_by} on {row.confirmed_on}"
    return PROVENANCE_WORDS[row.provenance]
