from collections.abc import Mapping
from typing import Any

import numpy as np
import pytest

from ebbline.core.breath.trace import Trace
from ebbline.core.errors import InputError
from ebbline.services.events import Event, Restored, Trouble
from ebbline.services.keep_trace import KeptTrace
from ebbline.services.listen import Listening
from ebbline.services.prepare_cycle import Said
from ebbline.services.reduce_traces import ReducedTrace, ReduceTraces
from tests.helpers import library
from tests.services.instruments import (
    AnInstrument,
    ARecord,
    Played,
    Shelf,
    a_trace,
    an_instrument,
)

STREAM = an_instrument(invented=True)
CHAMBER = an_instrument(regime="chamber")
H2_ONLY = an_instrument("h2_ppm", regime="chamber")
BLOW = a_trace(STREAM)
BAG = a_trace(CHAMBER, breath_s=(65.0, 999.0), end_s=120.0)
PULLED = Trouble("unplugged", "the cable was pulled; push it in again")
BACK = Restored("values come again", 2.0)


class Drawer:
    """Keeps traces where a test can look at them."""

    def __init__(self) -> None:
        self.kept: list[KeptTrace] = []

    def __call__(self, kept: KeptTrace) -> str:
        self.kept.append(kept)
        return f"{len(self.kept)}.csv"


def a_listening(
    trace: Trace,
    *,
    instrument: AnInstrument = STREAM,
    events: Mapping[int, Event] | None = None,
    keep: Any = None,
    **said: Any,
) -> tuple[Listening, Played]:
    """Return what listens to a trace that is played, and the link."""
    source = Played(trace, events)
    given = {"method": "blow", "begun_s": None, "on_for_min": None, "reference": None}
    listening = Listening(
        library=library(),
        instrument=instrument,
        said=Said(**{**given, **said}),
        source=source,
        keep=keep,
    )
    return listening, source


def to_end(listening: Listening) -> list[ReducedTrace]:
    """Return all breaths until nothing more comes; one that is under way is ended there."""
    results = []
    while not listening.over:
        results += listening.poll(0.0)
    rest = listening.stop()
    return results if rest is None else [*results, rest]


def until(listening: Listening, at_s: float) -> None:
    """Play up to a time; no breath may end before."""
    while (listening.now.progress.at_s or 0.0) < at_s:
        assert listening.poll(0.0) == []


@pytest.mark.parametrize(
    ("trace", "instrument", "method"), [(BLOW, STREAM, "blow"), (BAG, CHAMBER, "bag")]
)
def test_live_and_from_the_kept_file_the_reading_is_the_same_to_the_last_bit(
    trace: Trace, instrument: AnInstrument, method: Any
) -> None:
    """Blow and bag: what is kept of a breath is enough to compute it again."""
    drawer = Drawer()
    listening, _ = a_listening(trace, instrument=instrument, keep=drawer, method=method)
    (live,) = to_end(listening)
    (kept,) = drawer.kept
    shelf = Shelf(instrument, ARecord("k.csv", kept.trace, kind=kept.kind))
    use_case = ReduceTraces(library(), shelf.read_trace, shelf.read_instrument)
    said = Said(method=None, begun_s=None, on_for_min=None, reference=None)
    (again,) = use_case(["k.csv"], profile="our.toml", said=said)
    assert live.reduction.reading == again.reduction.reading
    assert live.reduction.times == again.reduction.times
    assert live.reduction.quality == "accepted"


def test_what_is_kept_of_a_breath_is_named_and_says_what_it_is() -> None:
    """On the link's clock, with the profile and whether that is invented."""
    drawer = Drawer()
    listening, _ = a_listening(BLOW, keep=drawer, on_for_min=40.0)
    (reduced,) = to_end(listening)
    (kept,) = drawer.kept
    assert (reduced.file, reduced.invented, reduced.on_for_min) == ("1.csv", True, 40.0)
    assert "The trace is kept in 1.csv." in reduced.remarks
    assert (kept.kind, kept.begun_s, kept.on_for_min) == ("blow", None, 40.0)
    assert (kept.profile, kept.invented) == ("our analyser", True)
    assert set(kept.trace.time_s) <= set(BLOW.time_s)


def test_a_trace_that_cannot_be_kept_takes_no_result_with_it() -> None:
    """It is said beside the reading."""

    def full(kept: KeptTrace) -> str:
        raise InputError("the disk is full")

    listening, _ = a_listening(BLOW, keep=full)
    (reduced,) = to_end(listening)
    assert reduced.reduction.quality == "accepted"
    assert (reduced.file, reduced.remarks) == ("", ("The trace was not kept: the disk is full",))


def test_one_cycle_follows_the_other() -> None:
    """After a result the next breath is waited for, in room air again."""
    twice = np.concatenate([BLOW.time_s, BLOW.time_s + 90.0])

    def again(name: Any) -> Any:
        return np.concatenate([BLOW.channel(name)] * 2)

    trace = Trace(
        time_s=twice,
        h2_ppm=again("h2_ppm"),
        ch4_ppm=again("ch4_ppm"),
        o2_pct=again("o2_pct"),
        co2_pct=again("co2_pct"),
        flow_l_per_s=None,
    )
    listening, _ = a_listening(trace)
    results = to_end(listening)
    assert [one.reduction.quality for one in results] == ["accepted", "accepted"]
    first, second = (one.reduction.times.onset_s or 0.0 for one in results)
    assert second == pytest.approx(first + 90.0, abs=0.05)


def test_a_trouble_during_a_blow_is_told_and_does_not_lose_it() -> None:
    """While it lasts it is on the screen; afterwards it stands beside the result."""
    listening, _ = a_listening(BLOW, events={700: PULLED, 703: BACK})
    until(listening, 70.0)
    during = listening.now.trouble
    until(listening, 70.3)
    assert (during, listening.now.trouble) == (PULLED.words, None)
    (reduced,) = to_end(listening)
    assert reduced.reduction.quality == "accepted"
    assert reduced.remarks == (
        "On the link: the cable was pulled; push it in again",
        "On the link: values come again",
    )


def test_a_trouble_from_long_before_the_breath_is_not_told_beside_it() -> None:
    """However long room air is waited in, only what can matter is kept."""
    late = a_trace(STREAM, breath_s=(265.0, 275.0), end_s=285.0)
    listening, _ = a_listening(late, events={10: PULLED, 20: BACK})
    (reduced,) = to_end(listening)
    assert reduced.remarks == ()


def test_what_comes_first_of_all_may_be_a_trouble() -> None:
    """Before any sample."""
    listening, _ = a_listening(BLOW, events={0: PULLED})
    assert listening.now.progress.at_s is None
    until(listening, 0.1)
    assert listening.now.trouble == PULLED.words


def test_memory_is_flat_while_room_air_is_waited_in() -> None:
    """The kept trace of a breath after a long wait holds no more than its room air."""
    drawer = Drawer()
    late = a_trace(STREAM, breath_s=(465.0, 475.0), end_s=485.0)
    listening, _ = a_listening(late, keep=drawer)
    to_end(listening)
    assert drawer.kept[0].trace.time_s[0] > 300.0


def test_ctrl_c_during_a_blow_ends_it_there_and_lets_go_of_the_link() -> None:
    """What came is reduced and kept."""
    drawer = Drawer()
    listening, source = a_listening(BLOW, keep=drawer)
    until(listening, 72.0)
    rest = listening.stop()
    assert rest is not None
    assert rest.reduction.times.onset_s == pytest.approx(65.0, abs=0.3)
    assert len(drawer.kept) == 1
    assert source.closed


def test_ctrl_c_in_room_air_has_no_result() -> None:
    """There was no breath."""
    listening, source = a_listening(BLOW, keep=Drawer())
    until(listening, 30.0)
    assert listening.stop() is None
    assert source.closed


def test_the_countdowns_run() -> None:
    """Warm-up and room air; during a blow it is told when room air is back."""
    settings = library().reduction
    listening, _ = a_listening(BLOW, on_for_min=19.5)
    until(listening, 10.0)
    assert listening.now.warm_left_s == pytest.approx(20.0)
    assert listening.now.room_left_s == pytest.approx(settings.zero_shortest_s - 10.0, abs=3.0)
    until(listening, 60.0)
    assert (listening.now.warm_left_s, listening.now.room_left_s) == (0.0, 0.0)
    until(listening, 72.0)
    assert listening.now.progress.phase == "blow"
    assert not listening.now.room_back
    until(listening, 77.0)
    assert listening.now.room_back


def test_a_warm_up_that_nobody_knows_has_no_countdown() -> None:
    """It is neither over nor under way."""
    listening, _ = a_listening(BLOW)
    assert listening.now.warm_left_s is None


def test_numbers_that_no_gas_can_have_are_gaps_in_what_is_kept() -> None:
    """And the reading is refused with the number."""
    drawer = Drawer()
    listening, source = a_listening(BLOW, keep=drawer)
    until(listening, 70.0)
    source.wrong = {"h2_ppm": 9999.0}
    assert listening.poll(0.0) == []
    source.wrong = {}
    (reduced,) = to_end(listening)
    assert [one.value for one in reduced.reduction.outside] == [9999.0]
    assert "over_range" in [reason.code for reason in reduced.reduction.reasons]
    assert np.nanmax(drawer.kept[0].trace.channel("h2_ppm")) < 100.0


def test_a_bag_that_stays_on_is_not_taken_for_the_next_one() -> None:
    """Room air must come back first; then the next cycle begins."""
    swapped = a_trace(CHAMBER, breath_s=(65.0, 130.0), end_s=215.0)
    listening, _ = a_listening(swapped, instrument=CHAMBER, method="bag")
    results: list[ReducedTrace] = []
    while not results:
        results = listening.poll(0.0)
    until(listening, 120.0)
    now = listening.now
    assert now.clearing
    assert now.progress.phase == "room"
    assert now.progress.live["o2_pct"] == pytest.approx(13.9, abs=0.1)
    until(listening, 200.0)
    assert not listening.now.clearing
    assert listening.now.progress.room_s > 30.0
    assert to_end(listening) == []


def test_breath_that_is_there_from_the_first_is_waited_out() -> None:
    """Somebody blows while the link is opened."""
    early = a_trace(STREAM, breath_s=(-5.0, 3.0), end_s=20.0)
    listening, _ = a_listening(early)
    until(listening, 1.0)
    assert listening.now.clearing
    assert to_end(listening) == []


def test_without_a_marker_a_person_says_when_the_bag_begins() -> None:
    """Once; with O2 or CO2 it is seen, and a key changes nothing."""
    drawer = Drawer()
    bag = a_trace(H2_ONLY, breath_s=(65.0, 999.0), end_s=120.0)
    listening, _ = a_listening(bag, instrument=H2_ONLY, keep=drawer, method="bag")
    assert listening.now.needs_start
    listening.begin()
    until(listening, 65.0)
    listening.begin()
    listening.poll(0.0)
    listening.begin()
    (reduced,) = to_end(listening)
    assert reduced.reduction.times.onset_s == pytest.approx(65.0)
    assert drawer.kept[0].begun_s == pytest.approx(65.0)
    seen, _ = a_listening(BLOW)
    assert not seen.now.needs_start
    until(seen, 30.0)
    seen.begin()
    until(seen, 31.0)
    assert seen.now.progress.phase == "room"


def test_neither_blow_nor_bag_is_refused() -> None:
    """What is waited for decides what is done with it."""
    with pytest.raises(InputError) as caught:
        a_listening(BLOW, method=None)
    assert str(caught.value) == (
        "it is not said what is measured; allowed: blow or bag; came: neither"
    )


def test_a_profile_without_h2_is_refused_before_anybody_blows() -> None:
    """There would be no reading."""
    with pytest.raises(InputError, match="h2_ppm among them"):
        a_listening(BLOW, instrument=an_instrument("o2_pct"))
