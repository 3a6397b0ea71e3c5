"""Public functions of core and services say what they take and what they return."""

import ast
from pathlib import Path

import pytest

SOURCE = Path(__file__).resolve().parents[2] / "src" / "ebbline"
MODULES = sorted([*(SOURCE / "core").rglob("*.py"), *(SOURCE / "services").rglob("*.py")])


def missing_sections(tree: ast.Module) -> list[str]:
    """Return each public function of a module with the numpydoc section that it lacks."""
    found = []
    for node in tree.body:
        if not isinstance(node, ast.FunctionDef) or node.name.startswith("_"):
            continue
        if not (node.args.args or node.args.kwonlyargs or node.args.posonlyargs):
            continue
        wanted = ["Parameters"]
        if node.returns is not None and ast.unparse(node.returns) not in ("None", "NoReturn"):
            wanted.append("Returns")
        doc = ast.get_docstring(node) or ""
        # A generator yields what it returns.
        told = f"\n{doc}\n".replace("\nYields\n------\n", "\nReturns\n-------\n")
        heads = [title for title in wanted if f"\n{title}\n{'-' * len(title)}\n" not in told]
        found += [f"{node.name}: {title}" for title in heads]
    return found


@pytest.mark.parametrize("path", MODULES, ids=lambda p: p.relative_to(SOURCE).as_posix())
def test_each_public_function_with_parameters_has_the_sections(path: Path) -> None:
    """Parameters, and Returns where something is returned."""
    assert missing_sections(ast.parse(path.read_text(encoding="utf-8"))) == []


def test_a_function_without_sections_is_found() -> None:
    """The check itself sees a bare docstring, and lets a private function be."""
    tree = ast.parse('def f(x: int) -> int:\n    """Do."""\ndef _g(x: int) -> int:\n    """Do."""')
    assert missing_sections(tree) == ["f: Parameters", "f: Returns"]
