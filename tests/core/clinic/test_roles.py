import copy
import itertools
import tomllib
from typing import Any

import pytest

from ebbline.adapters.files.library import DATA
from ebbline.core.clinic.roles import may, parse_roles
from ebbline.core.errors import AccessError, SettingError

SHIPPED = tomllib.loads((DATA / "roles.toml").read_text(encoding="utf-8"))
TABLE = parse_roles(SHIPPED)
ROLES = [role.id for role in TABLE.roles]

READS = {"read record", "verify record"}
# Common practice, no source: who may do what, written out once more by hand.
REVIEWS = {"sign report", "amend report", "second read"}
BENCH_ONLY = {
    "answer preparation", "answer safety", "weigh", "prepare dose", "record T0", "take sample",
    "miss sample", "record symptoms", "record event", "finish test", "clear test", "hand over",
}  # fmt: skip
BENCH_AND_REVIEWER = {
    "record clearance", "second check", "correct sample", "move sample", "decide baseline",
    "stop test", "interpret", "draft report", "correct T0",
}  # fmt: skip
BENCH_AND_MANAGER = {
    "register patient", "correct identity", "refer", "book", "change booking", "arrive",
    "undo arrival", "check analyser",
}  # fmt: skip
REVIEWER_AND_MANAGER = {"adopt", "withdraw adoption", "export"}
MANAGER = {"change settings", "manage users", "record competence", "erase identity", "backup"}
ANYBODY_WHO_WORKS = {"answer clock"}
EXPECTED: dict[str, set[str]] = {
    "bench": READS | BENCH_ONLY | BENCH_AND_REVIEWER | BENCH_AND_MANAGER | ANYBODY_WHO_WORKS,
    "reviewer": READS | REVIEWS | BENCH_AND_REVIEWER | REVIEWER_AND_MANAGER | ANYBODY_WHO_WORKS,
    "manager": READS | BENCH_AND_MANAGER | REVIEWER_AND_MANAGER | MANAGER | ANYBODY_WHO_WORKS,
    "auditor": READS,
}


def an_act(**changes: Any) -> dict[str, Any]:
    """Return one row of an invented act."""
    return {
        "id": "look",
        "says": "look at the sea",
        "roles": ["reviewer", "guest"],
        "changes": False,
        "needs_competence": "none",
    } | changes


SMALL: dict[str, Any] = {
    "source": "invented",
    "provenance": "common practice",
    "role": [
        {"id": "reviewer", "says": "judges", "reads_only": False},
        {"id": "bench", "says": "samples", "reads_only": False},
        {"id": "guest", "says": "looks", "reads_only": True},
    ],
    "act": [
        an_act(),
        an_act(id="sign report", says="sign", roles=["reviewer"], changes=True),
        an_act(id="amend report", says="amend", roles=["reviewer"], changes=True),
    ],
}


def changed(**changes: Any) -> dict[str, Any]:
    """Return the small table with whole keys replaced."""
    return copy.deepcopy(SMALL) | changes


def allowed(act: str, *roles: str) -> bool:
    """Return whether somebody with these roles may do an act of the shipped table."""
    try:
        may(TABLE, act=act, roles=roles, active=True)
    except AccessError:
        return False
    return True


@pytest.mark.parametrize("role", ROLES)
def test_each_role_may_do_what_is_written_out_here_and_nothing_else(role: str) -> None:
    """Every act of the shipped table is asked."""
    assert {act.id for act in TABLE.acts if allowed(act.id, role)} == EXPECTED[role]


def test_several_roles_may_do_what_any_of_them_may() -> None:
    """All pairs of roles and all acts of the shipped table."""
    for one, other in itertools.combinations(ROLES, 2):
        both = {act.id for act in TABLE.acts if allowed(act.id, one, other)}
        assert both == EXPECTED[one] | EXPECTED[other]


def test_an_auditor_changes_nothing() -> None:
    """Every act that an auditor may do leaves the record as it was."""
    acts = [act for act in TABLE.acts if "auditor" in act.roles]
    assert acts
    assert [act.id for act in acts if act.changes] == []


def test_only_a_reviewer_signs_and_the_competence_to_review_is_looked_at() -> None:
    """For the first signature, an amendment and a second reading."""
    for act in TABLE.acts:
        if act.id in REVIEWS:
            assert (act.roles, act.needs_competence) == (("reviewer",), "review")
        else:
            assert act.needs_competence in (None, "bench")


@pytest.mark.parametrize("role", ROLES)
def test_nobody_may_do_anything_with_an_inactive_login(role: str) -> None:
    """Not even read."""
    for act in TABLE.acts:
        with pytest.raises(AccessError, match="may not work with the record any more"):
            may(TABLE, act=act.id, roles=[role], active=False)


def test_the_act_is_returned_to_whoever_may_do_it() -> None:
    """With the competence that it asks for."""
    act = may(TABLE, act="take sample", roles=["bench"], active=True)
    assert (act.id, act.needs_competence) == ("take sample", "bench")


@pytest.mark.parametrize(
    ("asked", "message"),
    [
        (
            {"act": "sign report", "roles": ["guest", "bench"], "active": True},
            "sign report: this role may not sign; allowed: reviewer; came: bench, guest",
        ),
        (
            {"act": "look", "roles": [], "active": True},
            "look: this role may not look at the sea; allowed: reviewer or guest; came: no role",
        ),
        (
            {"act": "look", "roles": ["porter"], "active": True},
            "look: this role may not look at the sea; allowed: reviewer or guest; came: porter",
        ),
        (
            {"act": "look", "roles": ["guest"], "active": False},
            (
                "look: this person may not work with the record any more; "
                "allowed: reviewer or guest, with an active login; came: an inactive login"
            ),
        ),
        (
            {"act": "swim", "roles": ["guest"], "active": True},
            "swim: unknown act; allowed: look, sign report or amend report; came: swim",
        ),
    ],
)
def test_whoever_may_not_is_told_what_and_which_roles_may(
    asked: dict[str, Any], message: str
) -> None:
    """The error names the act and the roles."""
    with pytest.raises(AccessError) as caught:
        may(parse_roles(SMALL), **asked)
    assert str(caught.value) == message


@pytest.mark.parametrize(
    ("table", "message"),
    [
        (
            changed(acts=[]),
            (
                "roles.toml, acts: unknown key; "
                "allowed: source, provenance, competence, role or act; came: acts"
            ),
        ),
        (
            changed(source=""),
            "roles.toml, source: not text; allowed: text; came: ''",
        ),
        (
            changed(provenance="hearsay"),
            (
                "roles.toml, provenance: not one of the choices; "
                "allowed: read, memory or common practice; came: 'hearsay'"
            ),
        ),
        (
            changed(role=[*SMALL["role"], SMALL["role"][0]]),
            (
                "roles.toml, role[4].id: given twice; allowed: an id that no other row has; "
                "came: reviewer"
            ),
        ),
        (
            changed(role=[{"id": "guest", "says": "looks", "reads_only": "yes"}]),
            "roles.toml, role[1].reads_only: not a yes or no; allowed: true or false; came: 'yes'",
        ),
        (
            changed(role=[SMALL["role"][0] | {"colour": "red"}]),
            (
                "roles.toml, role[1].colour: unknown key; allowed: id, says or reads_only; "
                "came: colour"
            ),
        ),
        (
            changed(act=[an_act(), an_act()]),
            "roles.toml, act[2].id: given twice; allowed: an id that no other row has; came: look",
        ),
        (
            changed(act=[an_act(roles=["porter"])]),
            (
                "roles.toml, act[1].roles: not a list of the choices; "
                "allowed: a list of reviewer, bench or guest, each once; came: ['porter']"
            ),
        ),
        (
            changed(act=[an_act(changes=True)]),
            (
                "roles.toml, act[1].roles: this role only reads; allowed: reviewer or bench; "
                "came: guest"
            ),
        ),
        (
            changed(act=[an_act(needs_competence="sailing")]),
            (
                "roles.toml, act[1].needs_competence: not one of the choices; "
                "allowed: bench, review or none; came: 'sailing'"
            ),
        ),
        (
            changed(act=[an_act(says="")]),
            "roles.toml, act[1].says: not text; allowed: text; came: ''",
        ),
        (
            changed(act=[an_act(when="now")]),
            (
                "roles.toml, act[1].when: unknown key; "
                "allowed: id, says, roles, changes or needs_competence; came: when"
            ),
        ),
        (
            changed(act=[an_act(id="sign report", roles=["reviewer", "bench"])]),
            (
                "roles.toml, act[1].roles: only a reviewer signs; allowed: reviewer; "
                "came: reviewer or bench"
            ),
        ),
        (
            changed(act=SMALL["act"][:2]),
            (
                "roles.toml, act: an act is missing; allowed: an act amend report; "
                "came: look or sign report"
            ),
        ),
        ({"role": []}, "roles.toml, act: missing; allowed: [[act]] rows; came: nothing"),
    ],
)
def test_a_table_that_cannot_be_read_is_refused(table: dict[str, Any], message: str) -> None:
    """With the row, the key, what was allowed and what came."""
    with pytest.raises(SettingError) as caught:
        parse_roles(table)
    assert str(caught.value) == message
