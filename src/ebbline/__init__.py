"""ebbline: a hydrogen and methane breath-test workbench.

    trace ──reduce──▶ Reading ──collect──▶ Curves ──interpret──▶ Interpretation ──compose──▶ Report

This namespace is the public one; everything else may move. See docs/reference/python.md.
"""

from ebbline._version import __version__
from ebbline.bootstrap import Application, build
from ebbline.core.breath.dilution import Marker, alveolar_fraction, normalise, scale, u_normalised
from ebbline.core.breath.noise import Noise
from ebbline.core.breath.progress import Progress
from ebbline.core.breath.reading import Dilution, GasValue, Reading, read_sample
from ebbline.core.breath.reasons import Reason
from ebbline.core.breath.reduce import Reducer, reduce
from ebbline.core.breath.reduction import Reduction, Value
from ebbline.core.breath.response import Response
from ebbline.core.breath.sensor import Sensor
from ebbline.core.breath.settings import ReductionSettings
from ebbline.core.breath.trace import Trace
from ebbline.core.curve.breath_test import BreathTest, Setback, Try
from ebbline.core.curve.curves import Curves, Spread
from ebbline.core.curve.measures import Measures, measure
from ebbline.core.errors import (
    AdoptionError,
    CurveFileError,
    EbblineError,
    InputError,
    InstrumentError,
    ProfileError,
    ReportError,
    RuleError,
    SettingError,
    TraceFileError,
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
    "InstrumentError",
    "Interpretation",
    "Marker",
    "Measures",
    "Noise",
    "Overrides",
    "ProfileError",
    "Progress",
    "Reading",
    "Reason",
    "Reducer",
    "Reduction",
    "ReductionSettings",
    "ReportError",
    "Response",
    "RuleError",
    "RuleSet",
    "Sensor",
    "Setback",
    "SettingError",
    "Settings",
    "Spread",
    "Statement",
    "Trace",
    "TraceFileError",
    "Try",
    "Validity",
    "Value",
    "__version__",
    "alveolar_fraction",
    "build",
    "check_adoption",
    "interpret",
    "measure",
    "normalise",
    "read_sample",
    "reduce",
    "scale",
    "u_normalised",
]
