"""Where the clocks last stood is one row, written with an act or not at all."""

from datetime import UTC, datetime

import pytest

from ebbline.adapters.sql.anchor import SqlAnchors
from ebbline.adapters.sql.record import SqlRecord
from ebbline.core.clinic.clock import Anchor
from ebbline.core.errors import FieldError

FIRST = Anchor("boot-1", 12.25, datetime(2026, 11, 27, 8, 0, 0, 250000, tzinfo=UTC))
SECOND = Anchor("boot-2", 3.5, datetime(2026, 11, 27, 9, 0, tzinfo=UTC))


def test_the_last_anchor_is_kept(record: SqlRecord) -> None:
    """None before the first."""
    anchors = SqlAnchors()
    with record.look() as look:
        assert anchors.kept(look) is None
    for anchor in (FIRST, SECOND):
        with record.act("notice clock", by="", why="", token=None) as act:
            anchors.keep(act, anchor)
        with record.look() as look:
            assert anchors.kept(look) == anchor


def test_an_act_that_fails_keeps_no_anchor(record: SqlRecord) -> None:
    """Otherwise a jump could be seen and never recorded."""
    anchors = SqlAnchors()

    def fail() -> None:
        with record.act("notice clock", by="", why="", token=None) as act:
            anchors.keep(act, FIRST)
            raise FieldError(field="x", wrong="x", allowed="x", came="x")

    with pytest.raises(FieldError):
        fail()
    with record.look() as look:
        assert anchors.kept(look) is None
