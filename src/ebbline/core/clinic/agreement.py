"""How well two readers agree who judged the same tests: counts, percent, and Cohen's kappa."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from ebbline.core.errors import FieldError, list_allowed

# 97.5 % point of the standard normal distribution, for 95 % between the two limits.
_Z = 1.959963984540054
# A variance smaller than this is rounding: the formula gives 0 where no test counts against it.
_SMALLEST_VARIANCE = 1e-12

Pair = tuple[str, str]
"""The findings of the first and the second reader on one test."""


@dataclass(frozen=True, slots=True)
class Agreement:
    """Agreement of two readers on one question.

    ``counts[i][j]`` is the number of tests that the first reader called ``categories[i]`` and the
    second ``categories[j]``. ``percent`` is the share on which they agree, None without a test.
    ``kappa`` is None where it is not defined: without a test, or with all tests in one category.
    ``low`` and ``high`` are its approximate 95 % limits; None where kappa is, and where the formula
    gives no width, as when the readers never differ: that says nothing about the next test.
    """

    question: str
    categories: tuple[str, ...]
    counts: tuple[tuple[int, ...], ...]
    tests: int
    agreed: int
    percent: float | None
    kappa: float | None
    low: float | None
    high: float | None


def agreements(
    findings: Mapping[str, Sequence[Pair]], *, categories: Sequence[str]
) -> tuple[Agreement, ...]:
    """Return the agreement of two readers on each question.

    Parameters
    ----------
    findings : mapping of str to sequence of (str, str)
        Question to the two readers' findings, one pair a test that both have judged.
    categories : sequence of str
        Findings that may be given, such as positive and negative.

    Returns
    -------
    tuple of Agreement
        In the order of the questions.

    Raises
    ------
    FieldError
        As `agreement`.
    """
    return tuple(
        agreement(question, pairs, categories=categories) for question, pairs in findings.items()
    )


def agreement(question: str, pairs: Sequence[Pair], *, categories: Sequence[str]) -> Agreement:
    """Return the agreement of two readers on one question.

    With p_ij the share of tests in row i and column j, p_i. and p_.i the shares of the readers,
    p_o = Σ p_ii and p_e = Σ p_i. p_.i, unweighted kappa is κ = (p_o − p_e)/(1 − p_e) [1]_. Its
    variance for large samples is, with n tests [2]_,

        (A + B − C) / (n (1 − p_e)²),
        A = Σ_i p_ii (1 − (p_i. + p_.i)(1 − κ))²,
        B = (1 − κ)² Σ_{i≠j} p_ij (p_.i + p_j.)²,
        C = (κ − p_e (1 − κ))².

    Parameters
    ----------
    question : str
        What was asked of each test.
    pairs : sequence of (str, str)
        The two readers' findings, one pair a test that both have judged.
    categories : sequence of str
        Findings that may be given, each once.

    Returns
    -------
    Agreement
        The limits are cut at −1 and 1, which kappa cannot pass. With few tests they are rough.

    Raises
    ------
    FieldError
        If a category is repeated, or a finding is none of them.

    References
    ----------
    .. [1] Cohen J. Educ Psychol Meas 1960;20:37-46.
    .. [2] Fleiss JL, Cohen J, Everitt BS. Psychol Bull 1969;72:323-327.
    """
    place = {category: i for i, category in enumerate(categories)}
    if len(place) != len(categories):
        raise FieldError(
            field="categories",
            wrong="repeated",
            allowed="each category once",
            came=", ".join(categories),
        )
    counts = [[0] * len(categories) for _ in categories]
    for pair in pairs:
        for finding in pair:
            if finding not in place:
                raise FieldError(
                    field=question,
                    wrong="unknown finding",
                    allowed=list_allowed(categories),
                    came=finding,
                )
        counts[place[pair[0]]][place[pair[1]]] += 1
    tests = len(pairs)
    agreed = sum(counts[i][i] for i in range(len(counts)))
    kappa, variance = _kappa(counts, tests)
    low = high = None
    if kappa is not None and variance > _SMALLEST_VARIANCE:
        low = max(-1.0, kappa - _Z * math.sqrt(variance))
        high = min(1.0, kappa + _Z * math.sqrt(variance))
    return Agreement(
        question=question,
        categories=tuple(categories),
        counts=tuple(tuple(row) for row in counts),
        tests=tests,
        agreed=agreed,
        percent=100.0 * agreed / tests if tests else None,
        kappa=kappa,
        low=low,
        high=high,
    )


def _kappa(counts: list[list[int]], tests: int) -> tuple[float | None, float]:
    """Return kappa and its variance; None where all tests are in one category, or none is there."""
    size = range(len(counts))
    first = [sum(row) for row in counts]
    second = [sum(row[j] for row in counts) for j in size]
    # In whole numbers, so that a chance agreement of 1 is known exactly.
    by_chance = sum(first[i] * second[i] for i in size)
    if by_chance == tests * tests:
        return None, 0.0
    share = [[count / tests for count in row] for row in counts]
    row_share = [count / tests for count in first]
    column_share = [count / tests for count in second]
    observed = sum(share[i][i] for i in size)
    expected = by_chance / (tests * tests)
    kappa = (observed - expected) / (1.0 - expected)
    on = sum(
        share[i][i] * (1.0 - (row_share[i] + column_share[i]) * (1.0 - kappa)) ** 2 for i in size
    )
    off = (1.0 - kappa) ** 2 * sum(
        share[i][j] * (column_share[i] + row_share[j]) ** 2 for i in size for j in size if i != j
    )
    level = (kappa - expected * (1.0 - kappa)) ** 2
    return kappa, (on + off - level) / (tests * (1.0 - expected) ** 2)
