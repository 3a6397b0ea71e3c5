"""Every text that src raises on purpose, read from its syntax without running it.

A message is found where a class of the error family, or a helper that makes or raises one, is
called. Its texts are followed through the names, constants and functions of the same module; what
depends on the case becomes "…".
"""

import ast
import inspect
import itertools
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from docs.generator.markdown import SOURCE
from ebbline.core import errors

GAP = "…"
FAMILY = frozenset(
    name
    for name, value in vars(errors).items()
    if inspect.isclass(value) and issubclass(value, errors.EbblineError)
)


@dataclass(frozen=True, slots=True)
class Message:
    """One text: the error's class, where it is raised, what is wrong and what is allowed."""

    error: str
    module: str
    wrong: str
    allowed: str


@dataclass(frozen=True, slots=True)
class Helper:
    """A function that makes or raises an error: its class, and its arguments in order."""

    error: str
    arguments: tuple[str, ...]


def messages() -> list[Message]:
    """Return every message of the package."""
    trees = {
        path: ast.parse(path.read_text(encoding="utf-8")) for path in sorted(SOURCE.rglob("*.py"))
    }
    helpers = {name: helper for tree in trees.values() for name, helper in _helpers(tree)}
    functions = {node.name: node for tree in trees.values() for node in _functions(tree)}
    found: list[Message] = []
    for path, tree in trees.items():
        for function in _functions(tree):
            for bound in _turns(tree, function):
                scope = Scope(tree, function, functions, bound)
                for call in _calls(function):
                    found += _of_call(call, scope, helpers, _module(path))
    return found


def _module(path: Path) -> str:
    return ".".join(("ebbline", *path.relative_to(SOURCE).with_suffix("").parts))


def _functions(tree: ast.AST) -> Iterator[ast.FunctionDef]:
    return (node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef))


def _calls(tree: ast.AST) -> Iterator[ast.Call]:
    return (node for node in ast.walk(tree) if isinstance(node, ast.Call))


def _called(call: ast.Call) -> str:
    return getattr(call.func, "id", getattr(call.func, "attr", ""))


def _assigned(body: ast.AST, name: str) -> list[ast.expr]:
    """Return what a name is set to in a function or a module."""
    found = []
    for node in ast.walk(body):
        targets = node.targets if isinstance(node, ast.Assign) else [getattr(node, "target", None)]
        value = getattr(node, "value", None)
        named = any(isinstance(one, ast.Name) and one.id == name for one in targets)
        if named and value is not None and isinstance(node, ast.Assign | ast.AnnAssign):
            found.append(value)
    return found


def _turns(tree: ast.Module, function: ast.FunctionDef) -> list[dict[str, ast.expr]]:
    """Return what the names of a loop over a written-out table hold, one dict for each row."""
    turns: list[dict[str, ast.expr]] = []
    for loop in (node for node in ast.walk(function) if isinstance(node, ast.For)):
        written = [loop.iter]
        if isinstance(loop.iter, ast.Name):
            written = _assigned(function, loop.iter.id) or _assigned(tree, loop.iter.id)
        for table in written:
            for row in getattr(table, "elts", ()):
                if isinstance(loop.target, ast.Tuple) and isinstance(row, ast.Tuple):
                    names = [getattr(one, "id", "") for one in loop.target.elts]
                    turns.append(dict(zip(names, row.elts, strict=True)))
    return turns or [{}]


def _plain(value: object) -> str:
    if value is None:
        return GAP
    return f"{value:g}" if isinstance(value, float) else str(value)


def _helpers(tree: ast.AST) -> Iterator[tuple[str, Helper]]:
    for function in _functions(tree):
        names = [one.arg for one in (*function.args.args, *function.args.kwonlyargs)]
        made = [_called(call) for call in _calls(function) if _called(call) in FAMILY]
        if "wrong" in names and made:
            yield function.name, Helper(made[0], tuple(n for n in names if n != "self"))


def _of_call(
    call: ast.Call, scope: "Scope", helpers: dict[str, Helper], module: str
) -> Iterator[Message]:
    name = _called(call)
    given = {keyword.arg: keyword.value for keyword in call.keywords}
    if name in helpers:
        given |= dict(zip(helpers[name].arguments, call.args, strict=False))
        name = helpers[name].error
    elif name not in FAMILY:
        return
    if "wrong" in given and "allowed" in given:
        if isinstance(given["wrong"], ast.Name) and given["wrong"].id in scope.arguments:
            return  # this is the helper itself, handing on what it was called with
        texts = itertools.product(scope.texts(given["wrong"]), scope.texts(given["allowed"]))
        for wrong, allowed in texts:
            yield Message(name, module, wrong, allowed)
    elif call.args:
        for text in scope.texts(call.args[0]):
            wrong, _, rest = text.partition("; allowed: ")
            yield Message(name, module, wrong, rest.partition("; came: ")[0])


class Scope:
    """The names that an expression in a function may use, as far as its syntax tells."""

    def __init__(
        self,
        tree: ast.Module,
        function: ast.FunctionDef,
        functions: dict[str, ast.FunctionDef],
        bound: dict[str, ast.expr],
    ) -> None:
        self._bodies = (function, tree)
        self._functions = functions
        self._bound = bound
        self.arguments = {one.arg for one in (*function.args.args, *function.args.kwonlyargs)}

    def texts(self, node: ast.expr) -> list[str]:
        """Return the texts that an expression may have."""
        if isinstance(node, ast.Constant):
            return [_plain(node.value)]
        if isinstance(node, ast.JoinedStr):
            parts = [self.texts(part) for part in node.values]
            return list(dict.fromkeys("".join(choice) for choice in itertools.product(*parts)))
        if isinstance(node, ast.FormattedValue):
            return self.texts(node.value)
        if isinstance(node, ast.IfExp):
            return [*self.texts(node.body), *self.texts(node.orelse)]
        if isinstance(node, ast.Name):
            return self._of_name(node.id)
        if isinstance(node, ast.Subscript) and isinstance(node.value, ast.Name):
            return self._of_mapping(node.value.id)
        if isinstance(node, ast.Call) and _called(node) in self._functions:
            return self._of_function(self._functions[_called(node)])
        return [GAP]

    def _of_name(self, name: str) -> list[str]:
        if name in self._bound:
            return self.texts(self._bound[name])
        for body in self._bodies:
            values = _assigned(body, name)
            if values:
                return list(dict.fromkeys(text for value in values for text in self.texts(value)))
        return [GAP]

    def _of_mapping(self, name: str) -> list[str]:
        rows = [one for one in _assigned(self._bodies[1], name) if isinstance(one, ast.Dict)]
        return [text for row in rows for one in row.values for text in self.texts(one)] or [GAP]

    def _of_function(self, function: ast.FunctionDef) -> list[str]:
        """Return the texts that a function returns, where it returns nothing but plain texts."""
        returned = [node.value for node in ast.walk(function) if isinstance(node, ast.Return)]
        texts = [one.value for one in returned if isinstance(one, ast.Constant)]
        if len(texts) < len(returned):
            return [GAP]
        return [str(text) for text in texts]
