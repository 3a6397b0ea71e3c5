"""The settings of the service as they stand on record, for whatever is computed by them."""

from typing import Any

from ebbline.core.clinic.record.staff import Setting
from ebbline.core.curve.breath_test import BreathTest
from ebbline.core.rules.interpretation import Settings
from ebbline.services.choose_settings import choose_settings
from ebbline.services.clinic.desk import Clinic
from ebbline.services.clinic.ports import Look

COMPUTED_BY = (
    "reference",
    "minute_tolerance",
    "noise_ppm",
    "noise_fraction",
    "gain_fraction",
    "ambient_o2_pct",
    "ambient_h2_ppm",
    "ambient_ch4_ppm",
)
"""Settings that numbers depend on, by their keys in the head of a curve file."""


def settings_on_record(look: Look) -> dict[str, Any]:
    """Return every setting that somebody has recorded, by its name.

    Parameters
    ----------
    look : Look
        The record.

    Returns
    -------
    dict
        Texts, lists of texts and numbers.
    """
    return {one.entry.name: one.entry.value["value"] for one in look.find(Setting, {})}


def computed_by(settings: dict[str, Any]) -> dict[str, str]:
    """Return the settings that numbers depend on, as the head of a curve file holds them.

    Parameters
    ----------
    settings : dict
        From `settings_on_record`.

    Returns
    -------
    dict of str to str
    """
    return {
        name: value if isinstance(value := settings[name], str) else f"{value:.12g}"
        for name in COMPUTED_BY
        if name in settings
    }


def settings_now(clinic: Clinic, look: Look, *, substrate: str) -> Settings:
    """Return what a reading is made with now.

    Parameters
    ----------
    clinic : Clinic
        What holds where nothing is recorded.
    look : Look
        The record.
    substrate : str
        What is drunk in the test.

    Returns
    -------
    Settings
    """
    test = BreathTest(
        file="",
        substrate=substrate,
        dose_g=None,
        weight_kg=None,
        age_years=None,
        protocol=None,
        tries=(),
        facts=computed_by(settings_on_record(look)),
    )
    return choose_settings(test, clinic.library)
