"""Noise settings of an analyser from repeats on gas, and from pairs of breaths. Invented readings.

The sd of a reading C is taken as sqrt(ppm² + (fraction C)²). Repeats on zero gas give the constant
part. Repeats on a check gas give the sd there, and so the proportional part. Two breaths of one
person within a minute also differ by technique: the mean of |difference| / pair mean, over 1.128,
is the sd of one sample as a share (the mean range of two normal values is 1.128 sd).
"""

import math
import statistics

zero_gas_ppm = [0, 1, -1, 2, 0, -2, 1, 1, -1, 0]
check_gas_ppm = [49, 52, 50, 47, 51, 53, 48, 50, 52, 49]
pairs_ppm = [(22, 24), (41, 37), (63, 66), (18, 18), (35, 39), (54, 49)]
certificate_expanded_pct = 5.0  # of the check gas, coverage factor 2

ppm = statistics.stdev(zero_gas_ppm)
at_check = statistics.stdev(check_gas_ppm)
analyser = math.sqrt(max(at_check**2 - ppm**2, 0.0)) / statistics.fmean(check_gas_ppm)
shares = [abs(one - other) / ((one + other) / 2) for one, other in pairs_ppm]
breath = statistics.fmean(shares) / 1.128
print(f"proportional part of the analyser alone: {analyser:.3f}")
print("# noise_ppm:", f"{ppm:.1f}")
print("# noise_fraction:", f"{breath:.3f}")
print("# gain_fraction:", f"{certificate_expanded_pct / 2 / 100:.3f}")
