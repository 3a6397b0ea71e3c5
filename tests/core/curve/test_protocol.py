from dataclasses import replace

import pytest

from ebbline.core.curve.breath_test import Try
from ebbline.core.curve.protocol import Protocol, with_planned_samples
from ebbline.core.errors import InputError
from tests.helpers import a_try, build_test, library, missed, of_tries

PLAN = Protocol(
    id="own",
    release="1",
    title="own",
    substrates=("lactose", "sucrose"),
    fasting=(-10.0, 0.0),
    minutes=(30.0, 60.0, 90.0),
    baseline="mean",
    t0="end of the drink",
    doses=(),
    source="invented",
)


def filled(*tries: Try) -> list[tuple[float, str]]:
    """Return minute and status of every row after the plan was laid beside them."""
    test = with_planned_samples(of_tries(*tries), PLAN)
    return [(one.minute, one.status) for one in test.tries]


def test_a_test_that_holds_every_planned_sample_stays_as_it_is() -> None:
    """Nothing is added, nothing is moved."""
    test = build_test([-10, 0, 31, 62, 90], [5, 5, 6, 7, 8], planned=[-10, 0, 30, 60, 90])
    assert with_planned_samples(test, PLAN) == test


def test_a_planned_sample_without_a_row_is_missed() -> None:
    """It stands at its planned minute, in order of time, and says that no row was there."""
    assert filled(a_try(0, 5), a_try(30, 6), a_try(90, 8)) == [
        (-10, "missed"), (0, "ok"), (30, "ok"), (60, "missed"), (90, "ok"),
    ]  # fmt: skip
    added = with_planned_samples(of_tries(a_try(0, 5)), PLAN).tries[0]
    assert added == replace(missed(-10.0, "no row in the file"), row=0)


def test_a_row_without_a_planned_minute_belongs_to_the_nearest() -> None:
    """Taken 12 min late it is still the sample of 60 min."""
    assert (60, "missed") not in filled(a_try(0, 5), a_try(72, 6))
    assert (90, "missed") in filled(a_try(0, 5), a_try(72, 6))


def test_a_recorded_planned_minute_is_believed() -> None:
    """A sample planned for 60 and taken at 80 leaves 90 missed."""
    rows = filled(a_try(0, 5, planned=0), a_try(80, 6, planned=60))
    assert (60, "missed") not in rows
    assert (90, "missed") in rows


def test_a_row_that_is_missed_already_is_not_missed_twice() -> None:
    """Its own note is kept."""
    assert filled(a_try(0, 5), missed(60.0, "left")).count((60.0, "missed")) == 1


def test_a_protocol_for_another_substrate_is_refused() -> None:
    """The message names the file, the protocol, what it is for and what came."""
    with pytest.raises(InputError) as caught:
        with_planned_samples(build_test([0], [5], substrate="glucose"), PLAN)
    assert str(caught.value) == (
        "invented.csv: protocol own does not fit; allowed: a test with lactose or sucrose; "
        "came: glucose"
    )


def test_the_bundled_protocols_sample_until_their_rule_sets_can_be_negative() -> None:
    """Source: data/protocols.toml; a test that follows one is judged by the bundled criterion."""
    for protocol in library().protocols.values():
        minutes = [*protocol.fasting, *protocol.minutes]
        assert minutes == sorted(minutes)
        assert max(protocol.fasting) <= 0.0 < min(protocol.minutes)
        (criterion,) = [r for r in library().rule_sets if r.id == library().criterion]
        ends = [row.end_minute for row in criterion.statements
                if set(row.substrates) & set(protocol.substrates)]  # fmt: skip
        assert ends
        assert max(minutes) >= max(ends)


def test_a_row_halfway_between_two_planned_minutes_stands_for_neither() -> None:
    """Neither planned sample was taken."""
    found = filled(a_try(0, 5), a_try(45, 6))
    assert [minute for minute, status in found if status == "missed"] == [-10, 30, 60, 90]


def test_a_row_takes_the_planned_minute_that_it_stands_for() -> None:
    """So that a sample a minute early is known to be the last planned one."""
    test = with_planned_samples(of_tries(a_try(-8, 5), a_try(-3, 5), a_try(89, 6)), PLAN)
    ok = [(one.minute, one.planned_minute) for one in test.tries if one.status == "ok"]
    assert ok == [(-8, -10.0), (-3, 0.0), (89, 90.0)]


def test_of_two_rows_near_a_planned_minute_the_nearer_one_stands_for_it() -> None:
    """The other stays a sample of its own: rows are never made into tries."""
    test = with_planned_samples(of_tries(a_try(0, 5), a_try(52, 6), a_try(63, 6)), PLAN)
    ok = [(one.minute, one.planned_minute) for one in test.tries if one.status == "ok"]
    assert ok == [(0, 0.0), (52, None), (63, 60.0)]
