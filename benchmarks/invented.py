"""Invented inputs that more than one benchmark uses."""

from pathlib import Path

CURVE = """\
# invented: yes
# service: Harbour Clinic
# substrate: lactose
# dose_g: 50
# weight_kg: 64
# age_years: 41
minute,h2_ppm,ch4_ppm
-5,4,2
0,5,2
15,5,2
30,6,3
45,9,3
60,14,3
75,20,4
90,27,4
105,31,4
120,36,5
150,41,5
180,39,4
"""


def write_curve(folder: Path) -> Path:
    """Write a curve file of an invented test of 12 samples, and return its name."""
    path = folder / "one.csv"
    path.write_text(CURVE, encoding="utf-8")
    return path
