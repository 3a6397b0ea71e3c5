"""From the bytes of a file that is a table to its lines, and the one way in which it is refused."""

import io
import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import NoReturn

from ebbline.core.errors import TableFileError

_CSV = "CSV text in UTF-8"
_BOM = b"\xef\xbb\xbf"
_SPREADSHEET = "this is a spreadsheet file, export it as CSV"
_PDF = "this is a PDF file, export its table as CSV"
_UTF_16 = "the text is UTF-16, save it as UTF-8"
_UTF_32 = "the text is UTF-32, save it as UTF-8"

# UTF-32 stands before UTF-16, whose mark it begins with.
_SIGNATURES = (
    (b"PK\x03\x04", _SPREADSHEET, "a ZIP container, as .xlsx and .ods are"),
    (b"PK\x05\x06", _SPREADSHEET, "a ZIP container, as .xlsx and .ods are"),
    (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", _SPREADSHEET, "an OLE container, as .xls is"),
    (b"%PDF-", _PDF, "a PDF document"),
    (b"\xff\xfe\x00\x00", _UTF_32, "the byte order mark of UTF-32"),
    (b"\x00\x00\xfe\xff", _UTF_32, "the byte order mark of UTF-32"),
    (b"\xff\xfe", _UTF_16, "the byte order mark of UTF-16"),
    (b"\xfe\xff", _UTF_16, "the byte order mark of UTF-16"),
)
_LINE_END = re.compile("\r\n|\r|\n")
_LINE_END_BYTES = re.compile(rb"\r\n|\r|\n")
# Tab and line ends apart, control characters only hide what a line says from whoever reads it.
_CONTROL = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f]")


@dataclass(frozen=True, slots=True)
class Place:
    """Where in a file something stands: the file, a line from 1, a column."""

    file: str
    row: int | None = None
    column: str | None = None

    def refuse(self, wrong: str, *, allowed: str, came: str) -> NoReturn:
        """Refuse the file because of what stands here.

        Raises
        ------
        TableFileError
            Always.
        """
        raise TableFileError(
            file=self.file,
            row=self.row,
            column=self.column,
            wrong=wrong,
            allowed=allowed,
            came=came,
        ) from None


@contextmanager
def refused_as(kind: type[TableFileError]) -> Iterator[None]:
    """Make every refusal inside one of this kind of file; also for use as a decorator.

    What reads text, head and table is the same for every kind and does not know which it reads.
    """
    try:
        yield
    except TableFileError as error:
        raise _of_kind(kind, error) from None


def _of_kind(kind: type[TableFileError], error: TableFileError) -> TableFileError:
    return kind(**vars(error))


def show(text: str) -> str:
    """Return a text of the file for a message: quoted, cut at 60 characters, nothing hidden."""
    return f'"{clip(text)}"' if text else "nothing"


def clip(text: str) -> str:
    """Return a text of the file as `show` does, without the quotes."""
    cut = text if len(text) <= 60 else f"{text[:60]}…"
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in cut)


def plain(value: float) -> str:
    """Return a number as plain decimals, shortest form that reads back the same."""
    text = repr(float(value))
    if "e" in text:
        text = format(Decimal(text), "f")
    return text.removesuffix(".0")


def is_one_line(text: str) -> bool:
    """Whether a text may stand in one line of a file: no line end, nothing hidden."""
    return _CONTROL.search(text) is None and _LINE_END.search(text) is None


def read_bytes(file: str, *, allowed: str, bytes_allowed: int) -> bytes:
    """Return a file's bytes, of a file that is too large only as many as show that it is.

    Parameters
    ----------
    file : str
        Name of the file as the user gave it.
    allowed : str
        What it should be, for messages: ``"a curve file"``.
    bytes_allowed : int
        Largest file that is read.

    Raises
    ------
    TableFileError
        If there is no such file or it cannot be read.
    """
    place = Place(file)
    try:
        # Said here because Windows answers a folder with "permission denied".
        if Path(file).is_dir():
            place.refuse("this is a folder", allowed=allowed, came="a folder")
        with Path(file).open("rb") as stream:
            return stream.read(bytes_allowed + 1)
    except FileNotFoundError:
        place.refuse("there is no such file", allowed=allowed, came="nothing")
    except PermissionError:
        place.refuse(
            "the file may not be read", allowed="a file that you may open", came="permission denied"
        )
    except (OSError, ValueError) as error:
        # A name that the system cannot hold is a ValueError: one with a NUL in it, for instance.
        place.refuse(
            "the file cannot be read",
            allowed=allowed,
            came=getattr(error, "strerror", None) or str(error),
        )


def to_lines(data: bytes, file: str, *, bytes_allowed: int) -> list[str]:
    """Return the lines of a file, each with its line end.

    Parameters
    ----------
    data : bytes
        The whole file.
    file : str
        Its name for messages.
    bytes_allowed : int
        Largest file that is taken.

    Returns
    -------
    list of str
        Lines that end with CRLF, LF or CR; no other character ends a line.

    Raises
    ------
    TableFileError
        If the file is too large, empty, of another kind, or not plain UTF-8 text.
    """
    if len(data) > bytes_allowed:
        Place(file).refuse(
            "the file is too large",
            allowed=f"{bytes_allowed} bytes at most",
            came="more than that",
        )
    for signature, wrong, came in _SIGNATURES:
        if data.startswith(signature):
            Place(file).refuse(wrong, allowed=_CSV, came=came)
    data_without_mark = data.removeprefix(_BOM)
    if not data_without_mark.strip():
        Place(file).refuse("the file is empty", allowed=_CSV, came="nothing")
    _refuse_utf_16_without_mark(data, file)
    text = _decode(data_without_mark, len(data) - len(data_without_mark), file)
    hidden = _CONTROL.search(text)
    if hidden:
        row = len(_LINE_END.findall(text, 0, hidden.start())) + 1
        code = ord(hidden.group())
        Place(file, row).refuse(
            "the text holds a control character",
            allowed="text, tabs and line ends",
            came="a NUL byte" if code == 0 else f"U+{code:04X}",
        )
    return list(io.StringIO(text, newline=""))


def _refuse_utf_16_without_mark(data: bytes, file: str) -> None:
    """Name UTF-16 where it is plain to see: every second byte of the beginning is zero."""
    beginning = data[:64]
    if len(beginning) >= 4 and any(not any(beginning[first::2]) for first in (0, 1)):
        Place(file).refuse(_UTF_16, allowed=_CSV, came="text with every second byte zero")


def _decode(data: bytes, offset: int, file: str) -> str:
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as error:
        row = len(_LINE_END_BYTES.findall(data, 0, error.start)) + 1
        Place(file, row).refuse(
            "the text is not valid UTF-8",
            allowed=_CSV,
            came=f"byte 0x{data[error.start]:02X} at offset {offset + error.start}",
        )
