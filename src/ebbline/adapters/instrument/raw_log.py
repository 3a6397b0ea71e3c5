"""The raw log: every byte as it came, with its times, written before anything is read from it.

One record a line, four parts with tabs between: time of day in UTC, seconds on the link's clock,
what it is ("data", "opened", "lost"), and the bytes, escaped, or words.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Literal, cast, get_args

from ebbline.core.errors import InputError, InstrumentError

What = Literal["data", "opened", "lost"]
HEAD = "# ebbline raw log 1"
"""The first line begins with this; the profile's name follows."""

_ALLOWED = "a raw log of ebbline"
_SECONDS = re.compile(r"-?\d+\.\d{6}")


@dataclass(frozen=True, slots=True)
class Record:
    """One record: when it was, s on the link's clock, what it is, and bytes or words."""

    at_s: float
    what: What
    data: bytes


@dataclass(frozen=True, slots=True)
class ReadLog:
    """A log that was read.

    ``torn`` says whether its last line broke off and was left out, as after a power cut.
    """

    records: tuple[Record, ...]
    torn: bool


def utc_now() -> datetime:
    """Return the time of day."""
    return datetime.now(UTC)


class RawLog:
    """Writes a raw log; each record is handed to the system as soon as it is there.

    Parameters
    ----------
    path : Path
        A file that is not there yet.
    name : str
        The profile's name, for the first line.
    utc : callable
        Returns the time of day, with its zone.

    Raises
    ------
    InputError
        If the file cannot be made.
    """

    def __init__(self, path: Path, *, name: str, utc: Callable[[], datetime] = utc_now) -> None:
        self.path = path
        self._utc = utc
        try:
            # "x": a log is evidence, so none is ever written over.
            self._file = path.open("x", encoding="ascii", newline="\n")
        except OSError as error:
            raise InputError(
                f"{path}: the raw log cannot be made; allowed: a new file in a folder that can be "
                f"written; came: {error.strerror}"
            ) from error
        self._write(f"{HEAD} {escape(name.encode())}")

    def add(self, at_s: float, what: What, data: bytes) -> None:
        """Write one record.

        Parameters
        ----------
        at_s : float
            When it was, s on the link's clock.
        what : {"data", "opened", "lost"}
            What it is.
        data : bytes
            Bytes as they came, or words.

        Raises
        ------
        OSError
            If it cannot be written, as on a full disk.
        """
        stamp = self._utc().astimezone(UTC).isoformat(timespec="microseconds")
        stamp = stamp.replace("+00:00", "Z")
        self._write(f"{stamp}\t{at_s:.6f}\t{what}\t{escape(data)}")

    def _write(self, line: str) -> None:
        self._file.write(line + "\n")
        self._file.flush()

    def close(self) -> None:
        """Close the file.

        Raises
        ------
        OSError
            If what was left could not be written.
        """
        self._file.close()


def escape(data: bytes) -> str:
    """Return bytes as ASCII text on one line; `unescape` gives them back."""
    return data.decode("latin-1").encode("unicode_escape").decode("ascii")


def unescape(text: str) -> bytes | None:
    """Return the bytes, or None where the text is not what `escape` writes."""
    try:
        data = text.encode("ascii").decode("unicode_escape").encode("latin-1")
    except UnicodeError:
        return None
    return data if escape(data) == text else None


def read_log(name: str) -> ReadLog:
    """Read a raw log.

    Parameters
    ----------
    name : str
        Name of the file.

    Returns
    -------
    ReadLog

    Raises
    ------
    InstrumentError
        If it cannot be read, is no raw log, or a line other than the last is damaged.
    """
    try:
        text = Path(name).read_bytes().decode("ascii")
    except UnicodeDecodeError as error:
        raise _refuse(name, "is no raw log", f"byte {error.start} is not ASCII") from error
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise InstrumentError(
            f"{name}: cannot be read; allowed: a file that can be read; came: {reason}"
        ) from error
    head, *lines = text.split("\n")
    if not head.startswith(HEAD):
        raise _refuse(name, "is no raw log", f"a first line of {head[:40]!r}")
    # Every whole line ends in a line's end, so what comes after the last one is a torn line.
    torn = bool(lines and lines[-1])
    records: list[Record] = []
    for number, line in enumerate(lines[:-1], start=2):
        record = _record(line)
        if record is None:
            raise _refuse(name, f"line {number} is damaged", repr(line[:60]))
        if records and record.at_s < records[-1].at_s:
            raise _refuse(name, f"line {number} goes back in time", f"{record.at_s:.6f} s")
        records.append(record)
    return ReadLog(tuple(records), torn)


def _refuse(name: str, wrong: str, came: str) -> InstrumentError:
    return InstrumentError(f"{name}: {wrong}; allowed: {_ALLOWED}; came: {came}")


def _record(line: str) -> Record | None:
    """Return what a line of the log says, or None where it is damaged."""
    parts = line.split("\t")
    if len(parts) != 4 or parts[2] not in get_args(What) or not _SECONDS.fullmatch(parts[1]):
        return None
    data = unescape(parts[3])
    return None if data is None else Record(float(parts[1]), cast(What, parts[2]), data)
