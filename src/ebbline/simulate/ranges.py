"""What random blows and sensors are drawn from.

Every range is a row of `Ranges`; `TYPICAL` holds those of this project's own checks. Where no
source stands beside a row it is an **invented setting**.
"""

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from ebbline.core.errors import SettingError
from ebbline.simulate.bag import PLASTIC_SYRINGE, Storage
from ebbline.simulate.exhalation import Event

Kind = Literal["stream", "chamber", "bag"]


@dataclass(frozen=True, slots=True)
class Span:
    """A range to draw from, both ends included.

    Raises
    ------
    SettingError
        If it ends before it begins.
    """

    low: float
    high: float

    def __post_init__(self) -> None:
        """Refuse an empty range."""
        if not self.low <= self.high:
            raise SettingError(
                "virtual range cannot be used; allowed: low at or below high; came: "
                f"{self.low:g} to {self.high:g}"
            )

    def at(self, share: float) -> float:
        """Return the value at a share of the way, 0 to 1."""
        return self.low + share * (self.high - self.low)

    def draw(self, rng: np.random.Generator) -> float:
        """Return a value, all equally likely."""
        return self.at(float(rng.random()))

    def root_mean_square(self) -> float:
        """Return that of values all equally likely, (low² + low high + high²) / 3 under a root."""
        return math.sqrt((self.low**2 + self.low * self.high + self.high**2) / 3.0)

    def draw_log(self, rng: np.random.Generator) -> float:
        """Return a value whose logarithm is equally likely; the range must be above 0."""
        return math.exp(Span(math.log(self.low), math.log(self.high)).draw(rng))


@dataclass(frozen=True, slots=True)
class ChannelRanges:
    """What one channel of the analyser is drawn from, in its own unit (ppm or percent).

    ``steps`` are the steps of the display of which one is drawn; ``ends`` the ends of the range.
    """

    noise: Span
    noise_fraction: Span
    offset: Span
    drift_per_h: Span
    gain_error: Span
    steps: tuple[float, ...]
    ends: Span


# Invented settings, for H2 and CH4 and for O2 and CO2.
PPM_CHANNEL = ChannelRanges(
    noise=Span(0.3, 2.0),
    noise_fraction=Span(0.0, 0.02),
    offset=Span(-3.0, 3.0),
    drift_per_h=Span(-2.0, 2.0),
    gain_error=Span(-0.01, 0.01),
    steps=(0.1, 1.0),
    ends=Span(-20.0, 500.0),
)
PERCENT_CHANNEL = ChannelRanges(
    noise=Span(0.02, 0.1),
    noise_fraction=Span(0.0, 0.0),
    offset=Span(-0.1, 0.1),
    drift_per_h=Span(-0.05, 0.05),
    gain_error=Span(-0.005, 0.005),
    steps=(0.01, 0.1),
    ends=Span(-1.0, 25.0),
)


@dataclass(frozen=True, slots=True)
class Ranges:
    """What a blow is drawn from; each row's unit is in its name, times as shares of the blow.

    ``alveolar_o2_pct`` falls as ``alveolar_co2_pct`` rises: one draw places both, since both follow
    from the arterial CO2. ``hold_t90s`` is how long a chamber is watched, in t90 of the slow
    sensor. ``channels`` are in the order of `GASES`. ``chances`` gives each event's probability.
    """

    alveolar_h2_ppm: Span
    alveolar_ch4_ppm: Span
    alveolar_o2_pct: Span
    alveolar_co2_pct: Span
    room_h2_ppm: Span
    room_ch4_ppm: Span
    room_o2_pct: Span
    room_co2_pct: Span
    slope_fraction_per_l: Span
    dead_space_l: Span
    apparatus_l: Span
    transition_l: Span
    lung_l: Span
    expired_l: Span
    flow_l_per_s: Span
    flow_end_share: Span
    room_before_s: Span
    room_after_s: Span
    flush_s: Span
    hold_s: Span
    hold_co2_pct_per_s: Span
    hold_o2_pct_per_s: Span
    hold_trace_fraction_per_s: Span
    hyperventilation_share: Span
    stop_in_dead_space_share: Span
    stop_in_transition_fraction: Span
    stop_late_share: Span
    cough_at_share: Span
    cough_s: Span
    cough_spike: Span
    cough_dip: Span
    inhalation_at_share: Span
    inhalation_s: Span
    inhalation_l: Span
    chamber_l: Span
    hold_t90s: Span
    discard_l: Span
    bag_l: Span
    leak_share: Span
    age_h: Span
    storage: Storage
    rate_hz: Span
    jitter_share: Span
    dropped_share: Span
    delay_s: Span
    fast_t90_s: Span
    slow_t90_s: Span
    second_pole_share: Span
    h2_per_ch4: Span
    channels: tuple[ChannelRanges, ChannelRanges, ChannelRanges, ChannelRanges]
    chances: tuple[tuple[Event, float], ...]


TYPICAL = Ranges(
    alveolar_h2_ppm=Span(0.0, 200.0),
    alveolar_ch4_ppm=Span(0.0, 60.0),
    # Alveolar gas equation, sea level, R 0.8, arterial CO2 35 to 45 mmHg.
    alveolar_o2_pct=Span(13.0, 14.8),
    alveolar_co2_pct=Span(4.9, 6.3),
    # About 0.5 ppm H2 and 1.9 ppm CH4 outdoors (memory, not checked against a paper), more indoors.
    room_h2_ppm=Span(0.4, 3.0),
    room_ch4_ppm=Span(1.8, 4.0),
    room_o2_pct=Span(20.85, 20.95),
    room_co2_pct=Span(0.04, 0.12),
    slope_fraction_per_l=Span(0.0, 0.02),
    # About 0.15 L in an adult (memory: Fowler 1948), with mouthpiece and tube beside it.
    dead_space_l=Span(0.1, 0.2),
    apparatus_l=Span(0.0, 0.05),
    transition_l=Span(0.05, 0.09),
    lung_l=Span(1.5, 3.5),
    expired_l=Span(0.8, 4.0),
    flow_l_per_s=Span(0.15, 0.45),
    flow_end_share=Span(0.5, 0.95),
    # Common practice, no source: room air for 60 s before the blow.
    room_before_s=Span(60.0, 65.0),
    room_after_s=Span(2.0, 6.0),
    flush_s=Span(0.0, 1.0),
    hold_s=Span(5.0, 20.0),
    hold_co2_pct_per_s=Span(0.01, 0.04),
    hold_o2_pct_per_s=Span(0.05, 0.12),
    hold_trace_fraction_per_s=Span(0.0, 0.004),
    hyperventilation_share=Span(0.5, 0.9),
    stop_in_dead_space_share=Span(0.3, 0.95),
    stop_in_transition_fraction=Span(0.1, 0.9),
    stop_late_share=Span(0.4, 0.9),
    cough_at_share=Span(0.2, 0.45),
    cough_s=Span(0.2, 0.4),
    cough_spike=Span(1.5, 2.5),
    cough_dip=Span(0.0, 0.3),
    inhalation_at_share=Span(0.5, 0.8),
    inhalation_s=Span(0.4, 1.2),
    inhalation_l=Span(0.15, 1.0),
    chamber_l=Span(0.02, 0.1),
    hold_t90s=Span(2.5, 3.0),
    discard_l=Span(0.3, 0.5),
    bag_l=Span(0.25, 0.75),
    leak_share=Span(0.0, 0.15),
    age_h=Span(0.0, 48.0),
    storage=PLASTIC_SYRINGE,
    rate_hz=Span(1.0, 100.0),
    jitter_share=Span(0.0, 0.2),
    dropped_share=Span(0.0, 0.02),
    delay_s=Span(0.0, 1.0),
    fast_t90_s=Span(0.1, 1.0),
    slow_t90_s=Span(10.0, 60.0),
    second_pole_share=Span(0.0, 0.5),
    h2_per_ch4=Span(0.0, 0.0),
    channels=(PPM_CHANNEL, PPM_CHANNEL, PERCENT_CHANNEL, PERCENT_CHANNEL),
    chances=(
        ("held", 0.3),
        ("hyperventilated", 0.05),
        ("stopped_in_dead_space", 0.03),
        ("stopped_in_transition", 0.05),
        ("stopped_late", 0.1),
        ("coughed", 0.05),
        ("breathed_in", 0.05),
    ),
)
