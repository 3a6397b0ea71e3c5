"""What came of one breath: values that were typed, or a trace that was reduced."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from ebbline.core.breath.reading import Reading, read_sample
from ebbline.core.breath.reduction import Reduction
from ebbline.core.clinic.bench_table import VALUES, BenchTable
from ebbline.core.clinic.record.bench import SampleTry
from ebbline.core.errors import FieldError
from ebbline.core.rules.interpretation import Settings

_DIGEST_LENGTH = 64


@dataclass(frozen=True, slots=True)
class Typed:
    """Values as they were read off a display; None where the gas was not measured."""

    h2_ppm: float
    ch4_ppm: float | None
    o2_pct: float | None
    co2_pct: float | None


@dataclass(frozen=True, slots=True, eq=False)
class Reduced:
    """A breath or bag that was reduced from its trace.

    ``trace_digest`` is the SHA-256 of the trace as it is kept, in hexadecimal; ``trace_summary``
    says in plain values what it was, such as the file that holds it.
    """

    reduction: Reduction
    trace_digest: str
    trace_summary: Mapping[str, Any]


def typed_values(
    breath: Typed,
    *,
    again: Typed | None,
    confirmed: bool,
    before: SampleTry | None,
    table: BenchTable,
) -> None:
    """Refuse typed values that look like a slip of the pen.

    Parameters
    ----------
    breath : Typed
        The values.
    again : Typed or None
        The same, typed a second time, where they were.
    confirmed : bool
        Whether the person says that a value far from the one before is right.
    before : SampleTry or None
        The reading before this one in the same test.
    table : BenchTable
        Limits.

    Raises
    ------
    FieldError
        Naming the value.
    """
    for name in VALUES:
        value = getattr(breath, name)
        if value is not None:
            _check_limits(name, value, table)
        if again is not None and getattr(again, name) != value:
            raise FieldError(
                field=name,
                wrong="typed differently the second time",
                allowed=_shown(value),
                came=_shown(getattr(again, name)),
            )
    if again is not None or confirmed or before is None:
        return
    for name, most in table.jumps_ppm.items():
        value, last = getattr(breath, name), getattr(before, name)
        if value is not None and last is not None and abs(value - last) > most:
            raise FieldError(
                field=name,
                wrong=f"far from the reading before, {last:g}",
                allowed=f"within {most:g} ppm of it, or typed a second time, or confirmed",
                came=_shown(value),
            )


def fields_of(breath: Typed | Reduced, settings: Settings) -> dict[str, Any]:
    """Return the fields of a `SampleTry` that come from the breath itself.

    Parameters
    ----------
    breath : Typed or Reduced
        The breath.
    settings : Settings
        What a typed one is read with; a trace was reduced with its own.

    Returns
    -------
    dict
        Raw and normalised values, uncertainties, quality and reasons, way and trace.
    """
    if isinstance(breath, Typed):
        reading = read_sample(
            h2_ppm=breath.h2_ppm,
            ch4_ppm=breath.ch4_ppm,
            o2_pct=breath.o2_pct,
            co2_pct=breath.co2_pct,
            noise=settings.noise,
            dilution=settings.dilution,
        )
        return {
            **_reading_fields(reading),
            "way": "typed",
            "o2_pct": breath.o2_pct,
            "co2_pct": breath.co2_pct,
            "trace_digest": None,
            "trace_summary": {},
        }
    _check_trace(breath)
    reduction = breath.reduction
    reasons = tuple(reason.seen for reason in reduction.reasons)
    return {
        **(_nothing(reasons) if reduction.reading is None else _reading_fields(reduction.reading)),
        "way": reduction.method,
        "quality": reduction.quality,
        "o2_pct": _marker(reduction, "o2_pct"),
        "co2_pct": _marker(reduction, "co2_pct"),
        "trace_digest": breath.trace_digest,
        "trace_summary": dict(breath.trace_summary),
    }


def _check_limits(name: str, value: float, table: BenchTable) -> None:
    limits = table.values[name]
    if not math.isfinite(value) or not limits.low <= value <= limits.high:
        raise FieldError(
            field=name,
            wrong="out of range",
            allowed=f"{limits.low:g} to {limits.high:g}",
            came=f"{value:g}",
        )


def _check_trace(breath: Reduced) -> None:
    digest = breath.trace_digest
    if len(digest) != _DIGEST_LENGTH or not set(digest) <= set("0123456789abcdef"):
        raise FieldError(
            field="trace_digest",
            wrong="not the digest of a trace",
            allowed="a SHA-256 in hexadecimal, 64 signs",
            came=digest or "nothing",
        )


def _reading_fields(reading: Reading) -> dict[str, Any]:
    h2, ch4 = reading.h2, reading.ch4
    return {
        "h2_ppm": h2.raw_ppm,
        "ch4_ppm": None if ch4 is None else ch4.raw_ppm,
        "h2_normalised_ppm": h2.normalised_ppm,
        "ch4_normalised_ppm": None if ch4 is None else ch4.normalised_ppm,
        "h2_u_ppm": h2.u_ppm,
        "ch4_u_ppm": None if ch4 is None else ch4.u_ppm,
        "alveolar_fraction": reading.alveolar_fraction,
        "quality": reading.quality,
        "reasons": reading.notes,
    }


def _nothing(reasons: tuple[str, ...]) -> dict[str, Any]:
    """Return the fields of a trace that no value could be had from."""
    return {
        "h2_ppm": None,
        "ch4_ppm": None,
        "h2_normalised_ppm": None,
        "ch4_normalised_ppm": None,
        "h2_u_ppm": None,
        "ch4_u_ppm": None,
        "alveolar_fraction": None,
        "reasons": reasons,
    }


def _marker(reduction: Reduction, name: Any) -> float | None:
    value = reduction.values.get(name)
    return None if value is None else value.raw


def _shown(value: float | None) -> str:
    return "nothing" if value is None else f"{value:g}"
