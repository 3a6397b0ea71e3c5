"""Read a profile from its TOML file, whole or not at all."""

import re
import tomllib
from pathlib import Path
from typing import cast

from ebbline.adapters.instrument.profile import (
    FlowControl,
    Form,
    LineForm,
    Link,
    Parity,
    Profile,
    ReplayLink,
    SerialLink,
    SimulatedLink,
    TcpLink,
    TimeField,
    TimeUnit,
    What,
)
from ebbline.adapters.instrument.profile_channels import Fields, field_of, read_channels
from ebbline.adapters.instrument.profile_keys import Table
from ebbline.core.errors import ProfileError

LARGEST_BYTES = 100_000
"""A profile larger than this is not one."""


def read_profile(name: str) -> Profile:
    """Read a profile.

    Parameters
    ----------
    name : str
        Name of the file.

    Returns
    -------
    Profile

    Raises
    ------
    ProfileError
        If anything in it cannot be used; nothing of it is.
    """
    top = Table(name, "", _rows(name))
    top.only(("name", "invented", "link", "lines", "channels"))
    lines_table = top.table("lines")
    lines = _lines(lines_table)
    channels, sensors = read_channels(top.table("channels"), lines)
    link_table = top.table("link")
    return Profile(
        file=name,
        name=top.text("name"),
        invented=top.flag("invented"),
        link=_link(link_table),
        silent_after_s=link_table.number("silent_after_s", 0.1, 2.0, " s"),
        lines=lines,
        channels=channels,
        sensors=sensors,
    )


def _rows(name: str) -> dict[str, object]:
    """Return what the file holds, or refuse it."""

    def refuse(wrong: str, allowed: str, came: str) -> ProfileError:
        return ProfileError(file=name, key="", wrong=wrong, allowed=allowed, came=came)

    try:
        data = Path(name).read_bytes()
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise refuse("cannot be read", "a file that can be read", reason) from error
    if len(data) > LARGEST_BYTES:
        raise refuse("is too large", f"up to {LARGEST_BYTES} bytes", f"{len(data)} bytes")
    try:
        return tomllib.loads(data.decode("utf-8"))
    except UnicodeDecodeError as error:
        raise refuse("is not text", "UTF-8", f"byte {error.start}") from error
    except tomllib.TOMLDecodeError as error:
        raise refuse("is not TOML", "TOML 1.0", str(error)) from error
    except RecursionError as error:
        raise refuse("is not TOML", "TOML 1.0", "nesting without end") from error


def _link(table: Table) -> Link:
    """Read how the analyser is reached."""
    kind = table.one_of("kind", ("serial", "tcp", "replay", "simulated"))
    common = ("kind", "silent_after_s")
    if kind == "serial":
        table.only((*common, "port", "speed", "bits", "parity", "stop_bits", "flow_control"))
        return SerialLink(
            port=table.text("port"),
            speed=table.whole("speed", 50, 4_000_000),
            bits=table.whole("bits", 7, 8),
            parity=cast(Parity, table.one_of("parity", ("none", "even", "odd"))),
            stop_bits=table.whole("stop_bits", 1, 2),
            flow_control=cast(
                FlowControl, table.one_of("flow_control", ("none", "lines", "characters"))
            ),
        )
    if kind == "tcp":
        table.only((*common, "host", "port"))
        return TcpLink(host=table.text("host"), port=table.whole("port", 1, 65535))
    if kind == "replay":
        table.only((*common, "file", "speed"))
        return ReplayLink(file=table.text("file"), speed=table.number("speed", 0.1, 1000.0, ""))
    table.only((*common, "what", "seed", "speed"))
    return SimulatedLink(
        what=cast(What, table.one_of("what", ("stream", "chamber", "bag"))),
        seed=table.whole("seed", 0, 2**32 - 1),
        speed=table.number("speed", 0.1, 1000.0, ""),
    )


def _lines(table: Table) -> LineForm:
    """Read how a line is taken apart."""
    form = table.one_of("form", ("columns", "pattern", "json"))
    common = ("form", "encoding", "longest", "ignore", "time", "time_unit")
    extra = {"columns": ("separator", "columns", "decimal"), "pattern": ("pattern", "decimal")}
    table.only((*common, *extra.get(form, ())))
    decimal = "." if form == "json" else table.one_of("decimal", (".", ","))
    separator, columns = "", 0
    if form == "columns":
        separator = {"space": " ", "tab": "\t"}.get(given := table.text("separator"), given)
        columns = table.whole("columns", 1, 200)
        if separator == decimal:
            raise table.refuse(
                "separator", "is the decimal sign too", f"other than {decimal}", separator
            )
    pattern = _pattern(table, "pattern", table.text("pattern")) if form == "pattern" else None
    return LineForm(
        form=cast(Form, form),
        separator=separator,
        columns=columns,
        pattern=pattern,
        decimal="," if decimal == "," else ".",
        encoding=_encoding(table),
        longest=table.whole("longest", 1, 65536),
        ignore=tuple(_pattern(table, "ignore", one) for one in table.texts("ignore")),
        time=_time(table, Fields(form, columns, pattern)),
    )


def _pattern(table: Table, key: str, text: str) -> re.Pattern[str]:
    try:
        return re.compile(text)
    except re.error as error:
        raise table.refuse(
            key, "is not a regular expression", "Python's syntax", str(error)
        ) from error


def _encoding(table: Table) -> str:
    name = table.text("encoding")
    try:
        # Lines are parted before they are decoded, so one byte must be one ASCII character.
        usable = b"0".decode(name) == "0"
    except (LookupError, UnicodeError):
        usable = False
    if not usable:
        raise table.refuse(
            "encoding", "is not known", "one that holds ASCII, such as utf-8 or latin-1", name
        )
    return name


def _time(table: Table, fields: Fields) -> TimeField | None:
    """Read where the instrument's own clock is, if it sends one."""
    if "time" not in table.rows and "time_unit" not in table.rows:
        return None
    field = field_of(table, "time", fields)
    unit = table.one_of("time_unit", ("s", "ms", "min", "clock"))
    return TimeField(field=field, unit=cast(TimeUnit, unit))
