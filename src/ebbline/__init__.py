"""ebbline: a hydrogen and methane breath-test workbench.

    trace ──reduce──▶ Reading ──collect──▶ Curves ──interpret──▶ Interpretation ──compose──▶ Report

This namespace is the public one; everything else may move. See docs/reference/python.md.
"""

from ebbline._version import __version__
from ebbline.bootstrap import Application, build
from ebbline.core.breath.dilution import Marker, alveolar_fraction, normalise, scale, u_normalised
from ebbline.core.breath.noise import Noise
from ebbline.core.breath.reading import Dilution, GasValue, Reading, read_sample
from ebbline.core.curve.breath_test import BreathTest, Setback, Try
from ebbline.core.curve.curves import Curves, Spread
from ebbline.core.curve.measures import Measures, measure
from ebbline.core.errors import (
    AdoptionError,
    CurveFileError,
    EbblineError,
    InputError,
    ReportError,
    RuleError,
    SettingError,
)
from ebbline.core.rules.grammar import RuleSet, Statement, Validity
from ebbline.core.rules.interpret import check_adoption, interpret
from ebbline.core.rules.interpretation import Interpretation, Settings
from ebbline.services.overrides import Overrides

__all__ = [
    "AdoptionError",
    "Application",
    "BreathTest",
    "CurveFileError",
    "Curves",
    "Dilution",
    "EbblineError",
    "GasValue",
    "InputError",
    "Interpretation",
    "Marker",
    "Measures",
    "Noise",
    "Overrides",
    "Reading",
    "ReportError",
    "RuleError",
    "RuleSet",
    "Setback",
    "SettingError",
    "Settings",
    "Spread",
    "Statement",
    "Try",
    "Validity",
    "__version__",
    "alveolar_fraction",
    "build",
    "check_adoption",
    "interpret",
    "measure",
    "normalise",
    "read_sample",
    "scale",
    "u_normalised",
]
