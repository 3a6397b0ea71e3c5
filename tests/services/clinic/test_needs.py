"""Every need of the rows is met by somebody, and every act of the rows is done somewhere."""

import ast
from collections.abc import Iterator
from pathlib import Path

from ebbline.services.clinic import needs
from ebbline.services.clinic.desk import READ
from tests.scene import RULES

SOURCE = Path(__file__).resolve().parents[3] / "src" / "ebbline"

# What is about the person who acts, or about what the act itself writes: the use case that takes
# the step says that it is met.
MET_BY_THE_ACT = {"reviewer", "password", "amendment-reason", "stop-reason", "stopped-by"}

# Reads the history itself, and nothing of the clinic.
NOT_OF_THE_CLINIC = {"verify record"}


def calls_of_act(code: str) -> Iterator[str]:
    """Yield the name of each act that a use case does by `Clinic.act`."""
    for node in ast.walk(ast.parse(code)):
        if (
            isinstance(node, ast.Call)
            and ast.unparse(node.func) == "clinic.act"
            and isinstance(node.args[0], ast.Constant)
        ):
            yield str(node.args[0].value)


def texts(code: str) -> Iterator[str]:
    """Yield every text that stands by itself in a module."""
    for node in ast.walk(ast.parse(code)):
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            yield node.value


def codes(*folders: str) -> list[str]:
    """Return every module of folders of the source."""
    found = [path for folder in folders for path in sorted((SOURCE / folder).rglob("*.py"))]
    assert found
    return [path.read_text(encoding="utf-8") for path in found]


def test_every_need_is_checked_or_met_by_the_act_that_asks_for_it() -> None:
    """None is forgotten, and none is checked that no row names."""
    asked = {need.id for step in RULES.life.steps for need in step.needs}
    checked = set(needs._CHECKS)
    assert checked | MET_BY_THE_ACT == asked
    assert checked & MET_BY_THE_ACT == set()


def test_a_need_that_an_act_meets_is_named_by_it() -> None:
    """The words stand in a use case, not only here."""
    named = {text for code in codes("services/clinic") for text in texts(code)}
    assert named >= MET_BY_THE_ACT


def test_every_act_that_is_done_has_its_row() -> None:
    """A name that no row has would be refused to everybody."""
    done = {name for code in codes("services/clinic") for name in calls_of_act(code)}
    assert {"arrive", "hand over", "record T0"} <= done
    assert done | {READ} <= {act.id for act in RULES.roles.acts}


def test_every_row_of_an_act_is_used() -> None:
    """A row that nothing asks for would promise a guard that is not there."""
    named = {text for code in codes("services/clinic", "adapters/sql") for text in texts(code)}
    assert {act.id for act in RULES.roles.acts} - named <= NOT_OF_THE_CLINIC


def test_the_search_sees_an_act_and_only_an_act() -> None:
    """It reads the first argument of `clinic.act`."""
    code = 'with clinic.act("arrive", who, why="x", token=None): other.act("y")'
    assert list(calls_of_act(code)) == ["arrive"]
    assert set(texts(code)) == {"arrive", "x", "y"}
