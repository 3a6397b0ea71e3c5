"""The interpretation as one JSON document, ``ebbline.interpretation.v1``.

data/schema/interpretation.v1.json describes it, as a JSON Schema. Missing values are null, and
numbers are rounded nowhere.
"""

import json
from typing import Any

from ebbline.core.breath.reading import GasValue
from ebbline.core.curve.measures import Measures
from ebbline.core.rules.interpretation import (
    Interpretation,
    InterpretedSample,
    Settings,
    StatementResult,
)

SCHEMA = "ebbline.interpretation.v1"


def document(interpretation: Interpretation) -> dict[str, Any]:
    """Return an interpretation as plain dicts, lists, texts and numbers.

    Parameters
    ----------
    interpretation : Interpretation
        What to write.

    Returns
    -------
    dict
        Ready for `json.dumps`.
    """
    test = interpretation.test
    return {
        "schema": SCHEMA,
        "engine": interpretation.engine,
        "id": interpretation.id,
        "test": {
            "file": test.file,
            "substrate": test.substrate,
            "dose_g": test.dose_g,
            "weight_kg": test.weight_kg,
            "age_years": test.age_years,
            "protocol": test.protocol,
            "invented": test.invented,
            "facts": dict(test.facts),
            "unused": dict(test.unused),
        },
        "settings": _settings(interpretation.settings),
        "rule_sets": [
            {
                "id": used.id,
                "version": used.version,
                "title": used.title,
                "source": used.source,
                "checked": used.checked,
                "adopted": used.adopted,
            }
            for used in interpretation.rule_sets
        ],
        "samples": [_sample(sample) for sample in interpretation.samples],
        "not_counted": [
            {
                "minute": setback.minute,
                "planned_minute": setback.planned_minute,
                "reason": setback.reason,
                "h2_ppm": setback.h2_ppm,
                "ch4_ppm": setback.ch4_ppm,
                "note": setback.note,
                "symptoms": dict(setback.symptoms),
            }
            for setback in interpretation.not_counted
        ],
        "measures": {name: _measures(m) for name, m in interpretation.measures.items()},
        "transit": None
        if interpretation.transit is None
        else {
            "definition": interpretation.transit.definition,
            "after_minute": interpretation.transit.after_minute,
            "by_minute": interpretation.transit.by_minute,
        },
        "statements": [_statement(row) for row in interpretation.statements],
        "findings": [
            {
                "rule_set": finding.rule_set,
                "question": finding.question,
                "finding": finding.finding,
                "because": finding.because,
                "caveats": list(finding.caveats),
            }
            for finding in interpretation.findings
        ],
        "disagreements": list(interpretation.disagreements),
        "cautions": list(interpretation.cautions),
    }


def document_line(interpretation: Interpretation) -> str:
    """Return the document on one line, as ``ebbline interpret --json`` prints it."""
    return json.dumps(document(interpretation), ensure_ascii=False, allow_nan=False)


def _gas(value: GasValue | None) -> dict[str, float | None] | None:
    if value is None:
        return None
    return {
        "raw": value.raw_ppm,
        "normalised": value.normalised_ppm,
        "value": value.value_ppm,
        "u": value.u_ppm,
        "u_independent": value.sd_ppm,
    }


def _sample(sample: InterpretedSample) -> dict[str, Any]:
    return {
        "minute": sample.minute,
        "planned_minute": sample.planned_minute,
        "h2_ppm": _gas(sample.h2_ppm),
        "ch4_ppm": _gas(sample.ch4_ppm),
        "o2_pct": sample.o2_pct,
        "co2_pct": sample.co2_pct,
        "alveolar_fraction": sample.alveolar_fraction,
        "quality": sample.quality,
        "notes": list(sample.notes),
        "symptoms": dict(sample.symptoms),
    }


def _measures(measures: Measures) -> dict[str, float | None]:
    return {name: getattr(measures, name) for name in Measures.__slots__}


def _statement(row: StatementResult) -> dict[str, Any]:
    in_ppm = row.unit == "ppm"
    return {
        "rule_set": row.rule_set,
        "statement": row.statement,
        "question": row.question,
        "gas": row.gas,
        "measure": row.measure,
        "result": row.result,
        "value_ppm": row.value if in_ppm else None,
        "threshold_ppm": row.threshold if in_ppm else None,
        "value_points": None if in_ppm else row.value,
        "threshold_points": None if in_ppm else row.threshold,
        "comparison": row.comparison,
        "by_minute": row.by_minute,
        "first_minute": row.first_minute,
        "chance": row.chance,
        "because": row.because,
        "undecided": row.undecided,
        "late": row.late,
        "checked": row.checked,
        "source": row.source,
    }


def _settings(settings: Settings) -> dict[str, Any]:
    dilution = settings.dilution
    return {
        "noise_ppm": settings.noise.ppm,
        "noise_fraction": settings.noise.fraction,
        "gain_fraction": settings.noise.gain_fraction,
        "noise_source": settings.noise_source,
        "baseline": settings.baseline,
        "minute_tolerance": settings.minute_tolerance,
        "dilution": {
            "ambient_h2_ppm": dilution.ambient_h2_ppm,
            "ambient_ch4_ppm": dilution.ambient_ch4_ppm,
            "u_ambient_ppm": dilution.u_ambient_ppm,
            "accept_fraction": dilution.accept_fraction,
            "refuse_fraction": dilution.refuse_fraction,
            "smallest_span_in_u": dilution.smallest_span_in_u,
            "markers": [
                {name: getattr(marker, name) for name in type(marker).__slots__}
                for marker in dilution.markers
            ],
        },
    }
