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


def forbid_replacing(table: str, keys: Sequence[Sequence[str]], dialect: str) -> list[str]:
    """Return the statements by which no row takes the place of another.

    SQLite deletes rows that stand in the way of ``INSERT OR REPLACE``, and fires no trigger for
    that unless a connection asks for it. So a row that has the key of another is refused before.

    Parameters
    ----------
    table : str
        The table.
    keys : sequence of sequence of str
        Its keys: the columns of each.
    dialect : {"sqlite", "postgresql"}
        The database. PostgreSQL has no such statement.

    Returns
    -------
    list of str
    """
    if dialect == "postgresql":
        return []
    matches = [" AND ".join(f'"{name}" = NEW."{name}"' for name in key) for key in keys]
    # The rowid is a hidden key. It is -1 where the statement does not name it.
    matches.append("rowid = NEW.rowid")
    found = " OR ".join(f'EXISTS (SELECT 1 FROM "{table}" WHERE {match})' for match in matches)
    return _forbid(table, "INSERT", f"WHEN ({found})", dialect)


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
    if dialect == "sqlite":
        # UPDATE OR REPLACE would delete the row whose hidden key it takes.
        stays.append("NEW.rowid IS OLD.rowid")
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
        for event in ("insert", "update", "delete", "truncate"):
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
