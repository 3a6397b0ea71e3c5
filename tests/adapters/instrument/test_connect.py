"""Each kind of link has its connection."""

import pytest

from ebbline.adapters.instrument.connect import connection_of
from ebbline.adapters.instrument.profile import Link, ReplayLink, SimulatedLink, TcpLink
from ebbline.adapters.instrument.replay_link import ReplayConnection
from ebbline.adapters.instrument.serial_link import SerialConnection
from ebbline.adapters.instrument.simulated_link import SimulatedConnection
from ebbline.adapters.instrument.tcp_link import TcpConnection
from tests.adapters.instrument.live import STREAM, HandClock, at_port, on


@pytest.mark.parametrize(
    ("link", "kind"),
    [
        (at_port("/dev/none"), SerialConnection),
        (TcpLink("127.0.0.1", 9), TcpConnection),
        (ReplayLink("none.log", 1.0), ReplayConnection),
        (SimulatedLink("stream", 1, 1.0), SimulatedConnection),
    ],
)
def test_a_profile_gets_the_link_that_it_asks_for(link: Link, kind: type[object]) -> None:
    """Nothing is opened by that, and the clock stands at 0."""
    found = connection_of(on(STREAM, link), HandClock())
    assert type(found) is kind
    assert (found.now_s, found.over, found.remark) == (0.0, False, "")
    found.close()
