"""From bytes to lines to values; a line that is not wholly understood gives none."""

import json
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from ebbline.adapters.instrument.profile import ChannelForm, LineForm, Profile
from ebbline.core.breath.trace import Channel

# A whole number or a decimal one, with an exponent if need be; nothing else is a number.
_NUMBER = {
    ".": re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?"),
    ",": re.compile(r"[+-]?(\d+(,\d*)?|,\d+)([eE][+-]?\d+)?"),
}
_CLOCK = re.compile(r"(\d{1,2}):(\d{2}):(\d{2}(?:[.,]\d+)?)")
_TO_SECONDS = {"s": 1.0, "ms": 1e-3, "min": 60.0}
_DAY_S = 86_400.0
# Python and patterns count these as blanks. In a line they are what became of other characters,
# and a digit that becomes a blank would leave another number.
_GARBAGE = re.compile("[\x0b\x0c\x1c-\x1f\x85]")


@dataclass(frozen=True, slots=True)
class Values:
    """What a line says: values in the channels' units, NaN where it says that there is none.

    ``clock_s`` is the instrument's own time, s; None where it sends none.
    """

    values: Mapping[Channel, float]
    clock_s: float | None


@dataclass(frozen=True, slots=True)
class Unreadable:
    """Why a line gives no values.

    ``code`` is "refused_number", "decimal_comma", "garbled" or "half_line".
    """

    code: str
    words: str


class Assembler:
    """Puts bytes together into lines, whatever ends them: CR, LF or both.

    Parameters
    ----------
    form : LineForm
        Longest line and encoding.
    """

    def __init__(self, form: LineForm) -> None:
        self._form = form
        self._kept = b""
        # What comes first may be the end of a line whose beginning nobody saw.
        self._whole = False
        self._skipping = False

    @property
    def pending(self) -> int:
        """How many bytes of a line that has not ended yet are kept."""
        return len(self._kept)

    def reset(self) -> None:
        """Forget half a line, as after a link was lost."""
        self._kept = b""
        self._whole = False
        self._skipping = False

    def feed(self, chunk: bytes) -> list[str | Unreadable]:
        """Take bytes; return the lines that are complete, without blank ones.

        The first piece after a start is left out unless a line's end came before it.
        """
        *ended, rest = re.split(rb"[\r\n]+", self._kept + chunk)
        found: list[str | Unreadable] = []
        for line in ended:
            if self._skipping:
                self._skipping = False
            elif self._whole and line:
                found.append(self._decoded(line))
            self._whole = True
        if len(rest) > self._form.longest and not self._skipping:
            self._skipping = True
            if self._whole:
                words = f"a line is longer than {self._form.longest} bytes and has no end"
                found.append(Unreadable("garbled", words))
        self._kept = b"" if self._skipping else rest
        return found

    def _decoded(self, line: bytes) -> str | Unreadable:
        if len(line) > self._form.longest:
            words = f"a line of {len(line)} bytes; the longest is {self._form.longest}"
            return Unreadable("garbled", words)
        try:
            return line.decode(self._form.encoding)
        except UnicodeError:
            return Unreadable("garbled", f"not {self._form.encoding} text: {shown(line)}")


def shown(line: bytes | str) -> str:
    """Return a line as it can be shown: escaped, and no longer than 60 characters."""
    text = line.decode("latin-1") if isinstance(line, bytes) else line
    escaped = text.encode("unicode_escape").decode("ascii")
    return escaped if len(escaped) <= 60 else escaped[:57] + "..."


def parse_line(line: str, profile: Profile) -> Values | Unreadable | None:
    """Return what a line says, why it says nothing, or None where it is one to ignore.

    Parameters
    ----------
    line : str
        The line without its end.
    profile : Profile
        How it is taken apart.

    Returns
    -------
    Values or Unreadable or None
    """
    form = profile.lines
    if not line.strip() or any(pattern.fullmatch(line) for pattern in form.ignore):
        return None
    if _GARBAGE.search(line) is not None:
        return Unreadable("garbled", f"a control character in {shown(line)}")
    fields = _fields(line, form)
    if isinstance(fields, Unreadable):
        return fields
    values: dict[Channel, float] = {}
    for channel in profile.channels:
        value = _value(fields, channel, form, line)
        if isinstance(value, Unreadable):
            return value
        values[channel.channel] = value
    clock_s = None
    if form.time is not None:
        text = fields.get(form.time.field)
        found = _clock_s(text, form.time.unit, form) if text is not None else None
        if found is None:
            return Unreadable("refused_number", f"no time in {shown(line)}")
        clock_s = found
    return Values(values, clock_s)


def _fields(line: str, form: LineForm) -> dict[str, str] | Unreadable:
    """Take a line apart into texts by the name of their field."""
    if form.form == "columns":
        blanks = form.separator == " "
        parts = re.split("[ \t]+", line.strip(" \t")) if blanks else line.split(form.separator)
        if len(parts) != form.columns:
            words = f"{len(parts)} columns, {form.columns} are said: {shown(line)}"
            code = "half_line" if len(parts) < form.columns else "garbled"
            return Unreadable(code, words)
        return {str(at): part.strip(" \t") for at, part in enumerate(parts, start=1)}
    if form.form == "pattern":
        assert form.pattern is not None
        found = form.pattern.fullmatch(line)
        if found is None:
            return Unreadable("garbled", f"the pattern does not fit: {shown(line)}")
        groups = found.groupdict().items()
        return {name: text.strip(" \t") for name, text in groups if text is not None}
    return _json_fields(line)


def _json_fields(line: str) -> dict[str, str] | Unreadable:
    """Return the numbers and texts of a JSON object by their paths."""
    fields: dict[str, str] = {}
    twice: list[str] = []

    def walk(node: Any, path: str) -> None:
        if isinstance(node, _Members):
            for key, value in node:
                walk(value, f"{path}.{key}" if path else str(key))
        elif node is None or isinstance(node, str):
            if path in fields:
                twice.append(path)
            fields[path] = "" if node is None else node

    try:
        document = json.loads(
            line,
            parse_int=_Digits,
            parse_float=_Digits,
            parse_constant=_Digits,
            object_pairs_hook=_Members,
        )
        walk(document, "")
    except (json.JSONDecodeError, RecursionError):
        return Unreadable("garbled", f"not a JSON object: {shown(line)}")
    if not isinstance(document, _Members):
        return Unreadable("garbled", f"not a JSON object: {shown(line)}")
    if twice:
        return Unreadable("garbled", f"{twice[0]} is there twice: {shown(line)}")
    return fields


class _Members(list[tuple[str, Any]]):
    """The members of a JSON object as they were written, one that is there twice included."""

    __slots__ = ()


class _Digits(str):
    """A number of a JSON document as it was written."""

    __slots__ = ()


def _value(
    fields: Mapping[str, str], channel: ChannelForm, form: LineForm, line: str
) -> float | Unreadable:
    """Return one channel's value, NaN where the line says that there is none."""
    text = fields.get(channel.field)
    if text is None:
        return Unreadable("half_line", f"no field {channel.field} in {shown(line)}")
    if text in channel.missing:
        return math.nan
    decimal = "." if form.form == "json" else form.decimal
    number = read_number(text, decimal)
    if number is None:
        other = "," if decimal == "." else "."
        if read_number(text, other) is not None:
            words = (
                f"{channel.channel}: {shown(text)} has the decimal sign {other}, "
                f"the profile says {decimal}"
            )
            return Unreadable("decimal_comma", words)
        return Unreadable("refused_number", f"{channel.channel}: {shown(text)} is not a number")
    return (channel.shift + channel.scale * number) * channel.factor


def read_number(text: str, decimal: str) -> float | None:
    """Return a number that is written with a decimal sign, or None where it is not one.

    Parameters
    ----------
    text : str
        The whole field.
    decimal : {".", ","}
        The decimal sign.

    Returns
    -------
    float or None
    """
    if _NUMBER[decimal].fullmatch(text) is None or not text.isascii():
        return None
    number = float(text.replace(",", "."))
    return number if math.isfinite(number) else None


def _clock_s(text: str, unit: str, form: LineForm) -> float | None:
    """Return the instrument's own time, s."""
    if unit != "clock":
        number = read_number(text, "." if form.form == "json" else form.decimal)
        return None if number is None else number * _TO_SECONDS[unit]
    found = _CLOCK.fullmatch(text)
    if found is None:
        return None
    hours, minutes, seconds = found.groups()
    total = 3600.0 * int(hours) + 60.0 * int(minutes) + float(seconds.replace(",", "."))
    return total if total < _DAY_S else None
