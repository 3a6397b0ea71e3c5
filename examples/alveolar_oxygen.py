"""Alveolar O2 by the simple alveolar gas equation: why 13.9 % is an assumption.

PAO2 = FIO2 (PB − 47) − PaCO2 / R, as a share of dry gas.
"""

from ebbline.core.breath.alveolar_gas import alveolar_o2_pressure, dry_pct

rows = [
    (760.0, 40.0, 0.8, "the usual case"),
    (760.0, 35.0, 0.8, "breathing a little more"),
    (760.0, 45.0, 0.8, "breathing a little less"),
    (760.0, 40.0, 1.0, "burning sugar only"),
    (630.0, 36.0, 0.85, "at about 1500 m"),
]
print("PB mmHg  PaCO2    R  alveolar O2 %")
for barometric, paco2, quotient, what in rows:
    pressure = alveolar_o2_pressure(
        fio2=0.209,
        barometric_mmhg=barometric,
        water_vapour_mmhg=47.0,
        paco2_mmhg=paco2,
        respiratory_quotient=quotient,
        full=False,
    )
    share = dry_pct(pressure, barometric_mmhg=barometric, water_vapour_mmhg=47.0)
    print(f"{barometric:7.0f}  {paco2:5.0f}  {quotient:4.2f}  {share:12.1f}   {what}")
