"""Who may do what: acts and roles as rows in data/roles.toml."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Any

from ebbline.core.clinic.cells import PROVENANCES, Cells
from ebbline.core.errors import AccessError, list_allowed

FILE = "roles.toml"
"""The file of the rows, for messages."""

TASKS = ("bench", "review")
"""Tasks that somebody can be shown to be competent for."""

# The one rule that no edit of the rows may change: nobody but a reviewer signs.
_SIGNING = ("sign report", "amend report")
_SIGNERS = ("reviewer",)


@dataclass(frozen=True, slots=True)
class Role:
    """What somebody is in the service; a role that ``reads_only`` changes nothing."""

    id: str
    says: str
    reads_only: bool


@dataclass(frozen=True, slots=True)
class Act:
    """Something that may be done, by which roles, and which competence is looked at.

    ``changes`` says whether the record changes by it; ``needs_competence`` is None for no task.
    """

    id: str
    says: str
    roles: tuple[str, ...]
    changes: bool
    needs_competence: str | None


@dataclass(frozen=True, slots=True)
class RoleTable:
    """All roles and acts, in the order of the file."""

    source: str
    provenance: str
    roles: tuple[Role, ...]
    acts: tuple[Act, ...]


def parse_roles(table: Mapping[str, Any]) -> RoleTable:
    """Return the roles and acts that a table holds, or refuse it whole.

    Parameters
    ----------
    table : mapping
        What data/roles.toml holds.

    Returns
    -------
    RoleTable

    Raises
    ------
    SettingError
        With row, key, what was allowed and what came; also if a role that only reads may change
        something, or if anybody but a reviewer may sign.
    """
    top = Cells(table, file=FILE, path="")
    # The table [competence] is read by ebbline.core.clinic.competence.
    top.only(("source", "provenance", "competence", "role", "act"))
    roles: dict[str, Role] = {}
    for row in top.rows("role"):
        row.only(("id", "says", "reads_only"))
        name = _new_id(row, roles)
        roles[name] = Role(name, row.text("says"), row.flag("reads_only"))
    acts: dict[str, Act] = {}
    for row in top.rows("act"):
        row.only(("id", "says", "roles", "changes", "needs_competence"))
        name = _new_id(row, acts)
        acts[name] = _act(row, name, roles)
    for name in _SIGNING:
        if name not in acts:
            raise top.error("act", "an act is missing", f"an act {name}", list_allowed(acts))
    return RoleTable(
        source=top.text("source"),
        provenance=top.choice("provenance", PROVENANCES),
        roles=tuple(roles.values()),
        acts=tuple(acts.values()),
    )


def may(table: RoleTable, *, act: str, roles: Collection[str], active: bool) -> Act:
    """Return the act if somebody may do it, or refuse it.

    Parameters
    ----------
    table : RoleTable
        Roles and acts.
    act : str
        Id of the act.
    roles : collection of str
        The person's roles.
    active : bool
        Whether the person may work with the record at all.

    Returns
    -------
    Act
        Its ``needs_competence`` says which competence to look at.

    Raises
    ------
    AccessError
        Naming the act and the roles that may do it.
    """
    found = next((one for one in table.acts if one.id == act), None)
    if found is None:
        raise AccessError(
            field=act,
            wrong="unknown act",
            allowed=list_allowed(one.id for one in table.acts),
            came=act,
        )
    if not active:
        raise AccessError(
            field=act,
            wrong="this person may not work with the record any more",
            allowed=f"{list_allowed(found.roles)}, with an active login",
            came="an inactive login",
        )
    if not set(roles) & set(found.roles):
        raise AccessError(
            field=act,
            wrong=f"this role may not {found.says}",
            allowed=list_allowed(found.roles),
            came=", ".join(sorted(roles)) or "no role",
        )
    return found


def _new_id(row: Cells, earlier: Collection[str]) -> str:
    name = row.text("id")
    if name in earlier:
        raise row.error("id", "given twice", "an id that no other row has", name)
    return name


def _act(row: Cells, name: str, roles: Mapping[str, Role]) -> Act:
    allowed = row.choices("roles", roles)
    changes = row.flag("changes")
    if name in _SIGNING and allowed != _SIGNERS:
        raise row.error("roles", "only a reviewer signs", "reviewer", list_allowed(allowed))
    for role in allowed:
        if changes and roles[role].reads_only:
            raise row.error(
                "roles",
                "this role only reads",
                list_allowed(one.id for one in roles.values() if not one.reads_only),
                role,
            )
    task = row.choice("needs_competence", (*TASKS, "none"))
    return Act(
        id=name,
        says=row.text("says"),
        roles=allowed,
        changes=changes,
        needs_competence=None if task == "none" else task,
    )
