"""Read the rows under data/ into the library."""

import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Literal

from ebbline._version import __version__
from ebbline.adapters.files.breath_rows import parse_quality, parse_reduction
from ebbline.adapters.files.rule_file import read_rule_file
from ebbline.core.breath.dilution import Marker
from ebbline.core.breath.noise import Noise
from ebbline.core.breath.plateau_models import ExhaledNoModel, WashoutModel
from ebbline.core.breath.reading import Dilution
from ebbline.core.curve.protocol import Protocol
from ebbline.core.curve.transit import TransitDefinition
from ebbline.core.rules.wording import parse_wording
from ebbline.services.library import Library

DATA = Path(__file__).resolve().parents[2] / "data"
"""Where the rows are, in the package."""


def load_library() -> Library:
    """Return everything under data/, parsed and checked.

    Raises
    ------
    RuleError
        If a rule file was edited into something that cannot be read.
    SettingError
        If a setting is outside what can be computed with.
    """
    settings = data_table("settings")
    dilution = data_table("dilution")
    noise = data_table("noise")["typical"]
    plateaus = data_table("plateau_models")
    substrates = tuple(data_table("substrates"))
    markers = {"o2": _marker("o2", dilution["o2"]), "co2": _marker("co2", dilution["co2"])}
    return Library(
        engine=f"ebbline {__version__}",
        substrates=substrates,
        rule_sets=tuple(
            read_rule_file(DATA / "rules" / f"{name}.toml", substrates=substrates)
            for name in settings["rule_sets"]
        ),
        criterion=settings["criterion"],
        baseline=settings["baseline"],
        minute_tolerance=float(settings["minute_tolerance"]),
        noise=Noise(
            ppm=noise["ppm"], fraction=noise["fraction"], gain_fraction=noise["gain_fraction"]
        ),
        noise_source=noise["source"],
        markers=markers,
        dilution=Dilution(
            markers=tuple(markers.values()),
            ambient_h2_ppm=dilution["ambient_h2_ppm"],
            ambient_ch4_ppm=dilution["ambient_ch4_ppm"],
            u_ambient_ppm=dilution["u_ambient_ppm"],
            accept_fraction=dilution["accept_fraction"],
            refuse_fraction=dilution["refuse_fraction"],
            smallest_span_in_u=dilution["smallest_span_in_u"],
        ),
        reduction=parse_reduction(data_table("reduction")),
        washout=WashoutModel(**plateaus["washout-2013"]),
        exhaled_no=ExhaledNoModel(**plateaus["exhaled-no-2005"]),
        quality=parse_quality(data_table("quality")),
        transit=TransitDefinition(**data_table("transit")),
        protocols={
            name: parse_protocol(name, row) for name, row in data_table("protocols").items()
        },
        wording=parse_wording(data_table("wording")),
    )


def data_table(name: str) -> dict[str, Any]:
    """Return what a TOML file under data/ holds, by its name without the ending."""
    return tomllib.loads((DATA / f"{name}.toml").read_text(encoding="utf-8"))


def parse_protocol(name: str, row: Mapping[str, Any]) -> Protocol:
    """Return the protocol that a row of data/protocols.toml holds.

    Parameters
    ----------
    name : str
        Its id.
    row : mapping
        The row.

    Returns
    -------
    Protocol
    """
    return Protocol(
        id=name,
        release=row["release"],
        title=row["title"],
        substrates=tuple(row["substrates"]),
        fasting=tuple(float(minute) for minute in row["fasting"]),
        minutes=tuple(float(minute) for minute in row["minutes"]),
        baseline=row["baseline"],
        t0=row["t0"],
        doses=tuple(row["doses"]),
        source=row["source"],
    )


def _marker(gas: Literal["o2", "co2"], row: dict[str, float]) -> Marker:
    return Marker(gas=gas, **row)
