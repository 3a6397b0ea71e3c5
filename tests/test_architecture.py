"""Rules of the design that no linter checks; each check is also tried on code that breaks it."""

import ast
import inspect
import re
import tomllib
from collections.abc import Iterable, Iterator
from pathlib import Path

import pytest

from ebbline.core import errors

TOP = Path(__file__).resolve().parents[1]
SOURCE = TOP / "src" / "ebbline"

LINES_ALLOWED = 500
UNITS = ("_ppm", "_pct", "_minute", "_minutes", "_g", "_kg", "_years", "_l_per_s")
# Outside the error family: argparse reads its own kind of error, and SystemExit ends a command.
RAISED_BESIDE_THE_FAMILY = {"ArgumentTypeError", "SystemExit"}
ERROR_FAMILY = {
    name
    for name, value in inspect.getmembers(errors, inspect.isclass)
    if issubclass(value, errors.EbblineError)
}

Function = ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda


def modules(folder: Path) -> list[Path]:
    """Return the Python files under a folder; a folder without any is a mistake in the test."""
    found = sorted(folder.rglob("*.py"))
    assert found, f"no Python file under {folder}"
    return found


def places(faults: Iterator[tuple[int, str]], module: Path) -> list[str]:
    """Return each fault with the place where it is, as a reader looks for it."""
    return [f"{module.relative_to(TOP)}:{line}: {what}" for line, what in faults]


def functions(code: str) -> Iterator[Function]:
    """Yield every function, method and lambda."""
    for node in ast.walk(ast.parse(code)):
        if isinstance(node, Function):
            yield node


def names_with_a_default(code: str) -> Iterator[tuple[int, str]]:
    """Yield each parameter of a function, and each field of a class, that may be left out."""
    for function in functions(code):
        given = function.args
        positional = given.posonlyargs + given.args
        for argument in positional[len(positional) - len(given.defaults) :]:
            yield argument.lineno, argument.arg
        for argument, default in zip(given.kwonlyargs, given.kw_defaults, strict=True):
            if default is not None:
                yield argument.lineno, argument.arg
    for node in ast.walk(ast.parse(code)):
        for field in node.body if isinstance(node, ast.ClassDef) else []:
            if isinstance(field, ast.AnnAssign) and not is_without_default(field.value):
                yield field.lineno, ast.unparse(field.target)


def is_without_default(value: ast.expr | None) -> bool:
    """Whether a field has no value, or one that only says more about the field."""
    if not isinstance(value, ast.Call) or name_of(value.func) != "field":
        return value is None
    return not any(given.arg in ("default", "default_factory") for given in value.keywords)


def quantities_with_a_default(code: str) -> Iterator[tuple[int, str]]:
    """Yield each name with a unit, so of a physical quantity, that may be left out."""
    for line, name in names_with_a_default(code):
        if name.endswith(UNITS):
            yield line, f"{name} has a default"


def open_keywords(code: str) -> Iterator[tuple[int, str]]:
    """Yield each function that takes keywords it does not name."""
    for function in functions(code):
        if function.args.kwarg is not None:
            yield function.lineno, f"**{function.args.kwarg.arg}"


def name_of(node: ast.expr | None) -> str:
    """Return the last name of what is called or named: error for row.error("key")."""
    named = node.func if isinstance(node, ast.Call) else node
    return named.attr if isinstance(named, ast.Attribute) else ast.unparse(named) if named else ""


def error_makers(codes: Iterable[str]) -> set[str]:
    """Return the functions that are declared to return an error of the family."""
    return {
        function.name
        for code in codes
        for function in functions(code)
        if not isinstance(function, ast.Lambda) and name_of(function.returns) in ERROR_FAMILY
    }


def foreign_raises(code: str, makers: set[str]) -> Iterator[tuple[int, str]]:
    """Yield each raise of an error outside the family; what was caught may be raised again."""
    nodes = list(ast.walk(ast.parse(code)))
    ours = ERROR_FAMILY | RAISED_BESIDE_THE_FAMILY | makers
    ours |= {node.name for node in nodes if isinstance(node, ast.ExceptHandler) and node.name}
    ours |= {
        name_of(target)
        for node in nodes
        if isinstance(node, ast.Assign) and name_of(node.value) in ours
        for target in node.targets
    }
    for node in nodes:
        if isinstance(node, ast.Raise) and node.exc is not None and name_of(node.exc) not in ours:
            yield node.lineno, f"raise {name_of(node.exc)}"


def test_no_module_is_longer_than_the_design_allows() -> None:
    """A module of more than 500 lines must be split."""
    lengths = {
        str(module.relative_to(TOP)): len(module.read_text(encoding="utf-8").splitlines())
        for module in modules(SOURCE)
    }
    assert {name: n for name, n in lengths.items() if n > LINES_ALLOWED} == {}


def test_no_physical_quantity_in_core_has_a_default() -> None:
    """A caller of core states every quantity: a forgotten one is an error, never a guess."""
    assert [
        place
        for module in modules(SOURCE / "core")
        for place in places(quantities_with_a_default(module.read_text(encoding="utf-8")), module)
    ] == []


def test_no_function_in_core_takes_keywords_that_it_does_not_name() -> None:
    """A misspelt keyword is refused by Python itself."""
    assert [
        place
        for module in modules(SOURCE / "core")
        for place in places(open_keywords(module.read_text(encoding="utf-8")), module)
    ] == []


def test_every_raise_is_of_the_error_family() -> None:
    """Whoever catches EbblineError catches everything that ebbline refuses on purpose."""
    makers = error_makers(module.read_text(encoding="utf-8") for module in modules(SOURCE))
    assert [
        place
        for module in modules(SOURCE)
        for place in places(foreign_raises(module.read_text(encoding="utf-8"), makers), module)
    ] == []


@pytest.mark.parametrize(
    "code",
    [
        "def f(dose_g=10.0): ...",
        "def f(a, /, limit_ppm=20.0): ...",
        "def f(*, limit_pct=5.0): ...",
        "async def f(start_minute=0.0): ...",
        "f = lambda age_years=40: age_years",
        "class A:\n    def f(self, flow_l_per_s=0.5): ...",
        "class A:\n    weight_kg: float = 70.0",
        "class A:\n    weight_kg: float = field(default=70.0)",
    ],
)
def test_a_quantity_with_a_default_is_found_wherever_it_stands(code: str) -> None:
    """The check sees every way in which a parameter can be given a default."""
    assert len(list(quantities_with_a_default(code))) == 1


def test_a_quantity_without_a_default_and_a_default_without_a_unit_pass() -> None:
    """The check sees neither a stated quantity nor a plain setting as a fault."""
    code = "def f(dose_g, name='a', *, limit_ppm, strict=True): ...\nclass A:\n    dose_g: float"
    assert list(quantities_with_a_default(code)) == []
    assert list(quantities_with_a_default("class A:\n    dose_g: float = field('dose')")) == []


def clocks_read(code: str) -> Iterator[tuple[int, str]]:
    """Yield each call that asks a clock."""
    for node in ast.walk(ast.parse(code)):
        if isinstance(node, ast.Call) and name_of(node.func) in ("now", "today", "utcnow"):
            yield node.lineno, ast.unparse(node.func)


def test_core_asks_no_clock() -> None:
    """Dates are values there: the same arguments give the same result on any day."""
    assert [
        place
        for module in modules(SOURCE / "core")
        for place in places(clocks_read(module.read_text(encoding="utf-8")), module)
    ] == []
    assert list(clocks_read("a = datetime.now(UTC)\nb = date.today()")) == [
        (1, "datetime.now"),
        (2, "date.today"),
    ]


def test_open_keywords_are_found() -> None:
    """The check sees keywords that are taken unnamed, and passes those that are named."""
    assert list(open_keywords("def f(**settings): ...")) == [(1, "**settings")]
    assert list(open_keywords("def f(*values, name): ...")) == []


@pytest.mark.parametrize(
    "code",
    [
        "raise ValueError('x')",
        "raise NotImplementedError",
        "raise builtins.KeyError('x')",
        "raise error_for(row)",
        "wrong = ValueError('x')\nraise wrong",
    ],
)
def test_a_raise_outside_the_family_is_found(code: str) -> None:
    """The check sees an error that is not ours however it is written."""
    assert len(list(foreign_raises(code, {"refusal"}))) == 1


@pytest.mark.parametrize(
    "code",
    [
        "raise InputError('x')",
        "raise errors.RuleError('x') from None",
        "raise SystemExit(2)",
        "raise row.refusal('key') from None",
        "wrong = row.refusal('key')\nraise wrong",
        "try:\n    f()\nexcept OSError as error:\n    raise error",
        "try:\n    f()\nexcept OSError:\n    raise",
    ],
)
def test_a_raise_of_the_family_passes(code: str) -> None:
    """The check lets our own errors through, and errors that are passed on."""
    assert list(foreign_raises(code, {"refusal"})) == []


def locked(lock: str) -> list[str]:
    """Return one text for each package of a lock."""
    text = (TOP / "requirements" / lock).read_text(encoding="utf-8")
    _, *packages = re.split(r"\n(?=[A-Za-z0-9])", text)
    assert packages, f"no package in {lock}"
    return packages


def test_a_function_that_makes_an_error_is_known_by_what_it_returns() -> None:
    """Only a function that is declared to return an error of the family counts as its maker."""
    code = "class A:\n    def refusal(self) -> errors.RuleError: ...\ndef other() -> str: ..."
    assert error_makers([code]) == {"refusal"}


@pytest.mark.parametrize("lock", ["development.lock", "runtime.lock"])
def test_a_lock_pins_and_hashes_every_package(lock: str) -> None:
    """What is installed is exactly what was tested."""
    packages = locked(lock)
    assert [package for package in packages if not re.match(r"[\w.-]+==\S+", package)] == []
    assert [package for package in packages if "--hash=sha256:" not in package] == []


@pytest.mark.parametrize("lock", ["development.lock", "runtime.lock"])
def test_a_lock_holds_no_address(lock: str) -> None:
    """A computer may fetch the packages from whichever index it is set to."""
    text = (TOP / "requirements" / lock).read_text(encoding="utf-8")
    assert re.findall(r"://|--index-url|--extra-index-url|--find-links|-f ", text) == []


def test_the_runtime_lock_holds_what_the_package_needs_at_the_versions_tested() -> None:
    """The smaller lock is a part of the larger one, and no dependency is missing from it."""
    pinned = {package.split()[0] for package in locked("runtime.lock")}
    assert pinned < {package.split()[0] for package in locked("development.lock")}
    project = tomllib.loads((TOP / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    needed = {re.split(r"[<>=!~;\[ ]", line)[0] for line in project["dependencies"]}
    assert needed <= {pin.split("==")[0] for pin in pinned}
