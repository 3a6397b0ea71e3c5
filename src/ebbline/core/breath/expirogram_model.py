"""A smooth expirogram: a dead space, a transition and a sloping plateau in one formula."""

import numpy as np
from numpy.typing import NDArray

from ebbline.core.errors import InputError

Float = NDArray[np.float64]


def sigmoid_expirogram_pct(
    volume_l: Float,
    *,
    alveolar_pct: float,
    slope_pct_per_l: float,
    dead_space_l: float,
    width_l: float,
) -> Float:
    """Return the smooth model F(V) = [FA + S (V - V0)] / [1 + exp(-(V - V0)/w)].

    Parameters
    ----------
    volume_l : ndarray, (n_samples,), L
        Expired volume.
    alveolar_pct, slope_pct_per_l : float
        FA, the line of phase III at V0, %, and its slope S, %/L.
    dead_space_l, width_l : float
        V0, the middle of phase II, and w, its width, L; the width is above 0.

    Returns
    -------
    ndarray, (n_samples,), %
        Above what is inspired.

    Raises
    ------
    InputError
        If the width is not above 0.
    """
    if not width_l > 0.0:
        raise InputError(
            f"expirogram: the width cannot be used; allowed: above 0 L; came: {width_l:g} L"
        )
    past = np.asarray(volume_l) - dead_space_l
    # The logistic function by tanh: it never overflows.
    open_share = 0.5 * (1.0 + np.tanh(past / (2.0 * width_l)))
    return (alveolar_pct + slope_pct_per_l * past) * open_share
