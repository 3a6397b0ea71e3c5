"""docs/reference/commands.md, from the parser itself."""

import argparse
from collections.abc import Iterator

from docs.generator import markdown
from docs.generator.markdown import code, table
from ebbline.cli.main import EXIT_CODES, parser

_INTRO = """\
`ebbline --help` and `ebbline COMMAND --help` print the same. `python -m ebbline` is the same
program. `python3 go.py run` stands for `ebbline demo`, and `python3 go.py run FILE...` for
`ebbline interpret FILE... --pdf reports`.

What a flag says overrides the head of the [curve file](curve-file.md), and that overrides the
[settings](settings.md) of the service. Answers go to standard output, refusals to standard
error."""


def walk(words: str, one: argparse.ArgumentParser) -> Iterator[tuple[str, argparse.ArgumentParser]]:
    """Yield a command and all below it, each with the words that call it."""
    yield words, one
    for action in one._actions:
        if isinstance(action, argparse._SubParsersAction):
            for name, child in action.choices.items():
                yield from walk(f"{words} {name}", child)


def page() -> str:
    """Return the page."""
    helps = _one_line_helps(parser())
    parts = [_INTRO]
    for words, one in walk("ebbline", parser()):
        meaning = one.description or f"{helps[one.prog].capitalize()}."
        parts += [f"## {words}", meaning.replace("%%", "%"), _usage(words, one), _options(one)]
    parts += ["## Exit codes", _exit_codes(), "Every message is in [errors](errors.md)."]
    return markdown.page("Commands", *parts)


def _one_line_helps(top: argparse.ArgumentParser) -> dict[str, str]:
    """Return the help of each command in its parent's list, by the program name of its parser."""
    helps = {}
    for _, one in walk("ebbline", top):
        for action in one._actions:
            if isinstance(action, argparse._SubParsersAction):
                for choice in action._choices_actions:
                    helps[action.choices[choice.dest].prog] = choice.help or ""
    return helps


def _usage(words: str, one: argparse.ArgumentParser) -> str:
    """Return one line: the words, [options], then what stands without a name."""
    rest = []
    for action in one._actions:
        if action.option_strings:
            continue
        name = str(action.metavar or action.dest)
        if isinstance(action, argparse._SubParsersAction):
            rest.append(f"{name} ..." if action.required else f"[{name} ...]")
        else:
            rest.append(f"{name}..." if action.nargs == "+" else name)
    return code(" ".join([words, "[options]", *rest]))


def _options(one: argparse.ArgumentParser) -> str:
    rows = []
    for action in one._actions:
        if isinstance(action, argparse._SubParsersAction):
            helps = {choice.dest: choice.help or "" for choice in action._choices_actions}
            rows += [(code(name), helps.get(name, ""), "") for name in action.choices]
            continue
        names = action.option_strings or [str(action.metavar or action.dest)]
        value = _value(action)
        shown = ", ".join(code(f"{name} {value}".rstrip()) for name in names)
        rows.append((shown, (action.help or "").replace("%%", "%"), _default(action)))
    return table(("argument", "meaning", "default"), rows)


def _value(action: argparse.Action) -> str:
    if not action.option_strings or action.nargs == 0:
        return ""
    name = str(action.metavar or "|".join(map(str, action.choices or (action.dest.upper(),))))
    return f"{name}..." if action.nargs == "+" else name


def _default(action: argparse.Action) -> str:
    if action.default in (None, (), [], False, argparse.SUPPRESS) or not action.option_strings:
        return ""
    return code(str(action.default))


def _exit_codes() -> str:
    """Return the exit codes that the program's own help lists, as a table."""
    rows = [line.split(maxsplit=1) for line in EXIT_CODES.splitlines()[1:]]
    return table(("code", "meaning"), rows)
