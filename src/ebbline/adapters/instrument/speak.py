"""Speak a profile: the line that an instrument would send, so that any profile can be tried."""

import json
import math
from collections.abc import Mapping
from typing import Any

from ebbline.adapters.instrument.lines import Unreadable, Values, parse_line, shown
from ebbline.adapters.instrument.pattern_text import pattern_text
from ebbline.adapters.instrument.profile import ChannelForm, LineForm, Profile
from ebbline.core.breath.trace import Channel
from ebbline.core.errors import InstrumentError

_FROM_SECONDS = {"s": 1.0, "ms": 1e3, "min": 1.0 / 60.0}
_DAY_S = 86_400.0
# What stands in columns that the profile does not read.
_UNUSED = "0"


def speak(profile: Profile, values: Mapping[Channel, float], *, clock_s: float) -> bytes:
    """Return a line as the instrument would send it, with its end.

    Parameters
    ----------
    profile : Profile
        How its lines are made.
    values : mapping of channel to float
        In the channels' units, to seven digits; NaN or left out: the instrument has none.
    clock_s : float
        The instrument's own time, s; put in where it sends one.

    Returns
    -------
    bytes
        `ebbline.adapters.instrument.lines.parse_line` gives the values back.

    Raises
    ------
    InstrumentError
        If the profile has no such line.
    """
    form = profile.lines
    fields = {
        one.field: _text(one, values.get(one.channel, math.nan), form) for one in profile.channels
    }
    if form.time is not None:
        fields[form.time.field] = _clock_text(clock_s, form.time.unit, form)
    line = _line(fields, form)
    try:
        sent = line.encode(form.encoding)
    except UnicodeEncodeError as error:
        raise _refuse(profile, line) from error
    # A line that would be read as something else than it should say is never sent.
    if len(sent) > form.longest or not _says(parse_line(line, profile), values, profile):
        raise _refuse(profile, line)
    return sent + b"\r\n"


def _says(
    found: Values | Unreadable | None, values: Mapping[Channel, float], profile: Profile
) -> bool:
    """Return whether what is read from a line is what it should say."""
    if not isinstance(found, Values):
        return False
    for one in profile.channels:
        value, again = values.get(one.channel, math.nan), found.values[one.channel]
        # The shift is taken off a number of seven digits, and its error stays.
        near = 1e-6 * abs(value - one.shift * one.factor)
        if not (math.isnan(value) and math.isnan(again)) and not abs(again - value) <= near:
            return False
    return True


def _refuse(profile: Profile, line: str) -> InstrumentError:
    return InstrumentError(
        f"{profile.file}: the values cannot be spoken; allowed: a line that the profile reads; "
        f"came: {shown(line)}"
    )


def _text(one: ChannelForm, value: float, form: LineForm) -> str:
    """Return the text of one channel."""
    if math.isnan(value):
        # Blanks may part columns, and an empty one would be overlooked.
        return next((text for text in one.missing if text), "")
    return _number((value / one.factor - one.shift) / one.scale, form)


def _number(number: float, form: LineForm) -> str:
    text = f"{number:.7g}"
    return text if form.form == "json" else text.replace(".", form.decimal)


def _clock_text(clock_s: float, unit: str, form: LineForm) -> str:
    """Return the instrument's own time."""
    if unit != "clock":
        text = f"{clock_s * _FROM_SECONDS[unit]:.6f}"
        return text if form.form == "json" else text.replace(".", form.decimal)
    thousandths = round(clock_s % _DAY_S * 1000.0) % round(_DAY_S * 1000.0)
    minutes, rest = divmod(thousandths, 60_000)
    hours, minutes = divmod(minutes, 60)
    text = f"{hours:02d}:{minutes:02d}:{rest / 1000.0:06.3f}"
    return text.replace(".", form.decimal)


def _line(fields: Mapping[str, str], form: LineForm) -> str:
    """Put texts into a line."""
    if form.form == "columns":
        return form.separator.join(
            fields.get(str(at), _UNUSED) for at in range(1, form.columns + 1)
        )
    if form.pattern is not None:
        return pattern_text(form.pattern.pattern, fields)
    document: dict[str, Any] = {}
    for path, text in fields.items():
        *way, last = path.split(".")
        node = document
        for key in way:
            node = node.setdefault(key, {})
        node[last] = _json_value(text)
    return json.dumps(document, ensure_ascii=False)


def _json_value(text: str) -> float | str | None:
    """Return a number as one, no text as null, and other texts as they are."""
    if not text:
        return None
    try:
        return float(text)
    except ValueError:
        return text
