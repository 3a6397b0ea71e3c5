"""Codes that stand for words inside arrays; the words are what people see."""

from typing import Literal

Result = Literal["met", "not met", "cannot be judged"]
Finding = Literal["positive", "negative", "indeterminate", "invalid"]

MET, NOT_MET, CANNOT_BE_JUDGED, NOT_ASKED = 1, 0, 2, 3
"""Results of a statement; `NOT_ASKED` where it does not cover the substrate."""

RESULT_WORDS: dict[int, Result] = {
    MET: "met",
    NOT_MET: "not met",
    CANNOT_BE_JUDGED: "cannot be judged",
}

POSITIVE, NEGATIVE, INDETERMINATE, INVALID = 1, 0, 2, 4
"""Findings; `NOT_ASKED` serves here too."""

FINDING_WORDS: dict[int, Finding] = {
    POSITIVE: "positive",
    NEGATIVE: "negative",
    INDETERMINATE: "indeterminate",
    INVALID: "invalid",
}

PLAIN, NO_FASTING, NO_READING, STOPPED_EARLY, KEY_MISSED, LATE_COUNTED, UNDECIDED = range(7)
"""Why a result is what it is, beyond its arithmetic."""

LEVEL, RISE_OVER_BASELINE, RISE_OVER_LOWEST, BASELINE = 0, 1, 2, 3
"""Measures; the first three are those of `ebbline.core.curve.chance`."""

MEASURE_CODES = {
    "level": LEVEL,
    "rise over baseline": RISE_OVER_BASELINE,
    "rise over lowest earlier": RISE_OVER_LOWEST,
    "baseline": BASELINE,
}
