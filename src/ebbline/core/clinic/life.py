"""The life of a test: a table of the steps that are allowed, and of what each of them needs.

The rows are in data/test_life.toml. The code only reads them: it knows no state by name. No step is
ever taken here; a person takes it, and this module says whether it may be taken.
"""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from ebbline.core.clinic.cells import PROVENANCES, Cells
from ebbline.core.errors import ClinicError, list_allowed

FILE = "test_life.toml"
"""The file of the rows, for messages."""

_KEYS = (
    "start",
    "source",
    "provenance",
    "state",
    "need",
    "step",
    # Read by ebbline.core.clinic.baseline and ebbline.core.clinic.early_stop.
    "baseline_choice",
    "baseline_rule",
    "stop_rule",
    "stop_loss",
)


@dataclass(frozen=True, slots=True)
class State:
    """Where a test may stand; ``says`` tells a person what that means."""

    id: str
    says: str


@dataclass(frozen=True, slots=True)
class Need:
    """Something that a step needs; ``says`` continues a sentence after "when"."""

    id: str
    says: str


@dataclass(frozen=True, slots=True)
class Step:
    """One allowed step, from ``state`` to ``to``, with all that it needs."""

    state: str
    to: str
    needs: tuple[Need, ...]
    says: str


@dataclass(frozen=True, slots=True)
class Life:
    """All states and steps, in the order of the file; a test begins in ``start``."""

    start: str
    source: str
    provenance: str
    states: tuple[State, ...]
    steps: tuple[Step, ...]

    def steps_from(self, state: str) -> tuple[Step, ...]:
        """Return the steps that lead on from a state; none where it is an end.

        Parameters
        ----------
        state : str
            Where the test stands.

        Returns
        -------
        tuple of Step

        Raises
        ------
        ClinicError
            If there is no such state.
        """
        known = [one.id for one in self.states]
        if state not in known:
            raise ClinicError(
                field="state", wrong="unknown state", allowed=list_allowed(known), came=state
            )
        return tuple(step for step in self.steps if step.state == state)


def parse_life(table: Mapping[str, Any]) -> Life:
    """Return the life of a test that a table holds, or refuse it whole.

    Parameters
    ----------
    table : mapping
        What data/test_life.toml holds.

    Returns
    -------
    Life

    Raises
    ------
    SettingError
        With row, key, what was allowed and what came; also if a state cannot be reached.
    """
    top = Cells(table, file=FILE, path="")
    top.only(_KEYS)
    states = tuple(State(*words) for words in _named(top.rows("state")))
    needs = {name: Need(name, says) for name, says in _named(top.rows("need"))}
    names = [state.id for state in states]
    start = top.choice("start", names)
    steps: list[Step] = []
    for row in top.rows("step"):
        steps += _steps(row, names, needs, steps)
    reached = _reached(start, steps)
    for number, name in enumerate(names, start=1):
        if name not in reached:
            raise top.error(
                f"state[{number}].id", "no step leads there", f"a state reached from {start}", name
            )
    return Life(
        start=start,
        source=top.text("source"),
        provenance=top.choice("provenance", PROVENANCES),
        states=states,
        steps=tuple(steps),
    )


def check_step(life: Life, *, state: str, to: str, met: Collection[str]) -> Step:
    """Return the step that is asked for, or refuse it.

    Parameters
    ----------
    life : Life
        The allowed steps.
    state, to : str
        Where the test stands, and where it is to go.
    met : collection of str
        Ids of the needs that are met now. One that the step does not need is passed over.

    Returns
    -------
    Step

    Raises
    ------
    ClinicError
        If there is no such step, or if something that it needs is not there yet.
    """
    onward = life.steps_from(state)
    for step in onward:
        if step.to == to:
            missing = [need.says for need in step.needs if need.id not in met]
            if missing:
                raise ClinicError(
                    field="state",
                    wrong=f"cannot go from {state} to {to} yet",
                    allowed=f"{to} when {', '.join(need.says for need in step.needs)}",
                    came=f"not yet that {', '.join(missing)}",
                )
            return step
    raise ClinicError(
        field="state",
        wrong=f"no step leads from {state} to {to}",
        allowed=list_allowed(step.to for step in onward) or f"no further step from {state}",
        came=to,
    )


def life_diagram(life: Life) -> str:
    """Return the states and steps as a Mermaid state diagram, for the documentation.

    Parameters
    ----------
    life : Life
        The allowed steps.

    Returns
    -------
    str
        Lines of text, the last one ended.
    """
    names = {state.id: state.id.replace(" ", "_") for state in life.states}
    lines = ["stateDiagram-v2"]
    lines += [f'    state "{state}" as {name}' for state, name in names.items() if state != name]
    lines.append(f"    [*] --> {names[life.start]}")
    lines += [f"    {names[step.state]} --> {names[step.to]}: {step.says}" for step in life.steps]
    lines += [f"    {name} --> [*]" for state, name in names.items() if not life.steps_from(state)]
    return "\n".join(lines) + "\n"


def _named(rows: Iterable[Cells]) -> list[tuple[str, str]]:
    """Return id and words of each row, each id once."""
    found: list[tuple[str, str]] = []
    for row in rows:
        row.only(("id", "says"))
        name = row.text("id")
        if name in [other for other, _ in found]:
            raise row.error("id", "given twice", "an id that no other row has", name)
        found.append((name, row.text("says")))
    return found


def _steps(
    row: Cells, names: list[str], needs: Mapping[str, Need], earlier: list[Step]
) -> list[Step]:
    """Return one step for each state that the row starts from."""
    row.only(("from", "to", "needs", "says"))
    to = row.choice("to", names)
    wanted = tuple(needs[name] for name in row.choices("needs", needs))
    says = row.text("says")
    steps = [Step(state, to, wanted, says) for state in row.choices("from", names)]
    pairs = [(step.state, step.to) for step in earlier]
    for step in steps:
        if (step.state, step.to) in pairs:
            raise row.error(
                "to", "given twice", "one step from a state to another", f"{step.state} to {to}"
            )
    return steps


def _reached(start: str, steps: list[Step]) -> set[str]:
    """Return the states that steps lead to from the start, the start among them."""
    reached = {start}
    waiting = [start]
    while waiting:
        state = waiting.pop()
        for step in steps:
            if step.state == state and step.to not in reached:
                reached.add(step.to)
                waiting.append(step.to)
    return reached
