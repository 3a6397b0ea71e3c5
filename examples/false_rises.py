"""How often noise alone makes a rise of 20 ppm on a curve that is truly flat.

Ten samples, the first one fasting; constant part of the noise 1.5 ppm; no gain error. Three ways
to count: one later sample against the baseline, any of the nine against the baseline, any of the
nine against the lowest earlier reading.
"""

import numpy as np

from ebbline import Noise
from ebbline.core.curve.chance import (
    FROM_BASELINE,
    FROM_LOWEST_EARLIER,
    LAST,
    chance_of_reaching,
)


def chance(measure: int, level_ppm: float, fraction: float, samples: int) -> float:
    """Return the chance of a rise of 20 ppm or more among so many flat samples."""
    noise = Noise(ppm=1.5, fraction=fraction, gain_fraction=0.0)
    mean = np.full(samples, level_ppm)
    sd = np.full(samples, noise.sd_ppm(level_ppm))
    still = np.zeros(samples)
    return chance_of_reaching(measure, 20.0, mean, sd, still, samples, 1, 1, LAST, 0.0, 0.0)


print("flat at  fraction  one pair  any over baseline  any over lowest earlier")
for level_ppm, fraction in [(20, 0.1), (30, 0.1), (40, 0.1), (20, 0.248), (30, 0.248)]:
    pair = chance(FROM_BASELINE, level_ppm, fraction, 2)
    over_baseline = chance(FROM_BASELINE, level_ppm, fraction, 10)
    over_lowest = chance(FROM_LOWEST_EARLIER, level_ppm, fraction, 10)
    print(
        f"{level_ppm:3} ppm   {fraction:8.3f}  {pair:8.3%}  {over_baseline:17.2%}"
        f"  {over_lowest:23.2%}"
    )
