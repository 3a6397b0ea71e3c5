"""Fit the response of one channel to a recorded step."""

import math
from dataclasses import dataclass, replace
from typing import Literal, get_args

import numpy as np
from numpy.typing import NDArray

from ebbline.core.breath.response import Response, rise_10_90_s, t90_s, time_to_share_s
from ebbline.core.breath.response_fit import ResponseFit, fit_response
from ebbline.core.breath.trace import Channel
from ebbline.core.errors import InputError, list_allowed
from ebbline.services.ports import TraceReader

Float = NDArray[np.float64]

GASES: tuple[Channel, ...] = tuple(name for name in get_args(Channel) if name != "flow_l_per_s")
"""Channels that have a response in a profile."""

# Step for the slope of t90, as a share of the time constant: far above rounding, far below bends.
_SMALL = 1e-4


@dataclass(frozen=True, slots=True, eq=False)
class StepFit:
    """The response of one channel, as a profile would have it.

    Parameters
    ----------
    file : str
        Name of the trace file.
    invented : bool
        Whether the file says that its data are invented.
    channel : str
        Which channel.
    fit : ResponseFit
        Delay and time constants with their uncertainties.
    u_tau_fraction : float
        Relative standard uncertainty of the sum of the time constants, which sets how long the
        response takes.
    u_t90_s : float
        Standard uncertainty of the time to 90 %, s.
    """

    file: str
    invented: bool
    channel: Channel
    fit: ResponseFit
    u_tau_fraction: float
    u_t90_s: float

    @property
    def t90_s(self) -> float:
        """Time from the end of the delay to 90 %, s."""
        return t90_s(self.fit.response)

    @property
    def rise_10_90_s(self) -> float:
        """Time from 10 to 90 %, s."""
        return rise_10_90_s(self.fit.response)

    @property
    def settled_s(self) -> float:
        """Time from the step to 99 %, delay included, s."""
        return self.fit.response.delay_s + time_to_share_s(0.99, self.fit.response)


@dataclass(frozen=True, slots=True)
class FitStep:
    """The use case, with what it needs from outside."""

    read_trace: TraceReader

    def __call__(self, name: str, *, channel: str, at_s: float, poles: Literal[1, 2]) -> StepFit:
        """Return the response of one channel.

        Parameters
        ----------
        name : str
            Name of a trace file that holds one step.
        channel : str
            Which of its channels.
        at_s : float
            When the gas at the inlet changed, s on the trace's clock.
        poles : {1, 2}
            How many time constants.

        Returns
        -------
        StepFit

        Raises
        ------
        InputError
            If the file is refused, has no such channel, or holds no step that can be fitted.
        """
        record = self.read_trace(name)
        there = [one for one in GASES if one in record.trace.channels]
        found = next((one for one in there if one == channel), None)
        if found is None:
            raise InputError(
                f"{record.file}: no such channel to fit; allowed: {list_allowed(there)}; "
                f"came: {channel}"
            )
        trace = record.trace
        try:
            fit = fit_response(trace.time_s, trace.channel(found), step_at_s=at_s, poles=poles)
        except InputError as error:
            raise InputError(f"{record.file}, {channel}: {error}") from error
        taus = fit.covariance[1:, 1:]
        whole_s = fit.response.tau_s + fit.response.tau2_s
        slopes = _slopes_of_t90(fit.response, len(taus))
        return StepFit(
            file=record.file,
            invented=record.invented,
            channel=found,
            fit=fit,
            u_tau_fraction=math.sqrt(float(taus.sum())) / whole_s,
            u_t90_s=math.sqrt(float(slopes @ taus @ slopes)),
        )


def _slopes_of_t90(response: Response, poles: int) -> Float:
    """Return how t90 changes with each time constant, by central differences."""
    slopes = np.empty(poles)
    for place, name in enumerate(("tau_s", "tau2_s")[:poles]):
        tau = getattr(response, name)
        more, less = (
            t90_s(replace(response, **{name: tau * (1.0 + share)})) for share in (_SMALL, -_SMALL)
        )
        slopes[place] = (more - less) / (2.0 * _SMALL * tau)
    return slopes
