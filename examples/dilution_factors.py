"""The factor that brings a sample to full alveolar fraction, and how uncertain it is.

References of common practice: room 20.9 % O2, alveolar 13.9 %.
"""

import math

from ebbline import build, normalise, scale

marker = build().library.markers["o2"]
print("O2 %   factor  alveolar  u(k)/k own  with reference  40 ppm becomes")
for o2_pct in (13.0, 13.9, 15.0, 16.0, 17.0, 17.4, 18.0, 19.0, 20.0):
    found = scale(o2_pct, marker)
    factor = float(found.factor)
    own = float(found.u_independent) / factor
    shared = float(found.u_shared) / factor
    becomes = float(normalise(40.0, 0.0, factor))
    print(
        f"{o2_pct:4.1f}  {factor:7.3f}  {float(found.fraction):8.3f}  {own:10.1%}"
        f"  {math.hypot(own, shared):14.1%}  {becomes:14.1f}"
    )
