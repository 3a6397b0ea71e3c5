"""What a profile says of an analyser: its link, its lines, its channels.

A profile is a TOML file (`ebbline.adapters.instrument.profile_file` reads it), so that any analyser
with a text output can be used without code. Nothing is ever sent to an instrument.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from ebbline.core.breath.sensor import Sensor
from ebbline.core.breath.trace import Channel

Parity = Literal["none", "even", "odd"]
FlowControl = Literal["none", "lines", "characters"]
Form = Literal["columns", "pattern", "json"]
TimeUnit = Literal["s", "ms", "min", "clock"]
What = Literal["stream", "chamber", "bag"]


@dataclass(frozen=True, slots=True)
class SerialLink:
    """A serial port; ``speed`` in baud, flow control by signal lines (RTS/CTS) or characters."""

    port: str
    speed: int
    bits: int
    parity: Parity
    stop_bits: int
    flow_control: FlowControl


@dataclass(frozen=True, slots=True)
class TcpLink:
    """A TCP server that sends lines."""

    host: str
    port: int


@dataclass(frozen=True, slots=True)
class ReplayLink:
    """A raw log of this project, played again at ``speed`` times its own pace."""

    file: str
    speed: float


@dataclass(frozen=True, slots=True)
class SimulatedLink:
    """A virtual analyser and patient: what is measured, the seed of all chance, and the pace."""

    what: What
    seed: int
    speed: float


Link = SerialLink | TcpLink | ReplayLink | SimulatedLink


@dataclass(frozen=True, slots=True)
class TimeField:
    """Where the instrument's own clock is in a line, and its unit (clock: HH:MM:SS, fractions)."""

    field: str
    unit: TimeUnit


@dataclass(frozen=True, slots=True)
class LineForm:
    """How a line is taken apart.

    Parameters
    ----------
    form : {"columns", "pattern", "json"}
        Columns between separators, a pattern with named groups, or a JSON object.
    separator : str
        Text between columns; a single blank stands for any run of blanks. Empty for other forms.
    columns : int
        How many columns a line has; 0 for other forms.
    pattern : re.Pattern or None
        The whole line, with a named group for each field; None for other forms.
    decimal : {".", ","}
        What stands before the decimals.
    encoding : str
        Of the characters.
    longest : int
        Longest line, bytes without its end; a longer one is not a line.
    ignore : tuple of re.Pattern
        Lines that match one as a whole hold no values and are no fault.
    time : TimeField or None
        The instrument's own clock, where it sends one.
    """

    form: Form
    separator: str
    columns: int
    pattern: re.Pattern[str] | None
    decimal: Literal[".", ","]
    encoding: str
    longest: int
    ignore: tuple[re.Pattern[str], ...]
    time: TimeField | None


@dataclass(frozen=True, slots=True)
class ChannelForm:
    """Where a channel is in a line: value = (shift + scale number) factor, in the channel's unit.

    ``field`` is a column counted from 1, a group of the pattern, or a path of JSON keys joined by
    points; ``missing`` are texts that mean that there is no value.
    """

    channel: Channel
    field: str
    unit: str
    factor: float
    scale: float
    shift: float
    missing: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Profile:
    """One analyser.

    Parameters
    ----------
    file : str
        Name of the profile as the user gave it.
    name : str
        What the analyser is called.
    invented : bool
        Whether there is no such analyser; said beside every result.
    link : SerialLink or TcpLink or ReplayLink or SimulatedLink
        How it is reached.
    silent_after_s : float
        Without a byte for so long, it is told that the instrument is silent; at most 2 s.
    lines : LineForm
        How a line is taken apart.
    channels : tuple of ChannelForm
        Where each channel is.
    sensors : mapping of channel name to Sensor
        What is known of each gas channel.
    """

    file: str
    name: str
    invented: bool
    link: Link
    silent_after_s: float
    lines: LineForm
    channels: tuple[ChannelForm, ...]
    sensors: Mapping[Channel, Sensor]
