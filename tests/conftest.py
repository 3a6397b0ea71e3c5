"""What every test shares: examples that are the same on each run, and records in both databases."""

import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import psycopg
import pytest
from hypothesis import settings

from ebbline.adapters.sql.create import create_tables
from ebbline.adapters.sql.engine import record_url
from ebbline.adapters.sql.record import SqlRecord
from tests.hazards import ProvedControls, controls, is_whole_run, read_table
from tests.records import Clock
from tests.scene import Scene, make_scene
from tests.server import Server

settings.register_profile("ci", derandomize=True, deadline=None, database=None)
settings.load_profile("ci")


def pytest_configure(config: pytest.Config) -> None:
    """Hold a run of all tests against the table of hazards."""
    if is_whole_run(config):
        config.pluginmanager.register(ProvedControls(controls(read_table())), "hazards")


_ZONE = "Europe/London"
_WAIT_S = 5.0


@pytest.fixture(scope="session")
def server() -> Iterator[Server]:
    """A PostgreSQL server for the whole run; it does not wait for the disk."""
    with server_with_template(safe=False) as running:
        yield running


@contextmanager
def server_with_template(*, safe: bool) -> Iterator[Server]:
    """Run a server that holds a record with nothing in it, to be copied."""
    with tempfile.TemporaryDirectory(prefix="ebb") as folder:
        running = Server(Path(folder), safe=safe)
        running.start()
        with psycopg.connect(running.url("postgres"), autocommit=True) as connection:
            connection.execute("CREATE DATABASE template_record")
        made = SqlRecord(
            record_url(running.url("template_record")), now=Clock(), zone=_ZONE, wait_s=_WAIT_S
        )
        create_tables(made, service="Harbour Clinic (invented)", invented=True)
        made.close()
        yield running
        running.discard()


@pytest.fixture(scope="session")
def blank_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A record in a file with nothing in it yet, to be copied."""
    path = tmp_path_factory.mktemp("blank") / "blank.ebbline"
    made = SqlRecord(record_url(str(path)), now=Clock(), zone=_ZONE, wait_s=_WAIT_S)
    create_tables(made, service="Harbour Clinic (invented)", invented=True)
    made.close()
    return path


@pytest.fixture(params=["sqlite", "postgresql"])
def empty_address(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """The address of a database without tables, of each kind."""
    if request.param == "sqlite":
        yield str(tmp_path / "empty.ebbline")
        return
    server: Server = request.getfixturevalue("server")
    made = server.new_database()
    yield made
    server.drop(made)


@pytest.fixture(params=["sqlite", "postgresql"])
def address(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """The address of a record with nothing in it, in each kind of database."""
    if request.param == "sqlite":
        yield copy_of(request.getfixturevalue("blank_file"), tmp_path / "clinic.ebbline")
        return
    server: Server = request.getfixturevalue("server")
    made = server.new_database(template="template_record")
    yield made
    server.drop(made)


@pytest.fixture
def clock() -> Clock:
    """A clock that stands until it is moved."""
    return Clock()


@pytest.fixture
def record(address: str, clock: Clock) -> Iterator[SqlRecord]:
    """A record with nothing in it, in each kind of database."""
    opened = SqlRecord(record_url(address), now=clock, zone=_ZONE, wait_s=_WAIT_S)
    yield opened
    opened.close()


@pytest.fixture
def scene(record: SqlRecord, clock: Clock) -> Scene:
    """An invented clinic over each kind of database."""
    return make_scene(record, clock)


def copy_of(blank: Path, path: Path) -> str:
    """Copy a record's file and return the name of the copy."""
    with sqlite3.connect(blank) as source, sqlite3.connect(path) as target:
        source.backup(target)
    source.close()
    target.close()
    return str(path)
