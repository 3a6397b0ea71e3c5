import copy
import tomllib
from collections import deque
from typing import Any

import pytest

from ebbline.adapters.files.library import DATA
from ebbline.core.clinic.life import Life, check_step, life_diagram, parse_life
from ebbline.core.errors import ClinicError, SettingError

SHIPPED = tomllib.loads((DATA / "test_life.toml").read_text(encoding="utf-8"))
LIFE = parse_life(SHIPPED)
ENDED = ("finished", "stopped", "drafted", "signed", "amended", "did not attend")

SMALL: dict[str, Any] = {
    "start": "open",
    "source": "invented",
    "provenance": "common practice",
    "state": [
        {"id": "open", "says": "it is open"},
        {"id": "far away", "says": "it is far away"},
    ],
    "need": [
        {"id": "key", "says": "the key is there"},
        {"id": "map", "says": "the map is there"},
    ],
    "step": [{"from": ["open"], "to": "far away", "needs": ["key", "map"], "says": "off it goes"}],
}


def changed(**changes: Any) -> dict[str, Any]:
    """Return the small table with whole keys replaced."""
    return copy.deepcopy(SMALL) | changes


def needs_of(state: str, to: str) -> set[str]:
    """Return the ids that a shipped step needs."""
    (step,) = [step for step in LIFE.steps_from(state) if step.to == to]
    return {need.id for need in step.needs}


def reachable(life: Life, state: str) -> set[str]:
    """Return the states that can follow a state, by walking the steps."""
    seen: set[str] = set()
    queue = deque([state])
    while queue:
        for step in life.steps_from(queue.popleft()):
            if step.to not in seen:
                seen.add(step.to)
                queue.append(step.to)
    return seen


def paths_to(state: str) -> list[list[tuple[str, str]]]:
    """Return every path of the shipped table to a state that visits no state twice."""
    found = []
    waiting: list[list[tuple[str, str]]] = [[]]
    while waiting:
        path = waiting.pop()
        here = path[-1][1] if path else LIFE.start
        if here == state:
            found.append(path)
            continue
        seen = {LIFE.start} | {to for _, to in path}
        waiting += [[*path, (here, s.to)] for s in LIFE.steps_from(here) if s.to not in seen]
    return found


def test_the_shipped_states_are_those_of_a_clinic() -> None:
    """In the order of a day; the record stores these names."""
    assert [state.id for state in LIFE.states] == [
        "booked", "arrived", "cleared", "dosed", "sampling", "finished", "stopped", "drafted",
        "signed", "amended", "did not attend",
    ]  # fmt: skip
    assert LIFE.start == "booked"


def test_the_shipped_steps_are_these_and_no_others() -> None:
    """Common practice, no source: written out once more by hand."""
    assert {(step.state, step.to) for step in LIFE.steps} == {
        ("booked", "arrived"), ("booked", "did not attend"), ("arrived", "booked"),
        ("arrived", "cleared"), ("cleared", "dosed"), ("dosed", "sampling"),
        ("sampling", "finished"), ("arrived", "stopped"), ("cleared", "stopped"),
        ("dosed", "stopped"), ("sampling", "stopped"), ("finished", "drafted"),
        ("stopped", "drafted"), ("drafted", "drafted"), ("drafted", "signed"),
        ("signed", "amended"), ("amended", "amended"),
    }  # fmt: skip


@pytest.mark.parametrize("state", ENDED)
def test_a_test_that_has_ended_never_samples_again(state: str) -> None:
    """Nor does it go back to any state before its end."""
    assert reachable(LIFE, state) <= {"drafted", "signed", "amended"}


def test_whichever_way_a_test_comes_to_the_drink_it_has_passed_every_check() -> None:
    """Identity, consent, preparation, safety, weight of a child, baseline, dose, second check."""
    paths = paths_to("dosed")
    assert paths
    for path in paths:
        met = set().union(*(needs_of(state, to) for state, to in path))
        assert met >= {
            "identity", "consent", "preparation", "safety-open", "child-weight", "baseline-go",
            "dose-prepared", "second-check",
        }  # fmt: skip


def test_the_safety_gate_is_asked_at_the_step_that_hands_over_the_drink() -> None:
    """An answer may have changed since the patient was cleared."""
    assert "safety-open" in needs_of("cleared", "dosed")


def test_whichever_way_a_report_is_signed_a_reviewer_with_a_password_signs_what_is_kept() -> None:
    """A stopped test is reported too."""
    paths = paths_to("signed")
    assert len(paths) >= 2
    for path in paths:
        met = set().union(*(needs_of(state, to) for state, to in path))
        assert met >= {"interpretation", "adopted-rules", "reviewer", "password"}
    assert any(("stopped", "drafted") in path for path in paths)


@pytest.mark.parametrize("state", ["signed", "amended"])
def test_an_amendment_needs_a_reason_and_a_signature(state: str) -> None:
    """Each time."""
    assert needs_of(state, "amended") == {
        "amendment-reason", "interpretation", "reviewer", "password",
    }  # fmt: skip


@pytest.mark.parametrize("state", ["arrived", "cleared", "dosed", "sampling"])
def test_a_running_test_can_be_stopped_by_a_named_person_with_a_reason(state: str) -> None:
    """From the arrival to the last sample."""
    assert needs_of(state, "stopped") == {"stop-reason", "stopped-by"}


def test_an_arrival_is_undone_only_while_nothing_was_recorded() -> None:
    """The one step back."""
    assert needs_of("arrived", "booked") == {"nothing-recorded"}


def test_a_step_whose_needs_are_met_is_returned() -> None:
    """What the step does not need is passed over."""
    step = check_step(
        LIFE, state="booked", to="arrived", met={"identity", "consent", "password", "other"}
    )
    assert (step.state, step.to) == ("booked", "arrived")


@pytest.mark.parametrize("step", LIFE.steps, ids=lambda step: f"{step.state}-{step.to}")
def test_every_shipped_step_is_refused_without_any_one_of_its_needs(step: Any) -> None:
    """And allowed with all of them."""
    every = {need.id for need in step.needs}
    assert check_step(LIFE, state=step.state, to=step.to, met=every) is step
    for need in step.needs:
        with pytest.raises(ClinicError) as caught:
            check_step(LIFE, state=step.state, to=step.to, met=every - {need.id})
        assert caught.value.came == f"not yet that {need.says}"


def test_a_step_that_the_table_does_not_have_is_refused() -> None:
    """The message says where the test may go from here."""
    with pytest.raises(ClinicError) as caught:
        check_step(LIFE, state="booked", to="dosed", met=())
    assert str(caught.value) == (
        "state: no step leads from booked to dosed; allowed: arrived or did not attend; came: dosed"
    )
    assert caught.value.field == "state"


def test_nothing_follows_an_end() -> None:
    """The message says so."""
    with pytest.raises(ClinicError) as caught:
        check_step(LIFE, state="did not attend", to="arrived", met=())
    assert str(caught.value) == (
        "state: no step leads from did not attend to arrived; "
        "allowed: no further step from did not attend; came: arrived"
    )


def test_a_step_that_lacks_something_says_what_in_words() -> None:
    """All that is needed, and what is not there yet."""
    with pytest.raises(ClinicError) as caught:
        check_step(parse_life(SMALL), state="open", to="far away", met=["key"])
    assert str(caught.value) == (
        "state: cannot go from open to far away yet; allowed: far away when the key is there, "
        "the map is there; came: not yet that the map is there"
    )


def test_an_unknown_state_is_refused() -> None:
    """The message lists the states."""
    with pytest.raises(ClinicError) as caught:
        parse_life(SMALL).steps_from("lost")
    assert str(caught.value) == "state: unknown state; allowed: open or far away; came: lost"


def test_the_diagram_shows_every_state_and_step() -> None:
    """As a Mermaid state diagram; a name with spaces is given an alias."""
    assert life_diagram(parse_life(SMALL)) == (
        "stateDiagram-v2\n"
        '    state "far away" as far_away\n'
        "    [*] --> open\n"
        "    open --> far_away: off it goes\n"
        "    far_away --> [*]\n"
    )
    lines = life_diagram(LIFE).splitlines()
    assert len([line for line in lines if ": " in line]) == len(LIFE.steps)


STEP = SMALL["step"][0]


@pytest.mark.parametrize(
    ("table", "message"),
    [
        (
            changed(stat=[]),
            (
                "test_life.toml, stat: unknown key; allowed: start, source, provenance, state, "
                "need, step, baseline_choice, baseline_rule, stop_rule or stop_loss; came: stat"
            ),
        ),
        (
            changed(source=""),
            "test_life.toml, source: not text; allowed: text; came: ''",
        ),
        (
            changed(provenance="hearsay"),
            (
                "test_life.toml, provenance: not one of the choices; "
                "allowed: read, memory or common practice; came: 'hearsay'"
            ),
        ),
        (
            changed(start="shut"),
            (
                "test_life.toml, start: not one of the choices; allowed: open or far away; "
                "came: 'shut'"
            ),
        ),
        (
            changed(state=[*SMALL["state"], {"id": "open", "says": "again"}]),
            (
                "test_life.toml, state[3].id: given twice; allowed: an id that no other row has; "
                "came: open"
            ),
        ),
        (
            changed(state=[*SMALL["state"], {"id": "lost", "says": "nobody knows"}]),
            (
                "test_life.toml, state[3].id: no step leads there; "
                "allowed: a state reached from open; came: lost"
            ),
        ),
        (
            changed(state=[{"id": "open", "says": " "}]),
            "test_life.toml, state[1].says: not text; allowed: text; came: ' '",
        ),
        (
            changed(state=[{"id": "open"}]),
            "test_life.toml, state[1].says: missing; allowed: text; came: nothing",
        ),
        (
            changed(state=[{"id": "open", "says": "it is open", "colour": "red"}]),
            "test_life.toml, state[1].colour: unknown key; allowed: id or says; came: colour",
        ),
        (
            changed(need=[*SMALL["need"], {"id": "key", "says": "again"}]),
            (
                "test_life.toml, need[3].id: given twice; allowed: an id that no other row has; "
                "came: key"
            ),
        ),
        (
            changed(step=[STEP | {"from": ["shut"]}]),
            (
                "test_life.toml, step[1].from: not a list of the choices; "
                "allowed: a list of open or far away, each once; came: ['shut']"
            ),
        ),
        (
            changed(step=[STEP | {"to": "shut"}]),
            (
                "test_life.toml, step[1].to: not one of the choices; allowed: open or far away; "
                "came: 'shut'"
            ),
        ),
        (
            changed(step=[STEP | {"needs": ["luck"]}]),
            (
                "test_life.toml, step[1].needs: not a list of the choices; "
                "allowed: a list of key or map, each once; came: ['luck']"
            ),
        ),
        (
            changed(step=[STEP | {"needs": []}]),
            (
                "test_life.toml, step[1].needs: not a list of the choices; "
                "allowed: a list of key or map, each once; came: []"
            ),
        ),
        (
            changed(step=[STEP | {"when": "now"}]),
            (
                "test_life.toml, step[1].when: unknown key; allowed: from, to, needs or says; "
                "came: when"
            ),
        ),
        (
            changed(step=[STEP, STEP]),
            (
                "test_life.toml, step[2].to: given twice; "
                "allowed: one step from a state to another; came: open to far away"
            ),
        ),
        (
            {"start": "open"},
            "test_life.toml, state: missing; allowed: [[state]] rows; came: nothing",
        ),
    ],
)
def test_a_table_that_cannot_be_read_is_refused(table: dict[str, Any], message: str) -> None:
    """With the row, the key, what was allowed and what came."""
    with pytest.raises(SettingError) as caught:
        parse_life(table)
    assert str(caught.value) == message
