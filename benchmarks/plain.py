"""Judge an archive by the loops as they are written, without loading Numba."""

from benchmarks.cohort import Archive
from ebbline.core.curve.measures import BASELINE_RULES
from ebbline.core.rules.judge import judge
from ebbline.core.rules.rows import Verdicts


def judge_plainly(tests: Archive) -> Verdicts:
    """Judge all tests by all rows, by plain loops on one core."""
    return judge(
        tests.cohort.curves,
        tests.table.rows,
        tests.cohort.substrate,
        baseline_rule=BASELINE_RULES[tests.library.baseline],
        minute_tolerance=tests.library.minute_tolerance,
    )
