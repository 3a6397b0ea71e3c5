"""The virtual tests and the rules that the benchmarks over many tests share."""

from dataclasses import dataclass

import numpy as np

from ebbline.adapters.files.library import load_library
from ebbline.core.rules.table import RuleTable, lay_out
from ebbline.services.library import Library
from ebbline.simulate.cohort import Cohort, virtual_cohort

SUBSTRATES = ("lactose", "fructose", "glucose", "lactulose")
MINUTES = np.array([-10.0, 0.0, 15.0, 30.0, 45.0, 60.0, 75.0, 90.0, 120.0, 150.0, 180.0, 210.0])
MISSING_SHARE = 0.05
SEED = 20260504


@dataclass(frozen=True, slots=True)
class Archive:
    """Virtual tests, every bundled rule set, and the settings of the library."""

    library: Library
    table: RuleTable
    cohort: Cohort


def archive(n_tests: int) -> Archive:
    """Return so many virtual tests of 12 samples, the same ones every time."""
    library = load_library()
    cohort = virtual_cohort(
        np.random.default_rng(SEED),
        n_tests=n_tests,
        minutes=MINUTES,
        n_substrates=len(SUBSTRATES),
        noise=library.noise,
        missing_share=MISSING_SHARE,
    )
    return Archive(library, lay_out(library.rule_sets, SUBSTRATES), cohort)
