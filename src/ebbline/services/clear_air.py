"""Wait until the breath before is gone, so that it is not taken for the next one."""

import math

import numpy as np

from ebbline.core.breath.cycle import Watched
from ebbline.services.events import Arrived


class Clearing:
    """Waits until the marker gas has been that of room air for some time.

    Parameters
    ----------
    for_s : float
        For how long, s.
    onset_share : float
        From this share of the way to alveolar gas on it is breath.
    """

    def __init__(self, for_s: float, onset_share: float) -> None:
        self._for_s = for_s
        self._onset_share = onset_share
        self._since_s = math.nan
        self._over = False
        self.last: Arrived | None = None

    def over(self, event: Arrived, watched: Watched | None) -> bool:
        """Take one sample; return whether the wait is over. Without a marker there is none."""
        if self._over or watched is None:
            return True
        share = float(watched.share(np.array(event.values.get(watched.channel, math.nan))))
        if share < self._onset_share:
            if math.isnan(self._since_s):
                self._since_s = event.at_s
            self._over = event.at_s - self._since_s >= self._for_s
        elif share >= self._onset_share:
            self._since_s = math.nan
        self.last = None if self._over else event
        return self._over
