"""A record is made in an empty database and nowhere else."""

from collections.abc import Iterator

import pytest

from ebbline.adapters.sql.create import check_revision, create_tables, told_of, upgrade_tables
from ebbline.adapters.sql.engine import record_url
from ebbline.adapters.sql.record import SqlRecord
from ebbline.core.errors import BrokenRecordError, RecordError
from tests.adapters.sql.raw import raw
from tests.records import Clock


@pytest.fixture
def blank(empty_address: str) -> Iterator[SqlRecord]:
    """An empty database, of each kind."""
    opened = SqlRecord(record_url(empty_address), now=Clock(), zone="Europe/London", wait_s=5.0)
    yield opened
    opened.close()


@pytest.mark.parametrize("invented", [True, False])
def test_a_record_says_whose_it_is(blank: SqlRecord, invented: bool) -> None:
    """And whether everything in it is invented."""
    create_tables(blank, service="Harbour Clinic", invented=invented)
    check_revision(blank)
    told = told_of(blank)
    assert told.pop("id").isalnum()
    assert told == {"service": "Harbour Clinic", "invented": str(invented).lower()}


def test_two_records_have_two_ids(record: SqlRecord, blank: SqlRecord) -> None:
    """So that a copy can be told from another record."""
    create_tables(blank, service="Harbour Clinic (invented)", invented=True)
    assert told_of(blank)["id"] != told_of(record)["id"]


def test_a_second_record_is_not_made_over_the_first(record: SqlRecord) -> None:
    """It stays as it is."""
    before = told_of(record)
    with pytest.raises(RecordError) as caught:
        create_tables(record, service="another", invented=False)
    assert str(caught.value) == (
        f"record {record.where}: there is one already; allowed: a new file or an empty database; "
        "came: a record"
    )
    assert told_of(record) == before


@pytest.mark.parametrize("table", ["book", "alembic_version"])
def test_a_record_is_not_made_in_the_database_of_another_program(
    blank: SqlRecord, empty_address: str, table: str
) -> None:
    """Nor is that taken for a record, though it should count its revisions in the same way."""
    with raw(empty_address) as connection:
        connection.execute(f"CREATE TABLE {table} (version_num VARCHAR(32))")
        connection.execute(f"INSERT INTO {table} VALUES ('0001')")
    with pytest.raises(RecordError) as caught:
        create_tables(blank, service="Harbour Clinic", invented=True)
    assert str(caught.value) == (
        f"record {blank.where}: it holds something else; allowed: a new file or an empty "
        f"database; came: tables {table}"
    )
    for does in (check_revision, upgrade_tables):
        with pytest.raises(BrokenRecordError) as broken:
            does(blank)
        assert str(broken.value) == (
            f"record {blank.where}: there is no record in it; allowed: one made by 'ebbline record "
            "create'; came: a database without its tables"
        )
    with raw(empty_address) as connection:
        assert connection.execute(f"SELECT * FROM {table}").fetchall() == [("0001",)]
