"""Run cycles from what an analyser sends: room air, blow or bag, result, and the next one."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from ebbline.core.breath.cycle import Method
from ebbline.core.breath.progress import Progress
from ebbline.core.breath.reduce import Reducer
from ebbline.core.breath.samples import Samples
from ebbline.core.breath.trace import Channel
from ebbline.core.errors import EbblineError, InputError
from ebbline.services.clear_air import Clearing
from ebbline.services.events import Arrived, Event, EventSource, Restored
from ebbline.services.keep_trace import KeptTrace, TraceKeeper, row_of, trace_of
from ebbline.services.library import Library
from ebbline.services.ports import Instrument
from ebbline.services.prepare_cycle import Said, choose_dilution, switched_on_s
from ebbline.services.reduce_traces import ReducedTrace

# Samples of room air kept beyond the zero's window, s: what comes before the breath is seen.
_SPARE_S = 60.0


@dataclass(frozen=True, slots=True)
class Now:
    """Where a cycle is, for a screen.

    Parameters
    ----------
    progress : Progress
        As the reducer has it.
    method : {"blow", "bag"}
        What is waited for.
    warm_left_s : float or None
        Time until the analyser is warm, s; None: not known how long it has been on.
    room_left_s : float
        Room air that is still needed, s.
    room_back : bool
        Whether room air has come back during a blow, so that it is over or was broken off.
    clearing : bool
        Whether breath is still there, of the last patient as a rule, and must go first.
    needs_start : bool
        Whether a person must say when the breath begins.
    trouble : str or None
        What is wrong with the link now, in words.
    """

    progress: Progress
    method: Method
    warm_left_s: float | None
    room_left_s: float
    room_back: bool
    clearing: bool
    needs_start: bool
    trouble: str | None


class Listening:
    """Cycles on one analyser, one after the other.

    ``instrument``, ``dilution`` and ``words`` are what they are run with.

    Parameters
    ----------
    library : Library
        Settings, references and words.
    instrument : Instrument
        The analyser's profile.
    said : Said
        Blow or bag, how long the analyser had been on when listening began, and the reference.
    source : EventSource
        The link.
    keep : TraceKeeper or None
        Keeps each breath's trace; None: none is kept.

    Raises
    ------
    InputError
        If it is not said whether blow or bag, or the profile's channels cannot be reduced.
    """

    def __init__(
        self,
        *,
        library: Library,
        instrument: Instrument,
        said: Said,
        source: EventSource,
        keep: TraceKeeper | None,
    ) -> None:
        if said.method is None:
            raise InputError("it is not said what is measured; allowed: blow or bag; came: neither")
        self._library = library
        self.instrument = instrument
        self.words = library.quality
        self._said = said
        self._method: Method = said.method
        self._source = source
        self._keep = keep
        self.dilution = choose_dilution(said.reference, library)
        self._trouble: str | None = None
        self._start_cycle(clear_for_s=0.0)

    def _start_cycle(self, *, clear_for_s: float) -> None:
        """Wait for the next breath, once room air has been there for so long."""
        self._clearing = Clearing(clear_for_s, self._library.reduction.onset_share)
        self._reducer = Reducer(
            sensors=self.instrument.sensors,
            method=self._method,
            settings=self._library.reduction,
            dilution=self.dilution,
            begun_s=None,
            switched_on_s=switched_on_s(self._said.on_for_min),
        )
        self._samples = Samples()
        self._begun_s: float | None = None
        self._troubles: list[tuple[float, str]] = []

    @property
    def over(self) -> bool:
        """Whether nothing more will come."""
        return self._source.over

    def poll(self, timeout_s: float) -> list[ReducedTrace]:
        """Take what has happened on the link; return the breaths that ended by it.

        Parameters
        ----------
        timeout_s : float
            How long to wait at the most, s.

        Returns
        -------
        list of ReducedTrace

        Raises
        ------
        InstrumentError
            If the link can never be opened.
        """
        ended = []
        for event in self._source.poll(timeout_s):
            self._take(event)
            if self._reducer.phase == "done":
                ended.append(self._end_cycle())
        return ended

    def begin(self) -> None:
        """Say that blow or bag begins now; needed without O2 and CO2."""
        at_s = self._reducer.progress.at_s
        if at_s is not None and self._begun_s is None and self._reducer.cycle.watched is None:
            self._begun_s = at_s
            self._reducer.begin(at_s)

    def stop(self) -> ReducedTrace | None:
        """Let go of the link; return the breath that was under way, ended where it is, or None."""
        self._source.close()
        return None if self._reducer.phase == "room" else self._end_cycle()

    @property
    def now(self) -> Now:
        """Where the cycle is."""
        progress, settings = self._reducer.progress, self._library.reduction
        cleared = self._clearing.last
        if cleared is not None:
            progress = replace(progress, at_s=cleared.at_s, live=_there(cleared.values))
        on_for_min = self._said.on_for_min
        warm_left_s = None
        if on_for_min is not None:
            on_for_s = 60.0 * on_for_min + (progress.at_s or 0.0)
            warm_left_s = max(settings.warm_up_s - on_for_s, 0.0)
        share = progress.alveolar_share
        room_back = progress.phase == "blow" and share is not None and share < settings.onset_share
        return Now(
            progress=progress,
            method=self._method,
            warm_left_s=warm_left_s,
            room_left_s=max(progress.room_needed_s - progress.room_s, 0.0),
            room_back=room_back,
            clearing=cleared is not None,
            needs_start=self._reducer.cycle.watched is None,
            trouble=self._trouble,
        )

    def _take(self, event: Event) -> None:
        """Take one event."""
        if isinstance(event, Arrived):
            if not self._clearing.over(event, self._reducer.cycle.watched):
                return
            self._samples.append(row_of(event.at_s, event.values))
            self._reducer.add(event.at_s, event.values)
            if self._reducer.phase == "room":
                self._samples.drop_before(
                    event.at_s - self._library.reduction.zero_window_s - _SPARE_S
                )
        else:
            self._trouble = None if isinstance(event, Restored) else event.words
            self._troubles = [*self._recent_troubles(), (self._last_s, event.words)]

    @property
    def _last_s(self) -> float:
        """Time of the last sample, s; before the first there is none as early."""
        at_s = self._reducer.progress.at_s
        return -math.inf if at_s is None else at_s

    def _recent_troubles(self) -> list[tuple[float, str]]:
        """Return the troubles since the first sample that is kept, so that a wait stays small."""
        rows = self._samples.rows
        if len(rows) == 0:
            return self._troubles[-1:]
        return [one for one in self._troubles if one[0] >= rows[0, 0]]

    def _end_cycle(self) -> ReducedTrace:
        """Return what came of the breath, keep its trace, and wait for the next."""
        reduction = self._reducer.finish()
        name, remarks = self._keep_trace()
        remarks = [f"On the link: {words}" for _, words in self._recent_troubles()] + remarks
        reduced = ReducedTrace(
            engine=self._library.engine,
            file=name,
            facts={},
            unused={},
            invented=self.instrument.invented,
            instrument=self.instrument.name,
            sensors=self._reducer.cycle.sensors,
            dilution=self.dilution,
            on_for_min=self._said.on_for_min,
            trace=None,
            reduction=reduction,
            expiration=None,
            remarks=tuple(remarks),
            words=self.words,
        )
        # Bag or chamber still hold this breath, and it must not be taken for the next one.
        self._start_cycle(clear_for_s=self._library.reduction.confirm_s)
        return reduced

    def _keep_trace(self) -> tuple[str, list[str]]:
        """Keep the breath's trace; return its name, and what is to be said of that."""
        if self._keep is None:
            return "", []
        try:
            name = self._keep(
                KeptTrace(
                    trace=trace_of(self._samples.rows),
                    kind=self._method,
                    begun_s=self._begun_s,
                    on_for_min=self._said.on_for_min,
                    profile=self.instrument.name,
                    invented=self.instrument.invented,
                )
            )
        except EbblineError as error:
            # The result is there and must be seen, whatever became of its file.
            return "", [f"The trace was not kept: {error}"]
        return name, [f"The trace is kept in {name}."]


def _there(values: Mapping[Channel, float]) -> dict[Channel, float]:
    """Return the values that are there, without gaps."""
    return {name: value for name, value in values.items() if math.isfinite(value)}
