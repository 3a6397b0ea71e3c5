"""The virtual analyser as a link: lines at its own times, without end."""

import time
from itertools import pairwise

from ebbline.adapters.instrument.listener import Listener
from ebbline.adapters.instrument.profile import SimulatedLink
from ebbline.adapters.instrument.simulated_link import SimulatedConnection
from ebbline.services.events import Event
from tests.adapters.instrument.live import CHAMBER, STREAM, HandClock, arrived, on, troubles


def test_a_virtual_analyser_is_listened_to_like_any_other() -> None:
    """Both forms of line, at 200 times the pace, without a trouble."""
    for profile, what in (
        (STREAM, SimulatedLink("stream", 3, 200.0)),
        (CHAMBER, SimulatedLink("bag", 3, 200.0)),
    ):
        listener = Listener(on(profile, what), log=None)
        events: list[Event] = []
        begun = time.monotonic()
        while time.monotonic() < begun + 0.5:
            events += listener.poll(0.05)
        came = arrived(events)
        assert troubles(events) == []
        assert not listener.over
        listener.close()
        assert 200 < len(came) < 1500
        assert set(came[0].values) == {one.channel for one in profile.channels}
        gaps = [b.at_s - a.at_s for a, b in pairwise(came)]
        assert 0.07 < min(gaps) < max(gaps) < 0.13


def test_the_virtual_analysers_clock_waits_for_its_next_line() -> None:
    """However long a breath takes to be computed: times never go back."""
    clock = HandClock()
    link = SimulatedConnection(STREAM, SimulatedLink("stream", 3, 100.0), clock)
    clock.now_s = 7.0
    assert link.now_s == 0.0
    link.open()
    assert link.now_s == 0.0
    assert link.read(0.0) is None
    clock.now_s = 8.0
    before_s = link.now_s
    assert 0.0 < before_s < 0.1
    link.open()
    received = link.read(0.0)
    assert received is not None
    assert received.at_s == before_s
    assert before_s < link.now_s < 0.2
    link.close()
