"""The last stage of a cycle: gas is held, until it is known well enough or time is up."""

import math
from collections.abc import Iterable, Mapping

import numpy as np
from numpy.typing import NDArray

from ebbline.core.breath.budget import Budget
from ebbline.core.breath.cycle import TRACE_GASES, Cycle
from ebbline.core.breath.held import HeldGas, Running
from ebbline.core.breath.progress import Settling
from ebbline.core.breath.response import time_to_share_s
from ebbline.core.breath.samples import column
from ebbline.core.breath.sensor import rounding_left
from ebbline.core.breath.trace import Channel
from ebbline.core.breath.zero import Zeroing

Float = NDArray[np.float64]

# The share of a response that counts as all of it.
_SETTLED = 0.99


class Hold:
    """Follows held gas in some channels.

    Parameters
    ----------
    cycle : Cycle
        What the cycle is run with.
    names : iterable of str
        The channels.
    zeros : mapping of channel name to Zeroing
        Their zeros.
    start_s, u_start_s : float
        When the gas came to the inlet, and the standard uncertainty of that, s.
    """

    def __init__(
        self,
        cycle: Cycle,
        names: Iterable[Channel],
        zeros: Mapping[Channel, Zeroing],
        *,
        start_s: float,
        u_start_s: float,
    ) -> None:
        self._cycle = cycle
        self._zeros = zeros
        self.start_s = start_s
        self._gases = {
            name: HeldGas(
                cycle.sensors[name],
                start_s=start_s,
                u_start_s=u_start_s,
                u_zero=u_zero(cycle, name, zeros[name], start_s),
                fewest=cycle.settings.fewest,
            )
            for name in names
        }
        self.running: dict[Channel, Running] = {}

    def feed(self, rows: Float) -> tuple[int, bool]:
        """Take samples; return how many were taken, and whether the watching is over."""
        if len(rows) == 0:
            return 0, False
        enough = np.ones(len(rows), dtype=np.bool_)
        for name, gas in self._gases.items():
            shown = above_room(self._cycle, name, self._zeros[name], rows)
            self.running[name] = gas.feed(rows[:, 0], shown)
            enough &= self._known(name)
        enough |= rows[:, 0] >= self.start_s + self.longest_s
        if not enough.any():
            return len(rows), False
        stop = int(np.argmax(enough))
        for name, gas in self._gases.items():
            gas.settle(stop)
            self.running[name] = self.running[name].at(stop)
        return stop + 1, True

    def _known(self, name: Channel) -> NDArray[np.bool_]:
        """Return after which samples a gas is known as well as was asked.

        Nothing is asked of a marker beside H2 or CH4; by itself it is watched until it is there.
        """
        running = self.running[name]
        if name in TRACE_GASES:
            u = np.hypot(running.u, rounding_left(self._cycle.sensors[name], 0.0))
            seen = running.share >= self._cycle.settings.least_share
            return (u <= asked(self._cycle, running.value)) & seen
        beside = any(gas in TRACE_GASES for gas in self._gases)
        return (running.share >= _SETTLED) | beside

    @property
    def longest_s(self) -> float:
        """How long the gas is watched at the most, s."""
        return max(self._cycle.settings.longest_hold_s, self.settled_s)

    @property
    def settled_s(self) -> float:
        """Time to 99 % of the slowest response, s."""
        responses = [self._cycle.sensors[name].response for name in self._gases]
        return max(one.delay_s + time_to_share_s(_SETTLED, one) for one in responses)

    def budgets(self) -> dict[Channel, Budget]:
        """Return the uncertainty of each gas that has an estimate, by source."""
        return {
            name: self._gases[name].budget()
            for name, running in self.running.items()
            if math.isfinite(running.value[-1])
        }

    def settling(self) -> dict[Channel, Settling]:
        """Return where each gas is on its way."""
        found = {}
        for name, running in self.running.items():
            above, u = float(running.value[-1]), float(running.u[-1])
            known = math.isfinite(above)
            wanted = float(asked(self._cycle, np.array(above)))
            found[name] = Settling(
                value=above + self._cycle.ambient(name) if known else None,
                u=u if known else None,
                asked=wanted if known and name in TRACE_GASES else None,
                share=float(running.share[-1]),
            )
        return found


def asked(cycle: Cycle, value: Float) -> Float:
    """Return the standard uncertainty that is asked of values of H2 or CH4.

    Parameters
    ----------
    cycle : Cycle
        What the cycle is run with.
    value : ndarray of any shape, ppm
        The values.

    Returns
    -------
    ndarray of the same shape, ppm
    """
    return np.maximum(cycle.settings.u_ppm, cycle.settings.u_fraction * np.abs(value))


def u_zero(cycle: Cycle, name: Channel, zeroing: Zeroing, at_s: float) -> float:
    """Return the standard uncertainty of a channel's zero at a time, rounding in it included.

    Parameters
    ----------
    cycle : Cycle
        What the cycle is run with.
    name : str
        The channel.
    zeroing : Zeroing
        Its zero.
    at_s : float
        The time, s.

    Returns
    -------
    float
        In the channel's unit.
    """
    sensor, zero = cycle.sensors[name], zeroing.zero
    if zero is None:
        # Nothing was measured; the reading is refused, and its number stands for itself.
        return sensor.noise + sensor.resolution
    return math.hypot(float(zero.u_error(np.array(at_s))), rounding_left(sensor, 0.0))


def above_room(cycle: Cycle, name: Channel, zeroing: Zeroing, rows: Float) -> Float:
    """Return a channel above room air with its zero taken off.

    Parameters
    ----------
    cycle : Cycle
        What the cycle is run with.
    name : str
        The channel.
    zeroing : Zeroing
        Its zero.
    rows : ndarray, (n_samples, 6)
        Samples.

    Returns
    -------
    ndarray, (n_samples,)
        In the channel's unit; NaN for gaps.
    """
    shown = rows[:, column(name)] - cycle.ambient(name)
    return shown if zeroing.zero is None else shown - zeroing.zero.error(rows[:, 0])
