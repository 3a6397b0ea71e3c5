"""Read a rule file, keeping the line of every key for messages."""

import re
import tomllib
from pathlib import Path

from ebbline.core.errors import RuleError
from ebbline.core.rules.grammar import RuleSet, parse_rule_set

_HEAD = re.compile(r"^\s*\[\[\s*([A-Za-z0-9_-]+)\s*\]\]")
_KEY = re.compile(r"^\s*([A-Za-z0-9_-]+)\s*=")
_AT_LINE = re.compile(r"at line (\d+)")


def read_rule_file(path: Path, *, substrates: tuple[str, ...]) -> RuleSet:
    """Return the rule set in a TOML file, or refuse it whole.

    Parameters
    ----------
    path : Path
        The file.
    substrates : tuple of str
        Substrates that it may name.

    Returns
    -------
    RuleSet

    Raises
    ------
    RuleError
        With line, key and what was allowed.
    """
    name = str(path)
    try:
        text = path.read_bytes().decode("utf-8")
    except OSError as error:
        raise _refusal(name, "cannot be read", "a readable file", str(error.strerror)) from error
    except UnicodeDecodeError as error:
        came = f"byte {error.start} is not"
        raise _refusal(name, "is not UTF-8 text", "UTF-8", came) from error
    return read_rule_text(text, name=name, substrates=substrates)


def read_rule_text(text: str, *, name: str, substrates: tuple[str, ...]) -> RuleSet:
    """Return the rule set in a TOML text, or refuse it whole.

    Parameters
    ----------
    text : str
        The text.
    name : str
        What messages call it.
    substrates : tuple of str
        Substrates that it may name.

    Returns
    -------
    RuleSet

    Raises
    ------
    RuleError
        With line, key and what was allowed.
    """
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        found = _AT_LINE.search(str(error))
        line = int(found[1]) if found else None
        raise RuleError(
            file=name,
            key="(file)",
            wrong="is not TOML",
            allowed="TOML 1.0",
            came=str(error),
            line=line,
        ) from error
    return parse_rule_set(table, file=name, lines=key_lines(text), substrates=substrates)


def key_lines(text: str) -> dict[str, int]:
    """Return the line of each key path such as ``statement[2].gas``, counted from 1.

    Parameters
    ----------
    text : str
        Text of a rule file: top-level keys, and keys under ``[[statement]]`` or ``[[validity]]``.

    Returns
    -------
    dict of str to int
    """
    lines: dict[str, int] = {}
    counts: dict[str, int] = {}
    prefix = ""
    for number, line in enumerate(text.splitlines(), start=1):
        if head := _HEAD.match(line):
            counts[head[1]] = counts.get(head[1], 0) + 1
            prefix = f"{head[1]}[{counts[head[1]]}]"
            lines.setdefault(prefix, number)
        elif key := _KEY.match(line):
            lines.setdefault(f"{prefix}.{key[1]}" if prefix else key[1], number)
    return lines


def _refusal(name: str, wrong: str, allowed: str, came: str) -> RuleError:
    return RuleError(file=name, key="(file)", wrong=wrong, allowed=allowed, came=came, line=None)
