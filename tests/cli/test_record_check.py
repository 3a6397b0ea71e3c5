"""``ebbline record check``: one page, and an exit code, on both databases."""

import re
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from ebbline.adapters.sql.backup import backup, note_backup
from ebbline.adapters.sql.record import SqlRecord
from ebbline.bootstrap import utc_now
from tests.cli.conftest import Run
from tests.conftest import server_with_template
from tests.records import Clock
from tests.server import Server


@pytest.fixture(scope="module")
def server() -> Iterator[Server]:
    """A server that waits for the disk, as that of a clinic does, in place of the quick one."""
    with server_with_template(safe=True) as running:
        yield running


def test_health_is_one_page(run: Run, address: str, tmp_path: Path) -> None:
    """Each line says whether it is well; quick leaves the chain out."""
    run("record", "backup", "--record", address, tmp_path / "one.backup")
    page = run("record", "check", "--record", address)
    assert page.code == 0
    assert page.out.endswith("All is well.\n")
    lines = page.out.splitlines()
    assert len(lines) < 25
    assert all(line.startswith("ok   ") for line in lines[:-1])
    assert "not verified now" in run("record", "check", "--quick", "--record", address).out


def test_a_backup_is_asked_for_where_there_is_none_or_an_old_one(
    run: Run, address: str, record: SqlRecord, clock: Clock, tmp_path: Path
) -> None:
    """By the row in data; it ends with 5 and says how old the last one is."""
    none = run("record", "check", "--quick", "--record", address)
    assert none.code == 5
    assert re.search(r"^BAD  last backup +none yet; ", none.out, re.MULTILINE)
    clock.at = utc_now() - timedelta(days=3)
    note_backup(record, backup(record, tmp_path / "one.backup"), by="")
    old = run("record", "check", "--quick", "--record", address)
    assert old.code == 5
    assert re.search(
        r"^BAD  last backup +3\.0 days ago; at most 2 days are allowed; ", old.out, re.MULTILINE
    )
    assert re.search(r"^1 of \d+ need a look\.$", old.out, re.MULTILINE)
