"""The day's tests are read in one query, with what is done of each."""

from datetime import timedelta

from sqlalchemy import event

from ebbline.adapters.sql.record import SqlRecord
from ebbline.adapters.sql.views import day_rows
from tests.scene import MORNING, Scene
from tests.services.clinic.breaths import POSITIVE, begun, sampled, take


def test_one_query_for_the_whole_day(scene: Scene) -> None:
    """However many tests there are."""
    for _ in range(3):
        begun(scene)
    record = scene.clinic.record
    assert isinstance(record, SqlRecord)
    asked: list[str] = []

    def note(*given: object) -> None:
        asked.append(str(given[2]))

    with record.look() as look:
        event.listen(record.engine, "before_cursor_execute", note)
        rows = day_rows(look, begin=MORNING, end=MORNING + timedelta(minutes=1))
        event.remove(record.engine, "before_cursor_execute", note)
    assert len(rows) == 3
    assert len(asked) == 1


def test_minutes_that_are_done(scene: Scene) -> None:
    """Fasting ones included; what is to be repeated is not."""
    test = begun(scene)
    sampled(scene, test, POSITIVE[:2])
    scene.clock.pass_minutes(30)
    take(scene, test, 29.0, to_repeat=True)
    with scene.clinic.record.look() as look:
        (row,) = day_rows(look, begin=MORNING, end=MORNING + timedelta(minutes=1))
    assert sorted(row.done_minutes) == [0.0, 30.0, 60.0]
    assert (row.given_name, row.family_name, row.slot) == ("Ada", "Shore", MORNING)
