"""Replay: the same values at the same times as the first run, at any pace."""

import time
from pathlib import Path

import pytest

from ebbline.adapters.instrument.listener import Listener
from ebbline.adapters.instrument.profile import ReplayLink, SimulatedLink
from ebbline.adapters.instrument.raw_log import RawLog
from ebbline.adapters.instrument.replay_link import ReplayConnection
from ebbline.core.errors import InstrumentError
from ebbline.services.events import Event
from tests.adapters.instrument.live import (
    LINE,
    SERIAL,
    STREAM,
    HandClock,
    arrived,
    on,
    restored,
    troubles,
)


def a_log(path: Path, *, cut: bool) -> None:
    """Write 6 s of lines, ten a second from 100 s on; with a cut from 102 to 103 s if asked."""
    log = RawLog(path, name="Invented")
    log.add(100.0, "opened", b"")
    for tenth in range(1001, 1061):
        at_s = tenth / 10.0
        if cut and tenth == 1020:
            log.add(at_s, "lost", b"port gone")
        if cut and 1020 <= tenth < 1030:
            continue
        if cut and tenth == 1030:
            log.add(at_s, "opened", b"")
        log.add(at_s, "data", LINE)
    log.close()


def played(listener: Listener, within_s: float) -> list[Event]:
    """Return everything until it is over."""
    events: list[Event] = []
    end = time.monotonic() + within_s
    while not listener.over:
        assert time.monotonic() < end
        events += listener.poll(0.1)
    return events


def test_a_replay_has_the_logs_own_times_at_any_pace(tmp_path: Path) -> None:
    """6 s at 20 times the pace take 0.3 s; the first line is left out, as in the first run."""
    a_log(tmp_path / "raw.log", cut=False)
    begun = time.monotonic()
    listener = Listener(on(SERIAL, ReplayLink(str(tmp_path / "raw.log"), 20.0)), log=None)
    events = played(listener, 2.0)
    assert 0.25 < time.monotonic() - begun < 1.0
    assert troubles(events) == []
    assert [one.at_s for one in arrived(events)] == [tenth / 10.0 for tenth in range(1002, 1061)]


def test_a_cut_is_played_again(tmp_path: Path) -> None:
    """The link is lost where it was, and works again after the gap."""
    a_log(tmp_path / "raw.log", cut=True)
    listener = Listener(on(SERIAL, ReplayLink(str(tmp_path / "raw.log"), 10.0)), log=None)
    events = played(listener, 2.0)
    assert troubles(events) == ["unplugged"]
    (again,) = restored(events)
    assert again.gap_s == pytest.approx(1.2)
    at_s = [one.at_s for one in arrived(events)]
    assert at_s == pytest.approx(
        [t / 10.0 for t in (*range(1002, 1020), *range(1031, 1061))], abs=1e-9
    )


def test_a_torn_log_is_played_to_its_tear_and_told(tmp_path: Path) -> None:
    """When it is opened."""
    path = tmp_path / "raw.log"
    a_log(path, cut=False)
    path.write_bytes(path.read_bytes()[:-5])
    listener = Listener(on(SERIAL, ReplayLink(str(path), 100.0)), log=None)
    events = played(listener, 2.0)
    assert troubles(events) == ["torn_log"]
    assert f"the last line of {path} broke off and was left out" in str(events[0])
    assert arrived(events)[-1].at_s == 105.9


def test_a_log_without_records_is_over_at_once(tmp_path: Path) -> None:
    """Nothing was ever opened."""
    RawLog(tmp_path / "raw.log", name="Invented").close()
    listener = Listener(on(SERIAL, ReplayLink(str(tmp_path / "raw.log"), 1.0)), log=None)
    assert listener.poll(0.0) == ()
    assert listener.over


def test_a_log_that_is_not_there_is_refused() -> None:
    """At the first poll."""
    with pytest.raises(InstrumentError, match=r"^none\.log: cannot be read; allowed: a file that"):
        Listener(on(SERIAL, ReplayLink("none.log", 1.0)), log=None).poll(0.0)


def test_after_a_loss_time_passes_until_the_link_is_opened_again(tmp_path: Path) -> None:
    """And what comes next comes at its own time."""
    path = tmp_path / "raw.log"
    log = RawLog(path, name="Invented")
    log.add(0.0, "lost", b"port gone")
    log.add(1.0, "opened", b"")
    log.add(1.5, "data", LINE)
    log.close()
    clock = HandClock()
    link = ReplayConnection(ReplayLink(str(path), 2.0), clock)
    link.open()
    with pytest.raises(InstrumentError, match=r"^port gone$"):
        link.read(0.0)
    link.close()
    clock.now_s = 0.25
    assert link.now_s == 0.5
    link.open()
    assert (link.remark, link.read(0.0)) == ("", None)
    clock.now_s = 5.0
    # The log's clock waits for what is played next.
    assert link.now_s == 1.5
    received = link.read(0.0)
    assert received is not None
    assert (received.at_s, received.data, link.over) == (1.5, LINE, True)
    assert link.read(0.0) is None


def test_a_log_of_a_listener_played_again_gives_the_very_same_events(tmp_path: Path) -> None:
    """A virtual analyser at 300 times its pace for 0.3 s, then its log."""
    path = tmp_path / "raw.log"
    first = Listener(
        on(STREAM, SimulatedLink("stream", 3, 300.0)), log=RawLog(path, name="Invented")
    )
    events: list[Event] = []
    end = time.monotonic() + 0.3
    while time.monotonic() < end:
        events += first.poll(0.05)
    first.close()
    assert len(arrived(events)) > 100
    again = played(Listener(on(STREAM, ReplayLink(str(path), 1000.0)), log=None), 5.0)
    assert again == events
