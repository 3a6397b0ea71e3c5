"""A record of one channel: times, and values with gaps."""

import numpy as np
from numpy.typing import NDArray

from ebbline.core.errors import InputError

Float = NDArray[np.float64]


def known_values(what: str, time_s: Float, value: Float, *, fewest: int) -> NDArray[np.bool_]:
    """Return which samples have a value, and refuse arrays that cannot be a record.

    Parameters
    ----------
    what : str
        Who asks, for the message.
    time_s, value : ndarray (n_samples,)
        Times, s, and values, NaN for gaps.
    fewest : int
        How many values are needed.

    Returns
    -------
    ndarray (n_samples,) of bool

    Raises
    ------
    InputError
        If the arrays do not fit, times do not rise, or values are too few.
    """
    if time_s.ndim != 1 or value.shape != time_s.shape:
        raise InputError(
            f"{what}: the arrays do not fit; allowed: time_s and value of one length; "
            f"came: shapes {time_s.shape} and {value.shape}"
        )
    if not np.all(np.diff(time_s) > 0.0):
        raise InputError(
            f"{what}: time_s cannot be used; allowed: strictly rising; came: it is not"
        )
    known = np.isfinite(value)
    if known.sum() < fewest:
        raise InputError(
            f"{what}: too few values; allowed: {fewest} or more; came: {int(known.sum())}"
        )
    return known
