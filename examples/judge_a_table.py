"""Judge a whole table of tests at once, by the loops that judge one test. The data are invented.

The table has one row a sample, with columns test, substrate, minute, h2_ppm and ch4_ppm. Values are
taken as they are (no O2 or CO2), so the spread of a reading is the analyser's noise alone.
"""

import csv
from itertools import groupby
from pathlib import Path

import numpy as np

from ebbline import Curves, Spread, build
from ebbline.core.cohort.judge import chances_cohort, judge_cohort
from ebbline.core.curve.measures import BASELINE_RULES
from ebbline.core.rules.codes import FINDING_WORDS, NOT_ASKED
from ebbline.core.rules.phrases import chance_text
from ebbline.core.rules.table import lay_out

library = build().library
with Path(__file__).with_name("many-tests.csv").open(encoding="utf-8", newline="") as file:
    tests = {name: list(rows) for name, rows in groupby(csv.DictReader(file), lambda r: r["test"])}


def column(name: str) -> np.ndarray:
    """Return one column as (n_tests, n_samples); NaN where empty or after the end of a test."""
    longest = max(len(rows) for rows in tests.values())
    table = np.full((len(tests), longest), np.nan)
    for place, rows in enumerate(tests.values()):
        table[place, : len(rows)] = [float(row[name] or "nan") for row in rows]
    return table


minute, h2_ppm, ch4_ppm = column("minute"), column("h2_ppm"), column("ch4_ppm")
noise = library.noise
curves = Curves(
    minute=minute, planned_minute=minute, h2_ppm=h2_ppm, ch4_ppm=ch4_ppm, symptom_rise=None
)
spread = Spread(
    h2_sd=np.hypot(noise.ppm, noise.fraction * h2_ppm),
    ch4_sd=np.hypot(noise.ppm, noise.fraction * ch4_ppm),
    scale_u=np.zeros(minute.shape),
    normalised=np.zeros(minute.shape, dtype=np.bool_),
    reference_u=np.zeros(len(tests)),
)
rules = lay_out(library.rule_sets, library.substrates)
substrate = np.array([library.substrates.index(rows[0]["substrate"]) for rows in tests.values()])
baseline_rule = BASELINE_RULES[library.baseline]

verdicts = judge_cohort(
    curves,
    rules.rows,
    substrate,
    baseline_rule=baseline_rule,
    minute_tolerance=library.minute_tolerance,
    workers=2,
)
chances = chances_cohort(
    curves,
    spread,
    rules.rows,
    verdicts,
    ambient_h2_ppm=library.dilution.ambient_h2_ppm,
    ambient_ch4_ppm=library.dilution.ambient_ch4_ppm,
    u_gain=noise.gain_fraction,
    baseline_rule=baseline_rule,
    minute_tolerance=library.minute_tolerance,
    workers=2,
)

for place, name in enumerate(tests):
    for number, (rule_set, question) in enumerate(rules.findings):
        finding = int(verdicts.finding[place, number])
        if rule_set.id == library.criterion and finding != NOT_ASKED:
            own = rules.rows.finding[: rules.rows.first_validity] == number
            chance = float(np.nanmax(chances[place][: len(own)][own], initial=0.0))
            print(f"{name}  {question:27}{FINDING_WORDS[finding]:13} chance {chance_text(chance)}")
