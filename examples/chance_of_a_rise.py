"""The chance of a rise of 20 ppm or more for one fasting and one later reading, by noise alone.

With one pair and no gain error it is a normal distribution function of (rise − 20) / u, where
u² = sd² of the one + sd² of the other.
"""

import math

import numpy as np

from ebbline import Noise
from ebbline.core.curve.chance import FROM_BASELINE, MEAN, chance_of_reaching
from ebbline.core.curve.normal import normal_cdf

noise = Noise(ppm=1.5, fraction=0.1, gain_fraction=0.0)
print("fasting  later  rise  chance  by hand")
for fasting_ppm, later_ppm in [(5, 22), (5, 25), (5, 28), (5, 30), (10, 35), (5, 40)]:
    mean = np.array([fasting_ppm, later_ppm], dtype=float)
    sd = np.array([noise.sd_ppm(value) for value in mean])
    chance = chance_of_reaching(
        FROM_BASELINE, 20.0, mean, sd, np.zeros(2), 2, 1, 1, MEAN, noise.gain_fraction, 0.0
    )
    rise = later_ppm - fasting_ppm
    by_hand = normal_cdf((rise - 20.0) / math.hypot(*sd))
    print(f"{fasting_ppm:7}  {later_ppm:5}  {rise:4}  {chance:6.4f}  {by_hand:7.4f}")
