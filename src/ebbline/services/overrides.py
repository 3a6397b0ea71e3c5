"""What a person says of a test beside its file."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Overrides:
    """What a person says of a test beside its file's head; None where nothing is said.

    Each field has the name, the unit and the limits of the head key that it replaces.
    """

    substrate: str | None = None
    dose_g: float | None = None
    weight_kg: float | None = None
    age_years: float | None = None
    protocol: str | None = None
    criterion: str | None = None
    reference: str | None = None
    baseline: str | None = None
    minute_tolerance: float | None = None
    noise_ppm: float | None = None
    noise_fraction: float | None = None
    gain_fraction: float | None = None
    ambient_o2_pct: float | None = None
    ambient_h2_ppm: float | None = None
    ambient_ch4_ppm: float | None = None
    delimiter: str | None = None
    decimal: str | None = None
    surgery: str | None = None
    rinse: str | None = None
