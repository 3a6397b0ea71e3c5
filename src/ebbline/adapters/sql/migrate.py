"""Make the tables of a record, or bring an older record up to this release, step by step."""

from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, inspect

from ebbline.core.errors import BrokenRecordError

_SCRIPTS = Path(__file__).resolve().parent / "migrations"


def revisions() -> list[str]:
    """Return every revision of the schema that was released, oldest first."""
    scripts = ScriptDirectory.from_config(_config())
    return [one.revision for one in scripts.walk_revisions()][::-1]


def revision_of(connection: Connection) -> str | None:
    """Return the revision of a database, None where it has no record."""
    # Other programs may count their revisions in the same way.
    if not inspect(connection).has_table("record_meta"):
        return None
    return MigrationContext.configure(connection).get_current_revision()


def bring_up(connection: Connection, *, to: str) -> list[str]:
    """Bring a database to a revision inside the transaction that is open.

    Parameters
    ----------
    connection : Connection
        In a transaction: the steps take effect together or not at all.
    to : str
        The revision, one of `revisions`.

    Returns
    -------
    list of str
        Revisions that were applied, oldest first.

    Raises
    ------
    BrokenRecordError
        If the database is of a later release than this program.
    """
    before = revision_of(connection)
    known = revisions()
    if before is not None and before not in known:
        raise BrokenRecordError(
            "record: it was made or brought up by a later release of ebbline; allowed: schema "
            f"{', '.join(known)}; came: {before}"
        )
    config = _config()
    config.attributes["connection"] = connection
    command.upgrade(config, to)
    done = 0 if before is None else known.index(before) + 1
    return known[done : known.index(to) + 1]


def _config() -> Config:
    config = Config()
    config.set_main_option("script_location", str(_SCRIPTS).replace("%", "%%"))
    return config
