"""Compare the guards of a record with those that the migrations make.

The migrations are run again in a place of their own: SQLite in memory, or on a server a schema
inside a transaction that is rolled back. So nothing here repeats what a migration says.
"""

from sqlalchemy import Connection, create_engine, text

from ebbline.adapters.sql.migrate import bring_up, revisions

Guards = dict[tuple[str, str], str]
"""Table and trigger to its definition."""

_SCHEMA = "ebbline_expected"


def guards_of(connection: Connection) -> Guards:
    """Return the triggers that a database has and that are switched on.

    Parameters
    ----------
    connection : Connection
        In a transaction.

    Returns
    -------
    dict
    """
    if connection.dialect.name == "sqlite":
        rows = connection.execute(
            text("SELECT tbl_name, name, sql FROM sqlite_master WHERE type = 'trigger'")
        )
        return {(row.tbl_name, row.name): row.sql for row in rows}
    # The function's own text counts as well: a trigger guards nothing by an empty one.
    rows = connection.execute(
        text(
            "SELECT c.relname, t.tgname, pg_get_triggerdef(t.oid) || ' ' || p.prosrc AS told, "
            "n.nspname FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid "
            "JOIN pg_namespace n ON n.oid = c.relnamespace JOIN pg_proc p ON p.oid = t.tgfoid "
            "WHERE NOT t.tgisinternal AND t.tgenabled IN ('O', 'A') "
            "AND n.nspname = current_schema()"
        )
    )
    return {
        (row.relname, row.tgname): row.told.replace(f"{row.nspname}.", "").replace("public.", "")
        for row in rows
    }


def expected_guards(connection: Connection) -> Guards:
    """Return the triggers that a record of this release has in this kind of database.

    Parameters
    ----------
    connection : Connection
        To the record; the caller rolls its transaction back.

    Returns
    -------
    dict
    """
    if connection.dialect.name == "sqlite":
        engine = create_engine("sqlite://")
        with engine.begin() as blank:
            bring_up(blank, to=revisions()[-1])
            found = guards_of(blank)
        engine.dispose()
        return found
    connection.execute(text(f"CREATE SCHEMA {_SCHEMA}"))
    connection.execute(text(f"SET LOCAL search_path TO {_SCHEMA}"))
    bring_up(connection, to=revisions()[-1])
    return guards_of(connection)
