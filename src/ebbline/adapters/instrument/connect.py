"""The link that a profile asks for."""

from collections.abc import Callable

from ebbline.adapters.instrument.links import Connection
from ebbline.adapters.instrument.profile import Profile, ReplayLink, SerialLink, TcpLink
from ebbline.adapters.instrument.replay_link import ReplayConnection
from ebbline.adapters.instrument.simulated_link import SimulatedConnection
from ebbline.adapters.instrument.tcp_link import TcpConnection


def connection_of(profile: Profile, clock: Callable[[], float]) -> Connection:
    """Return the link that a profile asks for, not open yet.

    Parameters
    ----------
    profile : Profile
        The analyser.
    clock : callable
        Returns seconds that never go back.

    Returns
    -------
    Connection
    """
    link = profile.link
    if isinstance(link, SerialLink):
        # Only those who have a serial port need the library for it.
        from ebbline.adapters.instrument.serial_link import SerialConnection  # noqa: PLC0415

        return SerialConnection(link, clock)
    if isinstance(link, TcpLink):
        return TcpConnection(link, clock)
    if isinstance(link, ReplayLink):
        return ReplayConnection(link, clock)
    return SimulatedConnection(profile, link, clock)
