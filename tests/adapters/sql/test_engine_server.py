"""What a server does to a record when it fails: an error in words, and nothing half done."""

import re
import secrets
import shutil
import tempfile
import threading
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from dataclasses import replace
from pathlib import Path

import psycopg
import pytest

from ebbline.adapters.sql.create import check_revision, create_tables
from ebbline.adapters.sql.engine import record_url
from ebbline.adapters.sql.record import SqlRecord
from ebbline.core.clinic.record.people import Patient
from ebbline.core.clinic.record.result import Snapshot
from ebbline.core.errors import BrokenRecordError, UnavailableError
from tests.adapters.sql.disk import enlarge, may_mount, small_disk, small_files_of
from tests.adapters.sql.entries import plain
from tests.adapters.sql.raw import raw
from tests.adapters.sql.whole import acts_of_whole
from tests.records import Clock
from tests.server import Server

_SILENT = "the server does not answer; allowed: a server that answers; came: "
_FULL = "the disk is full; allowed: a disk with room; came: could not extend file "


@pytest.fixture(scope="module")
def own() -> Iterator[Server]:
    """A server that may be stopped and killed, with a record to copy."""
    with tempfile.TemporaryDirectory(prefix="ebb") as folder:
        running = Server(Path(folder), safe=True)
        running.start()
        made = opened(running.new_database())
        create_tables(made, service="Harbour Clinic (invented)", invented=True)
        made.close()
        yield running
        running.stop()


@pytest.fixture
def place(own: Server) -> str:
    """The address of a record on that server in which one act was done."""
    address = own.new_database(template="record1")
    made = opened(address)
    a_patient(made)
    made.close()
    return address


@pytest.fixture
def there(place: str) -> Iterator[SqlRecord]:
    """That record, opened."""
    record = opened(place)
    yield record
    record.close()


def opened(address: str) -> SqlRecord:
    """Open a record."""
    return SqlRecord(record_url(address), now=Clock(), zone="Europe/London", wait_s=0.3)


def a_patient(record: SqlRecord) -> None:
    """Do an act."""
    with record.act("register patient", by="", why="", token=None) as act:
        act.add(Patient(act.new_id(), "female", "en", True))


def a_large_act(record: SqlRecord, *, mebibytes: int) -> None:
    """Do an act that needs much room, after something small."""
    with record.act("interpret", by="", why="", token=None) as act:
        patient = act.add(Patient(act.new_id(), "female", "en", True))
        large = plain(Snapshot, act.new_id(), there=patient.id)
        assert isinstance(large, Snapshot)
        act.add(replace(large, document=secrets.token_bytes(mebibytes * 2**20)))


def refusal(record: SqlRecord, does: Callable[[SqlRecord], object]) -> str:
    """What is said to somebody who does this, without the record's name."""
    with pytest.raises(UnavailableError) as caught:
        does(record)
    begins = f"record {record.where}: "
    assert str(caught.value).startswith(begins)
    return str(caught.value).removeprefix(begins)


def test_a_server_that_was_stopped_and_is_back(own: Server, there: SqlRecord) -> None:
    """The record is used again without being opened anew."""
    assert len(acts_of_whole(there)) == 1
    own.stop()
    for does in (a_patient, acts_of_whole):
        assert refusal(there, does).startswith(_SILENT + "connection is bad: ")
    own.start()
    assert len(acts_of_whole(there)) == 1
    a_patient(there)
    assert len(acts_of_whole(there)) == 2


@pytest.mark.parametrize("way", ["stop", "kill"])
def test_a_server_that_goes_in_the_middle_of_an_act(
    own: Server, there: SqlRecord, way: str
) -> None:
    """Nothing of the act is stored, and it can be done when the server is back."""

    def interrupted(record: SqlRecord) -> None:
        with record.act("register patient", by="", why="", token="tablet-1") as act:
            act.add(Patient(act.new_id(), "female", "en", True))
            act.finish()
            getattr(own, way)()

    assert refusal(there, interrupted).startswith(_SILENT)
    own.start()
    assert len(acts_of_whole(there)) == 1
    with there.look() as look:
        assert look.done("tablet-1") is None
    a_patient(there)
    assert len(acts_of_whole(there)) == 2


def test_a_server_that_is_killed_keeps_what_was_acknowledged(own: Server, there: SqlRecord) -> None:
    """Whatever it was doing then; at most the act that was not answered is there as well."""
    done: list[int] = []
    said: list[str] = []
    enough = threading.Event()

    def work() -> None:
        try:
            for number in range(100_000):
                with there.act("register patient", by="", why="", token=f"{number}") as act:
                    act.add(Patient(act.new_id(), "female", "en", True))
                done.append(number)
                if number == 50:
                    enough.set()
        except UnavailableError as error:
            said.append(str(error))

    working = threading.Thread(target=work)
    working.start()
    assert enough.wait(60)
    own.kill()
    working.join(60)
    own.start()
    assert len(said) == 1
    assert said[0].startswith(f"record {there.where}: {_SILENT}")
    tokens = [body["token"] for body in acts_of_whole(there)][1:]
    assert tokens[: len(done)] == [str(number) for number in done]
    assert len(tokens) - len(done) in (0, 1)
    a_patient(there)
    assert len(acts_of_whole(there)) == len(tokens) + 2


def test_a_server_that_is_nowhere(tmp_path: Path) -> None:
    """No socket there to speak to."""
    record = opened(f"postgresql://postgres@/x?host={tmp_path}")
    assert refusal(record, a_patient).startswith(_SILENT + "connection is bad: ")
    record.close()


@pytest.mark.parametrize(
    ("was", "now", "names"),
    [
        ("/record1?", "/nowhere?", 'database "nowhere"'),
        ("//postgres@", "//ben@", 'role "ben"'),
    ],
)
def test_a_database_or_an_account_that_a_server_does_not_know(
    own: Server, was: str, now: str, names: str
) -> None:
    """It says which."""
    record = opened(own.url("record1").replace(was, now))
    said = refusal(record, a_patient)
    assert said.startswith(
        "the server refuses the connection; allowed: a database and an account that it knows; "
        "came: connection failed: "
    )
    assert said.endswith(f"FATAL:  {names} does not exist")
    record.close()


def test_a_writer_that_does_not_end_is_waited_for_only_so_long(
    place: str, there: SqlRecord
) -> None:
    """Those who read do not wait at all."""
    other = opened(place)
    with other.act("register patient", by="", why="", token=None):
        assert refusal(there, a_patient) == (
            "somebody else has been writing to it for too long; allowed: one writer at a time; "
            "came: canceling statement due to lock timeout"
        )
        assert len(acts_of_whole(there)) == 1
    other.close()
    a_patient(there)
    assert len(acts_of_whole(there)) == 2


def test_a_server_that_may_only_be_read(place: str, there: SqlRecord) -> None:
    """Such as a copy that follows another server; here by a setting of the database."""
    name = place.split("?", maxsplit=1)[0].rsplit("/", 1)[1]
    with raw(place) as connection:
        connection.execute(f"ALTER DATABASE {name} SET default_transaction_read_only = on")
        assert refusal(there, a_patient) == (
            "it may only be read; allowed: a file, folder or server that may be written; "
            "came: cannot execute INSERT in a read-only transaction"
        )
        assert len(acts_of_whole(there)) == 1
        connection.execute(f"ALTER DATABASE {name} RESET default_transaction_read_only")
    # A connection keeps the setting that it began with; a copy that takes over has none.
    there.close()
    a_patient(there)
    assert len(acts_of_whole(there)) == 2


def test_an_account_without_rights(place: str) -> None:
    """Is told so, and can do what it may."""
    with raw(place) as connection:
        connection.execute("CREATE ROLE porter LOGIN")
        record = opened(place.replace("//postgres@", "//porter@"))
        for does in (a_patient, acts_of_whole):
            assert refusal(record, does) == (
                "this account may not do that; allowed: an account that may read and write the "
                "tables; came: permission denied for table history"
            )
        connection.execute("GRANT SELECT, INSERT ON ALL TABLES IN SCHEMA public TO porter")
        a_patient(record)
        assert len(acts_of_whole(record)) == 2
        record.close()
        connection.execute("DROP OWNED BY porter")
        connection.execute("DROP ROLE porter")


def test_a_database_without_a_record(own: Server) -> None:
    """Is not taken for one."""
    record = opened(own.new_database())
    with pytest.raises(BrokenRecordError) as caught:
        a_patient(record)
    assert str(caught.value) == (
        f"record {record.where}: this is no record of ebbline, or it is damaged; allowed: a record "
        "made by 'ebbline record create'; came: relation \"history\" does not exist"
    )
    with pytest.raises(BrokenRecordError) as caught:
        check_revision(record)
    assert str(caught.value).startswith(f"record {record.where}: there is no record in it; ")
    record.close()


@pytest.mark.parametrize("disk", ["small files", *["small disk"] * may_mount()])
def test_a_full_disk_takes_nothing_more_and_loses_nothing(
    own: Server, there: SqlRecord, place: str, disk: str
) -> None:
    """A disk of 16 MiB in memory where one may be mounted, and a limit on the size of files.

    The disk holds the tables of one database alone: a server whose log cannot be written stops.
    """
    with ExitStack() as stack:
        if disk == "small disk":
            name = place.split("?", maxsplit=1)[0].rsplit("/", 1)[1]
            folder = own.socket / "disk"
            folder.mkdir()
            stack.callback(own.start)
            stack.enter_context(small_disk(folder, mebibytes=16))
            stack.callback(own.stop)
            shutil.chown(folder, own.data.owner(), own.data.group())
            with psycopg.connect(own.url("postgres"), autocommit=True) as connection:
                connection.execute(f"CREATE TABLESPACE small LOCATION '{folder}'".encode())
                connection.execute(f"ALTER DATABASE {name} SET TABLESPACE small".encode())
        with ExitStack() as limit:
            if disk == "small files":
                with there.look() as look:
                    pid = look.connection.exec_driver_sql("SELECT pg_backend_pid()").scalar()
                assert pid is not None
                # More than a segment of the log, 16 MiB.
                limit.enter_context(small_files_of(pid, size=17 * 2**20))
            said = refusal(there, lambda record: a_large_act(record, mebibytes=18))
        assert said.startswith(_FULL)
        assert re.search("(No space left on device|File too large)$", said)
        assert len(acts_of_whole(there)) == 1
        if disk == "small disk":
            enlarge(folder, mebibytes=64)
        a_large_act(there, mebibytes=18)
        assert len(acts_of_whole(there)) == 2
