"""Choose what an interpretation runs with: what the test itself says, else data/."""

from dataclasses import replace

from ebbline.core.breath.dilution import Marker
from ebbline.core.breath.noise import Noise
from ebbline.core.breath.reading import Dilution
from ebbline.core.curve.breath_test import BreathTest
from ebbline.core.curve.measures import BASELINE_RULES
from ebbline.core.curve.protocol import BaselineRule
from ebbline.core.errors import InputError, SettingError, list_allowed
from ebbline.core.rules.interpretation import Settings
from ebbline.services.library import Library

_BASELINES: dict[str, BaselineRule] = {"mean": "mean", "last": "last", "lowest": "lowest"}


def choose_settings(test: BreathTest, library: Library) -> Settings:
    """Return the settings for one test.

    Parameters
    ----------
    test : BreathTest
        Its facts may hold settings, by the names of docs/reference/curve-file.md; what a person
        gave on the command line is among them.
    library : Library
        What holds otherwise.

    Returns
    -------
    Settings

    Raises
    ------
    SettingError
        If a value is outside what can be computed with.
    InputError
        If a reference or a baseline rule is not one that is known.
    """
    noise, noise_source = _noise(test, library)
    tolerance = _number(test, "minute_tolerance")
    if tolerance is not None and not 0.0 <= tolerance <= 30.0:
        raise SettingError(
            f"minute_tolerance cannot be used; allowed: 0 to 30 minutes; came: {tolerance:g}"
        )
    protocol = library.protocols.get(test.protocol or "")
    usual = library.baseline if protocol is None else protocol.baseline
    rule = test.facts.get("baseline", usual)
    if rule not in _BASELINES:
        raise InputError(
            f"baseline rule is not known; allowed: {list_allowed(BASELINE_RULES)}; came: {rule}"
        )
    return Settings(
        noise=noise,
        noise_source=noise_source,
        dilution=_dilution(test, library),
        baseline=_BASELINES[rule],
        minute_tolerance=library.minute_tolerance if tolerance is None else tolerance,
    )


def _number(test: BreathTest, name: str) -> float | None:
    return float(test.facts[name]) if name in test.facts else None


def _noise(test: BreathTest, library: Library) -> tuple[Noise, str]:
    names = ("noise_ppm", "noise_fraction", "gain_fraction")
    values = [_number(test, name) for name in names]
    typical = (library.noise.ppm, library.noise.fraction, library.noise.gain_fraction)
    chosen = [own if own is not None else other for own, other in zip(values, typical, strict=True)]
    told = [name for name, value in zip(names, values, strict=True) if value is not None]
    rest = [name for name in names if name not in told]
    source = f"{library.noise_source} ({', '.join(rest)})" if rest else ""
    if told:
        source = "; ".join(filter(None, (f"given for this test ({', '.join(told)})", source)))
    return Noise(ppm=chosen[0], fraction=chosen[1], gain_fraction=chosen[2]), source


def _dilution(test: BreathTest, library: Library) -> Dilution:
    markers = library.dilution.markers
    reference = test.facts.get("reference")
    if reference is not None:
        markers = find_markers(reference, library)
    ambient_o2 = _number(test, "ambient_o2_pct")
    if ambient_o2 is not None:
        markers = tuple(
            replace(marker, ambient_pct=ambient_o2) if marker.gas == "o2" else marker
            for marker in markers
        )
    h2 = _number(test, "ambient_h2_ppm")
    ch4 = _number(test, "ambient_ch4_ppm")
    return replace(
        library.dilution,
        markers=markers,
        ambient_h2_ppm=library.dilution.ambient_h2_ppm if h2 is None else h2,
        ambient_ch4_ppm=library.dilution.ambient_ch4_ppm if ch4 is None else ch4,
    )


def find_markers(reference: str, library: Library) -> tuple[Marker, ...]:
    """Return the one marker that a reference such as ``o2 13.9`` names, or none.

    Parameters
    ----------
    reference : str
        A gas, with a percentage where it is not the service's own; or ``none``.
    library : Library
        The service's references.

    Returns
    -------
    tuple of Marker

    Raises
    ------
    InputError
        If it cannot be read.
    """
    gas, _, text = reference.strip().lower().partition(" ")
    if gas == "none" and not text:
        return ()
    try:
        alveolar = float(text) if text else None
    except ValueError:
        alveolar = None
        gas = ""
    if gas not in library.markers:
        raise InputError(
            "alveolar reference cannot be read; allowed: none, or o2 or co2 with a percentage, "
            f"such as o2 13.9; came: {reference}"
        )
    marker = library.markers[gas]
    return (marker if alveolar is None else replace(marker, alveolar_pct=alveolar),)
