"""What a trace is reduced by: windows and limits, each a row of data/reduction.toml."""

import math
from dataclasses import dataclass, fields

from ebbline.core.errors import SettingError

# What may be 0; everything else must be above it.
_FROM_ZERO = ("warm_up_s", "wash_s", "trim_s", "slope_fraction_per_s")
_SHARES = ("onset_share", "turn_share", "largest_drift", "least_share", "u_fraction")


@dataclass(frozen=True, slots=True, kw_only=True)
class ReductionSettings:
    """Windows and limits; seconds, shares of the way from room air to alveolar gas, and ppm.

    Parameters
    ----------
    warm_up_s : float
        How long the analyser must have been on.
    zero_window_s, zero_shortest_s : float
        Room air before the breath that the zero is taken from, and the least of it.
    zero_guard_s : float
        Room air just before the breath that is left out.
    zero_o2_within_pct : float
        How far O2 may be from room air, %.
    zero_steady_in_u : float
        Largest drift over the window, in its own standard uncertainties.
    zero_spread : float
        Largest scatter about the line, in the channel's own noise.
    zero_remains_ppm : float
        H2 or CH4 above room air that means the last patient's breath is still there.
    onset_share : float
        The marker gas past this share of the way to alveolar gas is breath.
    turn_share : float
        The marker gas back by this share means that room air came: an end or an inhalation.
    turn_in_sd : float
        The same in standard deviations of the smoothed marker; the larger of the two counts.
    smooth_s : float
        Time over which the marker is averaged to see it turn.
    confirm_s : float
        After the marker turned, breath within this time was a second one in the same blow.
    longest_blow_s : float
        A blow ends here at the latest.
    inhaled_l_per_s : float
        Flow inwards above this is an inhalation, L/s.
    longest_gap_s : float
        Longest time without a value of the marker in which an inhalation could not hide.
    wash_s : float
        Time from the onset until alveolar air is looked for.
    trim_s : float
        Time at the end of the blow that is left out.
    plateau_shortest_s, plateau_longest_s : float
        Least and most of the plateau that is used.
    largest_drift : float
        Largest change over the plateau, as a share of its level above room air.
    slope_fraction_per_s, u_slope_fraction_per_s : float
        What is known of the plateau's slope before looking, and its standard uncertainty; share of
        the level a second.
    largest_residual : float
        A value further than this many standard deviations from the line is not on a plateau.
    fewest : int
        Least number of values on a plateau or in a chamber.
    least_share : float
        A chamber is watched until the slowest sensor has shown this share of its step.
    u_ppm, u_fraction : float
        Standard uncertainty asked of H2 and CH4: the larger of so many ppm and the fraction.
    longest_hold_s : float
        A chamber or bag is watched no longer than this, or than 99 % of the slowest response.
    u_begun_s : float
        Standard uncertainty of a start that a person gave by hand, s.
    largest_misfit : float
        Mean square of the residuals, in the channel's own noise, above which it is unsteady.

    Raises
    ------
    SettingError
        If a value is outside its range.
    """

    warm_up_s: float
    zero_window_s: float
    zero_shortest_s: float
    zero_guard_s: float
    zero_o2_within_pct: float
    zero_steady_in_u: float
    zero_spread: float
    zero_remains_ppm: float
    onset_share: float
    turn_share: float
    turn_in_sd: float
    smooth_s: float
    confirm_s: float
    longest_blow_s: float
    inhaled_l_per_s: float
    longest_gap_s: float
    wash_s: float
    trim_s: float
    plateau_shortest_s: float
    plateau_longest_s: float
    largest_drift: float
    slope_fraction_per_s: float
    u_slope_fraction_per_s: float
    largest_residual: float
    fewest: int
    least_share: float
    u_ppm: float
    u_fraction: float
    longest_hold_s: float
    u_begun_s: float
    largest_misfit: float

    def __post_init__(self) -> None:
        """Refuse what nothing can meet."""
        for row in fields(self):
            value = getattr(self, row.name)
            low_allowed = row.name in _FROM_ZERO
            good = math.isfinite(value) and (value >= 0.0 if low_allowed else value > 0.0)
            if not good:
                raise SettingError(
                    f"reduction setting {row.name} cannot be used; allowed: "
                    f"{'0 or more' if low_allowed else 'above 0'}; came: {value:g}"
                )
            if row.name in _SHARES and not value < 1.0:
                raise SettingError(
                    f"reduction setting {row.name} cannot be used; allowed: below 1; "
                    f"came: {value:g}"
                )
        for low, high in (
            ("zero_shortest_s", "zero_window_s"),
            ("plateau_shortest_s", "plateau_longest_s"),
        ):
            if getattr(self, low) > getattr(self, high):
                raise SettingError(
                    f"reduction setting {low} cannot be used; allowed: at most {high} "
                    f"{getattr(self, high):g}; came: {getattr(self, low):g}"
                )
        if self.fewest < 3:
            raise SettingError(
                f"reduction setting fewest cannot be used; allowed: 3 or more; came: {self.fewest}"
            )
