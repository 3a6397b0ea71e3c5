"""Erasing leaves nothing of a name in the database and its files, and changes nothing else."""

import zlib
from pathlib import Path

import pytest
from sqlalchemy import select, text

from ebbline.adapters.sql.erase import SqlEraser
from ebbline.adapters.sql.owned import acts_about, read_erasures
from ebbline.adapters.sql.record import SqlRecord
from ebbline.adapters.sql.tables import TABLES
from ebbline.adapters.sql.verify import Verdict, verify
from ebbline.core.clinic.record.entry import columns_of
from ebbline.core.clinic.record.kinds import KINDS
from ebbline.core.clinic.record.people import Identity
from ebbline.core.clinic.record.staff import Erasure
from ebbline.core.errors import RecordError
from tests.adapters.sql.harbour import fill, invented, rename, tamper
from tests.server import Server

NAME = "Wracksand"


def verdict_of(record: SqlRecord) -> Verdict:
    """Verify a record by itself."""
    return verify(record, head=None, progress=lambda done, total: None)


def erase(record: SqlRecord, patient_id: str) -> int:
    """Erase a patient and return how many rows lost their words."""
    eraser = SqlEraser(record)
    with record.act("erase identity", by="", why="", token=None) as act:
        rows = eraser.empty(act, patient_id)
        act.add(Erasure(act.new_id(), patient_id, "invented ground", "the service", rows))
    assert eraser.clean() == ""
    return rows


def files_of(record: SqlRecord, request: pytest.FixtureRequest) -> bytes:
    """Return the bytes of every file of a database; of a server without its log of writes."""
    if record.engine.dialect.name == "sqlite":
        path = Path(str(record.url.database))
        return b"".join(one.read_bytes() for one in sorted(path.parent.glob(f"{path.name}*")))
    server: Server = request.getfixturevalue("server")
    with record.engine.connect() as connection:
        oid = connection.scalar(
            text("SELECT oid FROM pg_database WHERE datname = current_database()")
        )
    folder = server.data / "base" / str(oid)
    return b"".join(one.read_bytes() for one in sorted(folder.iterdir()) if one.is_file())


def settle(record: SqlRecord) -> None:
    """Bring everything that was written to the files."""
    if record.engine.dialect.name == "postgresql":
        with record.engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
            connection.execute(text("ANALYZE"))
            connection.execute(text("CHECKPOINT"))


def test_nothing_of_the_name_is_left_in_any_file(
    record: SqlRecord, request: pytest.FixtureRequest
) -> None:
    """Neither in words nor in a document that was compressed; before it was all there."""
    ids = fill(record, NAME)
    rename(record, ids, name=f"{NAME} the younger")
    other = fill(record, "Haven")
    with record.reading() as connection:
        query = text("SELECT document FROM snapshot ORDER BY seq LIMIT 1")
        document = bytes(connection.scalars(query).one())
    assert NAME.encode() in zlib.decompress(document)
    settle(record)
    before = files_of(record, request)
    assert before.count(NAME.encode()) > 20
    assert document in before
    erase(record, ids["patient"])
    after = files_of(record, request)
    assert NAME.encode() not in after
    assert document not in after
    assert b"Haven" in after
    with record.look() as look:
        assert look.get(Identity, other["identity"]).entry.family_name == "Haven"


def test_a_record_with_an_erased_patient_verifies(record: SqlRecord) -> None:
    """Every field held apart of every version is empty, and every reason of an act about them."""
    ids = fill(record, NAME)
    rename(record, ids, name=f"{NAME} the younger")
    fill(record, "Haven")
    acts = verdict_of(record).acts
    rows = erase(record, ids["patient"])
    verdict = verdict_of(record)
    assert verdict.fault is None
    assert (verdict.acts, verdict.erased) == (acts + 1, rows)
    with record.reading() as connection:
        for name, kind in KINDS.items():
            apart = [one.name for one in columns_of(kind) if one.apart]
            if apart:
                query = select(TABLES[name]).order_by(TABLES[name].c.seq)
                *theirs, others = connection.execute(query).mappings()
                assert len(theirs) == (2 if name == "identity" else 1)
                for row in theirs:
                    assert {row[column] for column in [*apart, "salt"]} == {None}
                    assert row["apart_digest"] is not None
                assert others["salt"] is not None
    with record.look() as look:
        whys = {act.act: act.why for act in look.acts(range(1, 26))}
    assert whys["make user"] == "asked"
    assert {whys[f"make {name}"] for name in ("patient", "dose", "report", "signature")} == {""}


def test_the_reason_of_an_act_that_only_names_the_patient_goes_too(record: SqlRecord) -> None:
    """As that of an export does."""
    ids = fill(record, NAME)
    with record.act("export", by="", why=f"asked by {NAME}", token=None) as act:
        act.warn(f"patient {ids['patient']} left the record")
    erase(record, ids["patient"])
    with record.look() as look:
        assert [act.why for act in look.acts_after(25)] == ["", ""]
    assert verdict_of(record).fault is None


def test_what_was_emptied_needs_an_erasure_of_that_patient_after_it(record: SqlRecord) -> None:
    """One of another patient, or one from before, does not cover it."""
    ids = fill(record, NAME)
    other = fill(record, "Haven")
    erase(record, ids["patient"])
    with record.reading() as connection:
        found = read_erasures(connection)
        seqs = set(connection.scalars(acts_about(ids["patient"])))
    assert found.patients == {ids["patient"]: 51}
    assert found.tests == {ids["test"]: 51}
    assert seqs == {*range(7, 25), 51}
    with record.act("identify", by="", why="", token=None) as act:
        again = act.add(invented(Identity, act.new_id(), ids, NAME))
    assert verdict_of(record).fault is None
    apart = [one.name for one in columns_of(Identity) if one.apart]
    cells = ", ".join(f"{name} = NULL" for name in [*apart, "salt"])
    emptied = f"UPDATE identity SET {cells} WHERE id = :id"
    tamper(record, emptied, id=again.id)
    fault = verdict_of(record).fault
    assert fault is not None
    assert fault.words == f"identity {again.id} version 1 was emptied, and no erasure says so"
    tamper(record, emptied, id=other["identity"])
    fault = verdict_of(record).fault
    assert fault is not None
    assert fault.entry == f"identity {other['identity']} version 1"


def test_an_erasure_that_was_taken_out_shows_at_the_first_row_that_it_emptied(
    record: SqlRecord,
) -> None:
    """Nothing covers it any more."""
    ids = fill(record, NAME)
    erase(record, ids["patient"])
    tamper(record, "DELETE FROM erasure")
    fault = verdict_of(record).fault
    assert fault is not None
    assert fault.seq == 7
    assert fault.words == "row 7: its reason was emptied, and no erasure says so"


def test_an_act_that_fails_empties_nothing(record: SqlRecord) -> None:
    """All or nothing."""
    ids = fill(record, NAME)
    emptied = []

    def erase_and_fail() -> None:
        with record.act("erase identity", by="", why="", token=None) as act:
            emptied.append(SqlEraser(record).empty(act, ids["patient"]))
            raise RuntimeError

    with pytest.raises(RuntimeError):
        erase_and_fail()
    assert emptied[0] > 20
    with record.look() as look:
        assert look.get(Identity, ids["identity"]).entry.family_name == NAME
    assert verdict_of(record).erased == 0


def test_whoever_still_reads_keeps_the_old_words_in_the_files_and_that_is_said(
    record: SqlRecord,
) -> None:
    """Once the reader is gone, cleaning again does it."""
    ids = fill(record, NAME)
    eraser = SqlEraser(record)
    with record.look() as look:
        look.get(Identity, ids["identity"])
        with record.act("erase identity", by="", why="", token=None) as act:
            rows = eraser.empty(act, ids["patient"])
            act.add(Erasure(act.new_id(), ids["patient"], "ground", "the service", rows))
        left = eraser.clean()
    if record.engine.dialect.name == "sqlite":
        assert left == "somebody else reads the file, so its log could not be emptied"
    else:
        assert "somebody else has been writing to it for too long" in left
    assert eraser.clean() == ""


def test_an_act_of_something_else_is_refused(scene_act: object, record: SqlRecord) -> None:
    """The fields are emptied in the transaction of a record in a database."""
    with pytest.raises(RecordError) as caught:
        SqlEraser(record).empty(scene_act, "x")  # type: ignore[arg-type]
    assert str(caught.value) == (
        "record: no transaction to erase in; allowed: an act of a record in a database; "
        "came: object"
    )


@pytest.fixture
def scene_act() -> object:
    """Something that is no act of a database."""
    return object()
