"""What a cycle has seen when it is over: what a reading is composed from and judged by."""

from collections.abc import Mapping
from dataclasses import dataclass

from numpy import float64
from numpy.typing import NDArray

from ebbline.core.breath.budget import Budget
from ebbline.core.breath.cycle import Cycle
from ebbline.core.breath.held import Running
from ebbline.core.breath.reasons import Outside
from ebbline.core.breath.trace import Channel
from ebbline.core.breath.zero import Zeroing

Float = NDArray[float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ended:
    """All that a cycle has seen; times in s on the trace's clock, None for what did not happen.

    Parameters
    ----------
    cycle : Cycle
        What it was run with.
    rows : ndarray, (n_samples, 6)
        Samples from the zero's room air to the end.
    zeros : mapping of channel name to Zeroing
        Empty where no breath was seen.
    onset_s : float or None
        When breath came to the inlet.
    blow_end_s : tuple of float or None
        Between which times the blow ended at the inlet; None where none passed.
    again : bool
        Whether breath came once more after room air had.
    held_s, settled_s : float or None
        When gas was held, and how long 99 % of its slowest response takes.
    held, budgets : mapping of channel name
        The last estimates of held gas, and their uncertainty by source where there is one.
    done_s : float or None
        When it was over.
    on_for_s : float or None
        How long the analyser had been on when breath came; None: not known.
    outside : tuple of Outside
        Numbers that no gas can have.
    """

    cycle: Cycle
    rows: Float
    zeros: Mapping[Channel, Zeroing]
    onset_s: float | None
    blow_end_s: tuple[float, float] | None
    again: bool
    held_s: float | None
    settled_s: float | None
    held: Mapping[Channel, Running]
    budgets: Mapping[Channel, Budget]
    done_s: float | None
    on_for_s: float | None
    outside: tuple[Outside, ...]
