"""A breath belongs to the planned sample nearest to it that is due, or to the one that is named."""

from dataclasses import replace

import pytest

from ebbline.core.clinic.record.bench import SampleTry, TryStatus
from ebbline.core.curve.protocol import Protocol
from ebbline.core.errors import FieldError
from ebbline.services.clinic.bench.place_sample import Place, place_sample
from tests.scene import LIBRARY

PROTOCOL = LIBRARY.protocols["lactose-180"]
TWO_FASTING = replace(PROTOCOL, fasting=(-15.0, 0.0))


def one(planned: float, status: TryStatus = "ok", label: str = "") -> SampleTry:
    """Return a try of which only these three matter here."""
    values = dict.fromkeys(SampleTry.__slots__)
    return SampleTry(**{**values, "id": "x", "planned_minute": planned, "status": status,
                        "label": label})  # type: ignore[arg-type]  # fmt: skip


def place(
    minute: float | None,
    *tries: SampleTry,
    planned: float | None = None,
    protocol: Protocol = PROTOCOL,
) -> Place:
    """Place a breath."""
    return place_sample(protocol, tries, minute=minute, planned_minute=planned)


@pytest.mark.parametrize(("minute", "planned"), [(16.0, 30.0), (44.9, 30.0), (46.0, 60.0)])
def test_the_nearest_one_is_taken(minute: float, planned: float) -> None:
    """To the halfway point on both sides."""
    assert place(minute) == Place(planned, "")


def test_after_the_last_planned_minute_it_is_the_last() -> None:
    """However late: the actual minute is kept as well."""
    assert place(205.0) == Place(180.0, "")


def test_a_person_may_name_another() -> None:
    """Also one that is in already: the last good try counts."""
    assert place(46.0, planned=30.0) == Place(30.0, "")
    assert place(62.0, one(60.0), planned=60.0) == Place(60.0, "")


def test_a_try_to_be_repeated_leaves_its_place_open() -> None:
    """The next breath is the same sample."""
    assert place(32.0, one(30.0, "repeat")) == Place(30.0, "")


@pytest.mark.parametrize(
    ("minute", "tries", "planned", "text"),
    [
        (
            45.0,
            (),
            None,
            (
                "planned_minute: minute 45 is halfway between two planned samples; allowed: 30 or "
                "60, as a person says; came: nothing"
            ),
        ),
        (
            62.0,
            (one(60.0),),
            None,
            (
                "planned_minute: the sample of 60 min is in already; allowed: a planned minute "
                "that a person names: 30, 60, 90, 120, 150, 180; came: nothing"
            ),
        ),
        (
            62.0,
            (one(60.0, "missed"),),
            None,
            (
                "planned_minute: the sample of 60 min is in already; allowed: a planned minute "
                "that a person names: 30, 60, 90, 120, 150, 180; came: nothing"
            ),
        ),
        (
            62.0,
            (),
            45.0,
            (
                "planned_minute: no such sample is planned; allowed: 30, 60, 90, 120, 150, 180; "
                "came: 45"
            ),
        ),
        (
            None,
            (),
            30.0,
            "planned_minute: no such fasting sample is planned; allowed: 0; came: 30",
        ),
    ],
)
def test_what_has_no_place_is_refused(
    minute: float | None, tries: tuple[SampleTry, ...], planned: float | None, text: str
) -> None:
    """A person must say which sample it is."""
    with pytest.raises(FieldError) as caught:
        place(minute, *tries, planned=planned)
    assert str(caught.value) == text


def test_fasting_samples_fill_the_planned_ones_in_order() -> None:
    """A third one belongs to the last planned."""
    found = [place(None, protocol=TWO_FASTING)]
    found.append(place(None, one(-15.0, label="B1"), protocol=TWO_FASTING))
    found.append(place(-1.0, one(-15.0, label="B1"), one(0.0, label="B2"), protocol=TWO_FASTING))
    assert found == [Place(-15.0, "B1"), Place(0.0, "B2"), Place(0.0, "B3")]
    assert place(None, planned=0.0, protocol=TWO_FASTING) == Place(0.0, "B1")


def test_a_number_is_not_given_again_after_a_sample_was_moved_away() -> None:
    """B2 stays B2 where B1 is gone."""
    assert place(None, one(0.0, label="B2")) == Place(0.0, "B3")


def test_a_protocol_without_fasting_samples_has_them_at_minute_0() -> None:
    """Whoever takes one all the same finds it there."""
    assert place(None, protocol=replace(PROTOCOL, fasting=())) == Place(0.0, "B1")
