"""The channels of a profile: where each is in a line, and what is known of its sensor."""

import re
from typing import cast

from ebbline.adapters.instrument.profile import ChannelForm, LineForm
from ebbline.adapters.instrument.profile_keys import Table
from ebbline.core.breath.response import Response
from ebbline.core.breath.sensor import Regime, Sensor
from ebbline.core.breath.trace import PHYSICAL, Channel
from ebbline.core.errors import ProfileError, SettingError, list_allowed

# A sensor slower than ten minutes is not in use for breath.
_LONGEST_S = 600.0

UNITS: dict[str, dict[str, float]] = {
    "ppm": {"ppm": 1.0, "ppb": 1e-3, "percent": 1e4, "fraction": 1e6},
    "pct": {"percent": 1.0, "fraction": 100.0, "ppm": 1e-4},
    "flow": {"L/s": 1.0, "L/min": 1.0 / 60.0, "mL/s": 1e-3, "mL/min": 1.0 / 60_000.0},
}
"""Units that a line may have, with the factor to the channel's own: ppm, percent or L/s."""

_GAS_KEYS = (
    "regime",
    "delay_s",
    "tau_s",
    "tau2_s",
    "u_tau_fraction",
    "u_delay_s",
    "noise",
    "noise_fraction",
    "resolution",
    "u_drift_per_h",
    "u_gain_fraction",
    "lowest",
    "highest",
)
_PLACE_KEYS = ("field", "unit", "scale", "shift", "missing")


class Fields:
    """What fields a form of line has."""

    def __init__(self, form: str, columns: int, pattern: re.Pattern[str] | None) -> None:
        self.form, self.columns, self.pattern = form, columns, pattern

    def has(self, field: str) -> bool:
        """Return whether a field may be in a line."""
        if self.form == "columns":
            return field.isascii() and field.isdigit() and 1 <= int(field) <= self.columns
        if self.pattern is not None:
            return field in self.pattern.groupindex
        return bool(field)

    @property
    def allowed(self) -> str:
        """Say which fields there may be."""
        if self.form == "columns":
            return f"a column, 1 to {self.columns}"
        if self.pattern is not None:
            return f"a group of the pattern, {list_allowed(self.pattern.groupindex) or 'none'}"
        return "a path of keys such as gas.h2"


def field_of(table: Table, key: str, fields: Fields) -> str:
    """Return the name of a field that a line has."""
    return table.get(
        key,
        fields.allowed,
        lambda v: str(v) if type(v) in (int, str) and fields.has(str(v)) else None,
    )


def read_channels(
    table: Table, lines: LineForm
) -> tuple[tuple[ChannelForm, ...], dict[Channel, Sensor]]:
    """Read where each channel is, and what is known of its sensor."""
    table.only(tuple(PHYSICAL))
    fields = Fields(lines.form, lines.columns, lines.pattern)
    forms: list[ChannelForm] = []
    sensors: dict[Channel, Sensor] = {}
    for name in PHYSICAL:
        if name not in table.rows:
            continue
        rows = table.table(name)
        is_gas = name != "flow_l_per_s"
        rows.only((*_PLACE_KEYS, *(_GAS_KEYS if is_gas else ())))
        units = UNITS[name.rpartition("_")[2] if is_gas else "flow"]
        unit = rows.one_of("unit", tuple(units))
        scale = rows.number("scale", -1e9, 1e9, ", not 0")
        if scale == 0.0:
            raise rows.refuse("scale", "value cannot be used", "-1e+09 to 1e+09, not 0", "0")
        forms.append(
            ChannelForm(
                channel=name,
                field=field_of(rows, "field", fields),
                unit=unit,
                factor=units[unit],
                scale=scale,
                shift=rows.number("shift", -1e9, 1e9, ""),
                missing=rows.texts("missing"),
            )
        )
        if is_gas:
            sensors[name] = _sensor(rows)
    if not sensors:
        raise table.refuse("", "no gas", list_allowed(n for n in PHYSICAL if n[0] != "f"), "none")
    taken = [form.field for form in forms]
    for form in forms:
        if taken.count(form.field) > 1:
            raise table.refuse(
                f"{form.channel}.field", "is taken twice", "one channel a field", form.field
            )
    return tuple(forms), sensors


def _sensor(rows: Table) -> Sensor:
    """Read what is known of a gas channel's sensor."""
    gain = rows.number("u_gain_fraction", 0.0, 1.0, "") if "u_gain_fraction" in rows.rows else None
    try:
        return Sensor(
            regime=cast(Regime, rows.one_of("regime", ("stream", "chamber"))),
            response=Response(
                delay_s=rows.number("delay_s", 0.0, _LONGEST_S, " s"),
                tau_s=rows.number("tau_s", 1e-3, _LONGEST_S, " s"),
                tau2_s=rows.number("tau2_s", 0.0, _LONGEST_S, " s"),
            ),
            u_tau_fraction=rows.number("u_tau_fraction", 0.0, 1.0, ""),
            u_delay_s=rows.number("u_delay_s", 0.0, _LONGEST_S, " s"),
            noise=rows.number("noise", 0.0, 1e4, ""),
            noise_fraction=rows.number("noise_fraction", 0.0, 1.0, ""),
            resolution=rows.number("resolution", 0.0, 1e4, ""),
            u_drift_per_h=rows.number("u_drift_per_h", 0.0, 1e4, ""),
            u_gain_fraction=gain,
            lowest=rows.number("lowest", -1e6, 1e6, ""),
            highest=rows.number("highest", -1e6, 1e6, ""),
        )
    except SettingError as error:
        if isinstance(error, ProfileError):
            raise
        # What no single key says: a range without width, neither noise nor steps.
        _, _, rest = str(error).partition(" ")
        wrong, _, tail = rest.partition("; allowed: ")
        allowed, _, came = tail.partition("; came: ")
        raise ProfileError(
            file=rows.file, key=rows.name, wrong=wrong, allowed=allowed, came=came
        ) from error
