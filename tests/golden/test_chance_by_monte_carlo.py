"""Chances against ten million draws of the model itself, for what has no closed form.

The model is drawn as it is written down in `ebbline.core.curve.chance`: independent readings, one
gain and one alveolar reference a test. Cases lie where the chance is small or large, so that the
draws' own standard error is well below what is allowed.
"""

from dataclasses import dataclass

import numpy as np
import pytest
from numpy.typing import NDArray

from ebbline.core.curve.chance import (
    FROM_BASELINE,
    FROM_LOWEST_EARLIER,
    LAST,
    LOWEST,
    MEAN,
    NO_BASELINE,
    chance_of_reaching,
)
from ebbline.core.curve.curves import Spread
from tests.helpers import chances_of, one_curve, rule_set, statement_row, table_of

DRAWS = 10_000_000
CHUNK = 250_000
ALLOWED = 1e-4

Draws = NDArray[np.float32]


@dataclass(frozen=True)
class Example:
    """One test: readings, their sd, which of them are normalised, and what is asked."""

    measure: int
    threshold: float
    mean: tuple[float, ...]
    sd: tuple[float, ...]
    fasting: int
    rule: int = MEAN
    u_gain: float = 0.0
    u_reference: float = 0.0
    normalised: tuple[bool, ...] = ()
    room: float = 0.0


EXAMPLES = {
    "level": Example(NO_BASELINE, 10.0, (3, 4, 5, 6, 5.5), (1.5, 1.6, 1.6, 1.7, 1.6), 1),
    "level with gain": Example(NO_BASELINE, 20.0, (14, 13, 15), (2.0, 1.9, 2.1), 1, u_gain=0.05),
    "rise over mean": Example(
        FROM_BASELINE, 20.0, (6, 4, 5, 14, 17, 18), (1.6, 1.5, 1.6, 2.1, 2.3, 2.3), 3, u_gain=0.05
    ),
    "rise over last": Example(
        FROM_BASELINE, 20.0, (7, 5, 30, 33), (1.7, 1.6, 3.4, 3.6), 2, rule=LAST, u_gain=0.08
    ),
    "rise over lowest fasting": Example(
        FROM_BASELINE, 20.0, (8, 7, 9, 20, 19), (1.7, 1.7, 1.8, 2.5, 2.4), 3, rule=LOWEST,
        u_gain=0.05,
    ),
    "rise over lowest earlier": Example(
        FROM_LOWEST_EARLIER, 20.0, (15, 12, 16, 20, 18, 22), (2.1, 1.9, 2.2, 2.5, 2.3, 2.7), 1
    ),
    "rise over lowest earlier with gain": Example(
        FROM_LOWEST_EARLIER, 12.0, (4, 2, 5, 3, 7), (1.6, 1.5, 1.6, 1.5, 1.7), 2, u_gain=0.10
    ),
    "alveolar reference, level": Example(
        NO_BASELINE, 20.0, (13.5, 15, 14), (2.0, 2.1, 2.0), 1, u_reference=0.07,
        normalised=(True, True, False), room=2.0,
    ),
    "alveolar reference, some fasting readings": Example(
        FROM_BASELINE, 20.0, (8, 7, 22, 23), (1.7, 1.7, 2.6, 2.7), 2, u_gain=0.05,
        u_reference=0.07, normalised=(True, False, True, True), room=0.5,
    ),
    "alveolar reference, lowest earlier": Example(
        FROM_LOWEST_EARLIER, 20.0, (8, 6, 12, 21), (1.7, 1.6, 1.9, 2.6), 1, u_reference=0.10,
        u_gain=0.05, normalised=(True, False, False, True), room=0.5,
    ),
}  # fmt: skip


def crossings(example: Example, rng: np.random.Generator, n: int) -> int:
    """Return in how many of n draws of the model the threshold is reached."""

    def normal() -> Draws:
        return rng.standard_normal(n, dtype=np.float32)

    gain = np.float32(example.u_gain) * normal() + 1.0
    reference = np.float32(example.u_reference) * normal() + 1.0
    normalised = example.normalised or (False,) * len(example.mean)
    room = np.float32(example.room)
    met = np.zeros(n, dtype=np.bool_)
    lowest = np.full(n, np.inf, dtype=np.float32)
    total = np.zeros(n, dtype=np.float32)
    last = total
    for i, (mean, sd) in enumerate(zip(example.mean, example.sd, strict=True)):
        value = np.float32(sd) * normal() + np.float32(mean)
        if normalised[i]:
            value = room + reference * (value - room)
        if example.measure == NO_BASELINE:
            met |= gain * value >= example.threshold
            continue
        if i >= example.fasting:
            if example.measure == FROM_LOWEST_EARLIER or example.rule == LOWEST:
                base = lowest
            else:
                base = last if example.rule == LAST else total / np.float32(example.fasting)
            met |= gain * (value - base) >= example.threshold
        if i < example.fasting:
            total = total + value
            last = value
        if i < example.fasting or example.measure == FROM_LOWEST_EARLIER:
            lowest = np.minimum(lowest, value)
    return int(np.count_nonzero(met))


@pytest.mark.parametrize("name", EXAMPLES)
def test_the_chance_agrees_with_ten_million_draws(name: str) -> None:
    """Source: numpy's random normals, seeded; 1e-4 and 4 standard errors are allowed."""
    example = EXAMPLES[name]
    mean = np.array(example.mean, dtype=np.float64)
    normalised = np.array(example.normalised or (False,) * len(mean))
    found = chance_of_reaching(
        example.measure,
        example.threshold,
        mean,
        np.array(example.sd, dtype=np.float64),
        np.where(normalised, mean - example.room, 0.0),
        len(mean),
        example.fasting,
        0 if example.measure == NO_BASELINE else example.fasting,
        example.rule,
        example.u_gain,
        example.u_reference,
    )
    rng = np.random.default_rng(20260101)
    drawn = sum(crossings(example, rng, CHUNK) for _ in range(DRAWS // CHUNK)) / DRAWS
    standard_error = np.sqrt(drawn * (1.0 - drawn) / DRAWS)
    assert 0.001 < drawn < 0.999
    assert standard_error < 1.2e-4
    assert abs(found - drawn) <= ALLOWED + 4.0 * standard_error


def test_the_chance_of_a_sum_keeps_the_marker_gas_that_both_gases_share() -> None:
    """Source: ten million draws; one error of the factor scales H2 and CH4 of a sample alike."""
    h2, ch4 = np.array([6.0, 9.0, 24.0]), np.array([3.0, 4.0, 10.0])
    h2_sd, ch4_sd = np.array([1.6, 1.8, 2.6]), np.array([1.5, 1.6, 1.9])
    scale_u = np.array([0.03, 0.0, 0.05])
    normalised = np.array([True, False, True])
    room_h2, room_ch4, u_reference, u_gain = 0.5, 2.0, 0.07, 0.05
    curves = one_curve([0, 60, 180], h2.tolist(), ch4.tolist())
    spread = Spread(
        h2_sd=h2_sd[None, :],
        ch4_sd=ch4_sd[None, :],
        scale_u=scale_u[None, :],
        normalised=normalised[None, :],
        reference_u=np.array([u_reference]),
    )
    rows = rule_set(statement_row(gas="h2_plus_2ch4"))
    found = chances_of(
        curves, spread, table_of(rows), u_gain=u_gain, ambient_h2=room_h2, ambient_ch4=room_ch4
    )[0, 0]
    rng = np.random.default_rng(20260102)
    hits = 0
    for _ in range(DRAWS // CHUNK):
        gain = 1.0 + np.float32(u_gain) * rng.standard_normal(CHUNK, dtype=np.float32)
        shift = np.float32(u_reference) * rng.standard_normal(CHUNK, dtype=np.float32)
        sums = []
        for i in range(3):
            e1, e2, e3 = rng.standard_normal((3, CHUNK), dtype=np.float32)
            above = (h2[i] - room_h2) + 2.0 * (ch4[i] - room_ch4)
            noise = h2_sd[i] * e1 + 2.0 * ch4_sd[i] * e2 + scale_u[i] * above * e3
            stretch = 1.0 + shift if normalised[i] else 1.0
            sums.append(room_h2 + 2.0 * room_ch4 + stretch * (above + noise))
        hits += int(np.count_nonzero(gain * (np.maximum(sums[1], sums[2]) - sums[0]) >= 20.0))
    drawn = hits / DRAWS
    standard_error = np.sqrt(drawn * (1.0 - drawn) / DRAWS)
    assert 0.9 < drawn < 0.999
    assert abs(found - drawn) <= ALLOWED + 4.0 * standard_error
