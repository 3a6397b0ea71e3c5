"""Triggers by which the database itself refuses to change or delete what was recorded."""

from collections.abc import Iterable, Sequence

REFUSAL = "the record keeps every row as it was written"
"""What the database says to a change or deletion."""


def forbid_all(table: str, dialect: str) -> list[str]:
    """Return the statements that make a table one that only grows.

    Parameters
    ----------
    table : str
        The table.
    dialect : {"sqlite", "postgresql"}
        The database.

    Returns
    -------
    list of str
    """
    return [*_forbid(table, "UPDATE", "", dialect), *_forbid(table, "DELETE", "", dialect)]


def allow_erasing(
    table: str, kept: Sequence[str], erased: Sequence[str], dialect: str
) -> list[str]:
    """Return the statements for a table in which some columns may be emptied, and nothing else.

    Parameters
    ----------
    table : str
        The table.
    kept : sequence of str
        Columns that must stay as they are.
    erased : sequence of str
        Columns that may become NULL, all at once.
    dialect : {"sqlite", "postgresql"}
        The database.

    Returns
    -------
    list of str
    """
    same = "IS" if dialect == "sqlite" else "IS NOT DISTINCT FROM"
    stays = [f'NEW."{name}" {same} OLD."{name}"' for name in kept]
    empty = [f'NEW."{name}" IS NULL' for name in erased]
    condition = f"WHEN (NOT ({' AND '.join([*stays, *empty])}))"
    return [*_forbid(table, "UPDATE", condition, dialect), *_forbid(table, "DELETE", "", dialect)]


def remove(tables: Iterable[str], dialect: str) -> list[str]:
    """Return the statements that take the triggers of tables away, for a migration to change them.

    Parameters
    ----------
    tables : iterable of str
        The tables.
    dialect : {"sqlite", "postgresql"}
        The database.

    Returns
    -------
    list of str
    """
    found = []
    for table in tables:
        for event in ("update", "delete", "truncate"):
            on = "" if dialect == "sqlite" else f' ON "{table}"'
            found.append(f'DROP TRIGGER IF EXISTS "guard_{table}_{event}"{on}')
    return found


def function(dialect: str) -> list[str]:
    """Return the statement that makes the function behind the triggers, where one is needed.

    Parameters
    ----------
    dialect : {"sqlite", "postgresql"}
        The database.

    Returns
    -------
    list of str
    """
    if dialect == "sqlite":
        return []
    return [
        (
            "CREATE OR REPLACE FUNCTION ebbline_guard() RETURNS trigger LANGUAGE plpgsql AS "
            f"$$ BEGIN RAISE EXCEPTION '{REFUSAL}' USING ERRCODE = 'restrict_violation'; END $$"
        )
    ]


def _forbid(table: str, event: str, condition: str, dialect: str) -> list[str]:
    name = f"guard_{table}_{event.lower()}"
    if dialect == "sqlite":
        return [
            (
                f'CREATE TRIGGER "{name}" BEFORE {event} ON "{table}" {condition} '
                f"BEGIN SELECT RAISE(ABORT, '{REFUSAL}'); END"
            )
        ]
    statements = [
        (
            f'CREATE TRIGGER "{name}" BEFORE {event} ON "{table}" FOR EACH ROW {condition} '
            "EXECUTE FUNCTION ebbline_guard()"
        )
    ]
    if event == "DELETE":
        statements.append(
            f'CREATE TRIGGER "guard_{table}_truncate" BEFORE TRUNCATE ON "{table}" '
            "FOR EACH STATEMENT EXECUTE FUNCTION ebbline_guard()"
        )
    return statements
