"""Planned samples that have no row are missed."""

import pytest

from ebbline.core.curve.breath_test import BreathTest, Try
from ebbline.core.curve.protocol import Protocol, with_planned_samples
from ebbline.core.errors import InputError

PROTOCOL = Protocol(
    id="glucose-60",
    title="invented",
    substrates=("glucose",),
    fasting=(0.0,),
    minutes=(15.0, 30.0, 45.0, 60.0),
    baseline="mean",
    t0="end of the drink",
    source="invented",
)


def recorded(*rows: tuple[float, float | None], substrate: str = "glucose") -> BreathTest:
    """Return a test with rows (minute, planned minute)."""
    tries = tuple(
        Try(
            minute=minute,
            planned_minute=planned,
            status="ok",
            h2_ppm=5.0,
            ch4_ppm=None,
            o2_pct=None,
            co2_pct=None,
            note="",
            symptoms={},
            row=place,
        )
        for place, (minute, planned) in enumerate(rows, start=1)
    )
    return BreathTest("invented.csv", substrate, 50.0, None, None, "glucose-60", tries)


def test_a_planned_sample_without_a_row_is_missed_at_its_planned_minute() -> None:
    """It stands in order of time and says that there was no row."""
    filled = with_planned_samples(recorded((0, None), (16, None), (31, None), (59, None)), PROTOCOL)
    assert [(one.minute, one.status) for one in filled.tries] == [
        (0.0, "ok"),
        (16.0, "ok"),
        (31.0, "ok"),
        (45.0, "missed"),
        (59.0, "ok"),
    ]
    assert filled.tries[3].planned_minute == 45.0
    assert filled.tries[3].note == "no row in the file"


def test_a_late_sample_still_belongs_to_its_planned_minute() -> None:
    """Where the planned minute was recorded it decides, however late the sample was."""
    filled = with_planned_samples(
        recorded((0, 0), (15, 15), (41, 30), (46, 45), (60, 60)), PROTOCOL
    )
    assert all(one.status == "ok" for one in filled.tries)


def test_a_complete_test_stays_as_it_is() -> None:
    """Nothing is added."""
    whole = recorded((0, None), (15, None), (30, None), (45, None), (60, None))
    assert with_planned_samples(whole, PROTOCOL) == whole


def test_a_protocol_for_another_substrate_is_refused() -> None:
    """With the file, the protocol and what it is for."""
    with pytest.raises(InputError) as caught:
        with_planned_samples(recorded((0, None), substrate="lactose"), PROTOCOL)
    assert str(caught.value) == (
        "invented.csv: protocol glucose-60 does not fit; allowed: a test with glucose; "
        "came: lactose"
    )
