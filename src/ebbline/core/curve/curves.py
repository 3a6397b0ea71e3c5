"""Tests as arrays: one row a test, one column a sample slot.

One test is a batch of one. A slot without a usable value holds NaN; a slot beyond the end of a
shorter test has NaN as its minute too. Nothing is ever filled in between.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ebbline.core.errors import InputError

Float = NDArray[np.float64]

GASES = ("h2", "ch4", "h2_plus_ch4", "h2_plus_2ch4", "h2_plus_4ch4", "symptoms")
"""The series that can be judged. ``symptoms`` is the largest rise of any one score, in points."""

WEIGHTS = {
    "h2": (1.0, 0.0),
    "ch4": (0.0, 1.0),
    "h2_plus_ch4": (1.0, 1.0),
    "h2_plus_2ch4": (1.0, 2.0),
    "h2_plus_4ch4": (1.0, 4.0),
}
"""What each gas counts in a series: (hydrogen, methane)."""


@dataclass(frozen=True, slots=True)
class Spread:
    """What is needed for chances beside the values; arrays (n_tests, n_samples).

    ``h2_sd`` and ``ch4_sd`` are independent standard deviations without the marker's part, ppm;
    ``scale_u`` is that part, relative (1), shared by both gases of a sample; ``normalised`` says
    which readings were scaled; ``reference_u`` (n_tests,) is the relative standard uncertainty of
    the alveolar reference.
    """

    h2_sd: Float
    ch4_sd: Float
    scale_u: Float
    normalised: NDArray[np.bool_]
    reference_u: Float


@dataclass(frozen=True, slots=True)
class Curves:
    """Tests as arrays (n_tests, n_samples).

    Parameters
    ----------
    minute : ndarray (n_tests, n_samples), minutes
        Actual minutes, increasing along a row; NaN beyond the end of a test. For a slot without a
        reading, its planned minute.
    planned_minute : ndarray (n_tests, n_samples), minutes
        Planned minutes; equal to `minute` where none were recorded.
    h2_ppm, ch4_ppm : ndarray (n_tests, n_samples), ppm
        Values that count; NaN where missed, refused or not measured.
    symptom_rise : ndarray (n_tests, n_samples), points, or None
        Largest rise of any one score over its highest before the drink; None where not asked.

    Raises
    ------
    InputError
        If the arrays differ in shape.
    """

    minute: Float
    planned_minute: Float
    h2_ppm: Float
    ch4_ppm: Float
    symptom_rise: Float | None

    def __post_init__(self) -> None:
        """Refuse arrays of different shapes."""
        shape = self.minute.shape
        for name in ("planned_minute", "h2_ppm", "ch4_ppm", "symptom_rise"):
            array = getattr(self, name)
            if array is not None and array.shape != shape:
                raise InputError(
                    f"{name} has the wrong shape; allowed: that of minute, {shape}; "
                    f"came: {array.shape}"
                )
        if len(shape) != 2:
            raise InputError(
                f"minute has the wrong shape; allowed: (n_tests, n_samples); came: {shape}"
            )

    @property
    def n_tests(self) -> int:
        """How many tests there are."""
        return int(self.minute.shape[0])

    def series(self, gas: str) -> Float:
        """Return one series.

        Parameters
        ----------
        gas : str
            One of `GASES`.

        Returns
        -------
        ndarray (n_tests, n_samples), ppm or points
        """
        if gas == "symptoms":
            if self.symptom_rise is None:
                return np.broadcast_to(np.nan, self.minute.shape)
            return self.symptom_rise
        by_h2, by_ch4 = WEIGHTS[gas]
        if by_ch4 == 0.0:
            return self.h2_ppm
        return self.ch4_ppm if by_h2 == 0.0 else self.h2_ppm + by_ch4 * self.ch4_ppm
