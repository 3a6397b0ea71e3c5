"""A clinic that is killed at random points loses nothing that was answered.

Twenty-five kills on each database, always the same ones; ``python -m benchmarks.crash`` makes five
hundred, and docs/explanation/crash.md has what came of them.
"""

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from benchmarks.crash import NewRecord, run
from tests.server import Server

KILLS = 25


@contextmanager
def own_server() -> Iterator[Server]:
    """Start a server that may be killed without harm to other tests."""
    with tempfile.TemporaryDirectory(prefix="ebb") as folder:
        server = Server(Path(folder), safe=True)
        server.start()
        yield server
        server.discard()


def kill_often(new: NewRecord) -> None:
    """Kill so many times; look at what came of it."""
    tally = run(new, trials=KILLS, seed=20261127)
    assert (tally.trials, tally.lost, tally.broken) == (KILLS, 0, 0)
    assert tally.answered > 100
    assert tally.timers > 10
    assert tally.worst_timer_s < 1.0


@pytest.mark.parametrize("database", ["sqlite", "postgresql"])
def test_a_clinic_that_is_killed_loses_nothing(database: str, tmp_path: Path) -> None:
    """What was answered is there, nothing is half done, the chain verifies, timers are right.

    On PostgreSQL the server is killed with it every third time.
    """
    if database == "sqlite":
        kill_often(NewRecord(tmp_path, None))
        return
    with own_server() as server:
        kill_often(NewRecord(tmp_path, server))
