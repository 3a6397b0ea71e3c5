"""A reduced trace as one JSON document, ``ebbline.reduction.v1``.

data/schema/reduction.v1.json describes it, as a JSON Schema. Missing values are null, and numbers
are rounded nowhere.
"""

import json
import math
from dataclasses import asdict
from typing import Any

from numpy import float64
from numpy.typing import NDArray

from ebbline.core.breath.expiration import Expiration
from ebbline.core.breath.reading import GasValue, Reading
from ebbline.core.breath.reduction import Value
from ebbline.core.breath.sensor import Sensor
from ebbline.core.breath.zero import Zeroing
from ebbline.services.reduce_traces import ReducedTrace

SCHEMA = "ebbline.reduction.v1"


def document(reduced: ReducedTrace) -> dict[str, Any]:
    """Return a reduced trace as plain dicts, lists, texts and numbers.

    Parameters
    ----------
    reduced : ReducedTrace
        What to write.

    Returns
    -------
    dict
        Ready for `json.dumps`.
    """
    reduction = reduced.reduction
    words = reduced.words.reasons
    reading = reduction.reading
    return {
        "schema": SCHEMA,
        "engine": reduced.engine,
        "trace": {
            "file": reduced.file,
            "invented": reduced.invented,
            "facts": dict(reduced.facts),
            "unused": dict(reduced.unused),
            "on_for_min": reduced.on_for_min,
        },
        "instrument": {
            "name": reduced.instrument,
            "channels": {name: _sensor(sensor) for name, sensor in reduced.sensors.items()},
        },
        "method": reduction.method,
        "quality": reduction.quality,
        "reasons": [
            {
                "code": reason.code,
                "seen": reason.seen,
                "means": words[reason.code].means,
                "do": words[reason.code].do,
            }
            for reason in reduction.reasons
        ],
        "reading": None if reading is None else _reading(reading, reduced),
        "raw": {
            name: _value(value, reduced.sensors[name]) for name, value in reduction.values.items()
        },
        "covariance": _matrix(reduction.covariance),
        "covariance_used": _matrix(reduction.covariance_used),
        "zeros": {name: _zero(zeroing) for name, zeroing in reduction.zeros.items()},
        "times": asdict(reduction.times),
        "blow": None if reduced.expiration is None else _blow(reduced.expiration),
        "outside": [asdict(one) for one in reduction.outside],
        "remarks": list(reduced.remarks),
        "cautions": [reduced.words.caution],
        "settings": {
            "reduction": asdict(reduction.settings),
            "dilution": asdict(reduced.dilution),
        },
    }


def document_line(reduced: ReducedTrace) -> str:
    """Return the document on one line, as ``ebbline reduce --json`` prints it."""
    return json.dumps(document(reduced), ensure_ascii=False, allow_nan=False)


def _sensor(sensor: Sensor) -> dict[str, Any]:
    cells = asdict(sensor)
    # One table a channel reads better than one in another.
    return {**cells.pop("response"), **cells}


def _reading(reading: Reading, reduced: ReducedTrace) -> dict[str, Any]:
    return {
        "h2_ppm": _gas(reading.h2),
        "ch4_ppm": None if reading.ch4 is None else _gas(reading.ch4),
        "alveolar_fraction": reading.alveolar_fraction,
        "marker": None if reduced.marker is None else reduced.marker.gas,
        "scale_u": reading.scale_u,
        "reference_u": reading.reference_u,
        "notes": list(reading.notes),
    }


def _gas(value: GasValue) -> dict[str, float | None]:
    return {
        "normalised": value.normalised_ppm,
        "value": value.value_ppm,
        "u": value.u_ppm,
        "u_independent": value.sd_ppm,
    }


def _value(value: Value, sensor: Sensor) -> dict[str, Any]:
    known = sensor.u_gain_fraction is not None
    return {
        "value": value.raw,
        "u": value.u,
        "u_parts": {
            "noise": value.budget.noise,
            "zero": value.budget.zero,
            "response": value.budget.response,
            "resolution": value.budget.resolution,
            "calibration": value.budget.calibration if known else None,
        },
        "count": value.count,
        "noise_gain": value.noise_gain,
        "slope_per_s": value.slope_per_s,
        "last_shown": value.last,
        "farthest_shown": value.peak,
    }


def _zero(zeroing: Zeroing) -> dict[str, Any]:
    zero = zeroing.zero
    return {
        "at_s": None if zero is None else zero.at_s,
        "offset": None if zero is None else zero.offset,
        "drift_per_s": None if zero is None else zero.drift_per_s,
        "u_offset": None if zero is None else zero.u_offset,
        "u_drift_per_s": None if zero is None else zero.u_drift_per_s,
        "reasons": list(zeroing.reasons),
    }


def _blow(expiration: Expiration) -> dict[str, Any]:
    """Return what a blow was like by published models, without its curves."""
    volumes = expiration.volumes
    return {
        "volumes": None if volumes is None else asdict(volumes),
        "no_volumes": expiration.no_volumes,
        "noise_gain": expiration.noise_gain,
        "exhaled_no_unmet": [one._asdict() for one in expiration.exhaled_no],
    }


def _matrix(values: NDArray[float64]) -> list[list[float | None]]:
    return [[value if math.isfinite(value) else None for value in row] for row in values.tolist()]
