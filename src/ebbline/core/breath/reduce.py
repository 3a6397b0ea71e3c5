"""From a trace to a reading, sample by sample: room air, breath, held gas, done.

`reduce` and a `Reducer` that is fed sample by sample are the same computation: a trace is one block
of samples, and every stage takes blocks of any length and gives the same bits however they are cut.
"""

import math
from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from ebbline.core.breath.blow import Blow
from ebbline.core.breath.compose import compose
from ebbline.core.breath.cycle import Cycle, Method
from ebbline.core.breath.ended import Ended
from ebbline.core.breath.hold import Hold
from ebbline.core.breath.progress import Phase, Progress
from ebbline.core.breath.reading import Dilution
from ebbline.core.breath.reasons import Outside
from ebbline.core.breath.reduction import Reduction
from ebbline.core.breath.room import Room
from ebbline.core.breath.samples import COLUMNS, Samples, column, rows_of
from ebbline.core.breath.sensor import Sensors
from ebbline.core.breath.settings import ReductionSettings
from ebbline.core.breath.trace import PHYSICAL, Channel, Trace
from ebbline.core.breath.zero import Zeroing
from ebbline.core.errors import InputError

Float = NDArray[np.float64]

# Held gas is mostly known after a part of a long trace, so no more is looked at in one go.
_AT_ONCE = 128
_LIMITS = np.array([PHYSICAL[name] for name in COLUMNS])


def reduce(
    trace: Trace,
    *,
    sensors: Sensors,
    method: Method,
    settings: ReductionSettings,
    dilution: Dilution,
    begun_s: float | None,
    switched_on_s: float | None,
) -> Reduction:
    """Reduce a whole trace.

    Parameters
    ----------
    trace : Trace
        Room air, then one blow or one bag.
    sensors : mapping of channel name to Sensor
        What is known of each gas channel; H2 must be among them.
    method : {"blow", "bag"}
        A blow is seen as it passes by channels of the stream regime, and held for those of the
        chamber regime; a bag is held for all.
    settings : ReductionSettings
        Windows and limits.
    dilution : Dilution
        References for room air and alveolar gas.
    begun_s : float or None
        When a person said that it began, on the trace's clock, s; needed where the analyser has
        neither O2 nor CO2, and not used otherwise.
    switched_on_s : float or None
        When the analyser was switched on, on the trace's clock, s; None: not known, not judged.

    Returns
    -------
    Reduction

    Raises
    ------
    InputError
        If the channels cannot be reduced, or nothing shows when breath began.
    """
    reducer = Reducer(
        sensors=sensors,
        method=method,
        settings=settings,
        dilution=dilution,
        begun_s=begun_s,
        switched_on_s=switched_on_s,
    )
    if begun_s is None and reducer.cycle.watched is None:
        raise InputError(
            "reduction: nothing shows when breath began; allowed: O2 or CO2 among the channels, or "
            f"the time at which it began; came: {', '.join(sensors)} and no time"
        )
    reducer.feed(rows_of(trace))
    return reducer.finish()


class Reducer:
    """One cycle, fed as it comes; the parameters are those of :func:`reduce`.

    ``phase`` says where it is: in room air, blowing, holding gas, or done. Memory stays flat while
    it waits in room air.
    """

    def __init__(
        self,
        *,
        sensors: Sensors,
        method: Method,
        settings: ReductionSettings,
        dilution: Dilution,
        begun_s: float | None,
        switched_on_s: float | None,
    ) -> None:
        self.cycle = Cycle(sensors, method, settings, dilution)
        self.phase: Phase = "room"
        self._switched_on_s = switched_on_s
        self._samples = Samples()
        self._outside: list[Outside] = []
        self._room = Room(self.cycle, self._samples, begun_s)
        self._zeros: dict[Channel, Zeroing] = {}
        self._blow: Blow | None = None
        self._hold: Hold | None = None
        self._last: Float | None = None
        self._done_s: float | None = None

    def begin(self, at_s: float) -> None:
        """Say that breath or bag began at a time, s; needed only without a marker channel."""
        self._room.begun_s = at_s

    def add(self, time_s: float, values: Mapping[Channel, float]) -> None:
        """Take one sample; a channel that is not among the values is a gap."""
        row = np.full((1, len(COLUMNS) + 1), np.nan)
        row[0, 0] = time_s
        for name, value in values.items():
            row[0, column(name)] = value
        self.feed(row)

    def feed(self, rows: Float) -> None:
        """Take samples in the order of time; after the end of the cycle they change nothing.

        Parameters
        ----------
        rows : ndarray, (n_samples, 6)
            Time, s, then the channels in the order of `ebbline.core.breath.samples.COLUMNS`; NaN
            for gaps. Numbers outside physical limits are kept apart and refuse the reading.

        Raises
        ------
        InputError
            If a time is not after the one before it; nothing of the samples is taken.
        """
        self._check_times(rows[:, 0])
        rest = self._physical(rows)
        while len(rest) and self.phase != "done":
            used = self._take(rest)
            # A copy: whoever feeds may use the array again.
            self._last = rest[used - 1].copy()
            rest = rest[used:]

    def finish(self) -> Reduction:
        """End the cycle where it is, if it has not ended by itself, and return what came of it."""
        if self.phase == "blow":
            self._end_blow()
        self.phase = "done"
        if self._done_s is None and self._last is not None:
            self._done_s = float(self._last[0])
        return compose(self._ended())

    def _check_times(self, time_s: Float) -> None:
        """Refuse times that do not rise."""
        before_s = -math.inf if self._last is None else float(self._last[0])
        steps = np.diff(time_s, prepend=before_s)
        # An infinite step is the first sample's; NaN is no time at all.
        wrong = np.flatnonzero(~(steps > 0.0))
        if wrong.size:
            at = int(wrong[0])
            last_s = float(time_s[at - 1]) if at else before_s
            raise InputError(
                f"reduction: time does not rise; allowed: after {last_s:g} s; "
                f"came: {float(time_s[at]):g} s"
            )

    def _physical(self, rows: Float) -> Float:
        """Keep numbers that no gas can have out of the arithmetic, and remember them."""
        values = rows[:, 1:]
        wrong = (values < _LIMITS[:, 0]) | (values > _LIMITS[:, 1])
        if not wrong.any() or self.phase == "done":
            return rows
        for at, which in zip(*np.nonzero(wrong), strict=True):
            number = float(values[at, which])
            self._outside.append(Outside(float(rows[at, 0]), COLUMNS[which], number))
        cleaned = rows.copy()
        cleaned[:, 1:][wrong] = np.nan
        return cleaned

    def _take(self, rows: Float) -> int:
        """Give samples to the stage that the cycle is in; return how many it took."""
        if self._hold is not None:
            used, over = self._hold.feed(rows[:_AT_ONCE])
            self._samples.append(rows[:used])
            if over:
                self._end(float(rows[used - 1, 0]))
        elif self._blow is not None:
            used, over = self._blow.feed(rows)
            if over:
                self._end_blow()
        else:
            used, over = self._room.feed(rows)
            first_s = float(self._samples.rows[0, 0])
            self._outside = [one for one in self._outside if one.time_s >= first_s]
            if over:
                self._begin()
        return used

    def _begin(self) -> None:
        """Take the zero, now that breath was seen, and go on to what the method asks for."""
        self._zeros = self._room.zeros()
        watched = self.cycle.watched
        if self.cycle.method == "blow" and watched and watched.sensor.regime == "stream":
            self._blow = Blow(self.cycle, self._samples, watched, self._room.seen_s)
            self.phase = "blow"
        else:
            self._watch(tuple(self.cycle.sensors), self._room.onset_s, self._room.u_onset_s)

    def _end_blow(self) -> None:
        """Go on from a blow that is over to the held channels, or be done."""
        assert self._blow is not None
        clear_s, turn_s = self._blow.end_s
        sensors = self.cycle.sensors
        held = tuple(name for name, sensor in sensors.items() if sensor.regime == "chamber")
        if held:
            # The end lies between the last clear sample and the turn; flushing takes a moment too.
            u_s = math.hypot((turn_s - clear_s) / math.sqrt(12.0), self.cycle.settings.trim_s)
            self._watch(held, (clear_s + turn_s) / 2.0, u_s)
        else:
            self._end(float(self._samples.rows[-1, 0]))

    def _watch(self, names: tuple[Channel, ...], start_s: float, u_start_s: float) -> None:
        """Watch held gas from a moment on, with the samples that have come since."""
        self._hold = Hold(self.cycle, names, self._zeros, start_s=start_s, u_start_s=u_start_s)
        self.phase = "held"
        rows = self._samples.rows
        since = rows[np.searchsorted(rows[:, 0], start_s, side="right") :]
        used, over = self._hold.feed(since)
        if over:
            self._end(float(since[used - 1, 0]))

    def _end(self, at_s: float) -> None:
        """Be done; what came later in the same block is no part of it."""
        self._outside = [one for one in self._outside if one.time_s <= at_s]
        self._done_s = at_s
        self.phase = "done"

    @property
    def progress(self) -> Progress:
        """Where the cycle is now."""
        room, hold, watched = self._room, self._hold, self.cycle.watched
        settings = self.cycle.settings
        at_s = None if self._last is None else float(self._last[0])
        shown = {
            name: float(self._last[column(name)])
            for name in self.cycle.sensors
            if self._last is not None and math.isfinite(self._last[column(name)])
        }
        share = blown_s = left_s = None
        room_s = 0.0
        if watched is not None and watched.channel in shown:
            share = float(watched.share(np.array(shown[watched.channel])))
        if at_s is not None:
            room_s = at_s - float(self._samples.rows[0, 0]) - room.lead_s
            blown_s = at_s - room.onset_s if self._zeros else None
            left_s = None if hold is None else max(hold.start_s + hold.longest_s - at_s, 0.0)
        return Progress(
            phase=self.phase,
            at_s=at_s,
            room_s=min(max(room_s, 0.0), settings.zero_window_s),
            room_needed_s=settings.zero_shortest_s,
            alveolar_share=share,
            blown_s=blown_s,
            steady_s=self._blow.steady_s if self._blow is not None else 0.0,
            steady_needed_s=settings.wash_s + settings.plateau_shortest_s + settings.trim_s,
            at_most_s=left_s,
            settling={} if hold is None else hold.settling(),
            live=shown,
        )

    def _ended(self) -> Ended:
        """Gather what the reading is composed from."""
        seen, blow, hold = bool(self._zeros), self._blow, self._hold
        on_for_s = None
        if seen and self._switched_on_s is not None:
            on_for_s = self._room.seen_s - self._switched_on_s
        return Ended(
            cycle=self.cycle,
            rows=self._samples.rows.copy(),
            zeros=dict(self._zeros),
            onset_s=self._room.onset_s if seen else None,
            blow_end_s=None if blow is None else blow.end_s,
            again=blow is not None and blow.again,
            held_s=None if hold is None else hold.start_s,
            settled_s=None if hold is None else hold.settled_s,
            held={} if hold is None else dict(hold.running),
            budgets={} if hold is None else hold.budgets(),
            done_s=self._done_s,
            on_for_s=on_for_s,
            outside=tuple(self._outside),
        )
