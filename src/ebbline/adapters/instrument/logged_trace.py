"""A raw log as one trace: what was sent, read by its profile, on the log's own times."""

from dataclasses import replace
from itertools import count

import numpy as np

from ebbline.adapters.files.trace_file import TraceFile
from ebbline.adapters.instrument.listener import Listener
from ebbline.adapters.instrument.profile import Profile, ReplayLink
from ebbline.core.breath.trace import PHYSICAL, Trace
from ebbline.core.errors import InputError, TraceFileError
from ebbline.services.events import Arrived

# Reading a log waits for nothing: on this clock an hour passes at each look.
_HOUR_S = 3600


def read_logged_trace(name: str, profile: Profile) -> TraceFile:
    """Read all values of a raw log as one trace.

    Parameters
    ----------
    name : str
        Name of the log.
    profile : Profile
        How its lines are taken apart; its link does not matter.

    Returns
    -------
    TraceFile

    Raises
    ------
    InstrumentError
        If it cannot be read, or is no raw log.
    TraceFileError
        If it holds no values that make a trace.
    """
    hours = count(0, _HOUR_S)
    listener = Listener(
        replace(profile, link=ReplayLink(name, 1.0)), clock=lambda: float(next(hours)), log=None
    )
    came: list[Arrived] = []
    # The first look opens the log, and only then is it known whether it is over.
    while True:
        came += [event for event in listener.poll(0.0) if isinstance(event, Arrived)]
        if listener.over:
            break
    listener.close()
    channels = {
        one.channel: np.array([row.values[one.channel] for row in came]) for one in profile.channels
    }
    try:
        trace = Trace(
            time_s=np.array([row.at_s for row in came]),
            **{channel: channels.get(channel) for channel in PHYSICAL},
        )
    except InputError as error:
        wrong, _, rest = str(error).partition("; allowed: ")
        allowed, _, got = rest.rpartition("; came: ")
        raise TraceFileError(file=name, wrong=wrong, allowed=allowed, came=got) from error
    return TraceFile(
        file=name,
        trace=trace,
        kind=None,
        begun_s=None,
        on_for_min=None,
        facts={"invented": "yes"} if profile.invented else {},
        unused={},
    )
