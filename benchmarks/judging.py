"""Judge an archive by compiled loops on two cores."""

from benchmarks.cohort import Archive
from ebbline.core.cohort.judge import judge_cohort
from ebbline.core.curve.measures import BASELINE_RULES
from ebbline.core.rules.rows import Verdicts

WORKERS = 2


def judge_all(tests: Archive) -> Verdicts:
    """Judge all tests by all rows, compiled."""
    return judge_cohort(
        tests.cohort.curves,
        tests.table.rows,
        tests.cohort.substrate,
        baseline_rule=BASELINE_RULES[tests.library.baseline],
        minute_tolerance=tests.library.minute_tolerance,
        workers=WORKERS,
    )
