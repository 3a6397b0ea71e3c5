"""From bytes to lines: what is text at all."""

import pytest

from ebbline.adapters.files.curve_file import BYTES_ALLOWED
from ebbline.adapters.files.table_text import plain, show
from tests.adapters.files.strategies import HEAD, assert_refused, parse

FILE = HEAD + "minute,h2_ppm\n0,5\n15,7\n"


@pytest.mark.parametrize("line_end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("mark", ["", "\ufeff"])
def test_every_usual_line_end_and_a_byte_order_mark_are_read(line_end: str, mark: str) -> None:
    """The same file from any system holds the same test."""
    assert parse(mark + FILE.replace("\n", line_end)) == parse(FILE)


def test_the_last_line_needs_no_end() -> None:
    """A file that stops after its last cell is whole."""
    assert parse(FILE.rstrip("\n")) == parse(FILE)


def test_a_separator_of_unicode_lines_is_text() -> None:
    """Only CRLF, LF and CR end a line, so U+2028 stays inside a note and rows keep their number."""
    found = parse(HEAD + "minute,h2_ppm,note\n0,5,a\u2028b\n15,7,\n")
    assert [row.note for row in found.tries] == ["a\u2028b", ""]
    assert [row.row for row in found.tries] == [3, 4]


@pytest.mark.parametrize(
    ("data", "message"),
    [
        (b"", "the file is empty; allowed: CSV text in UTF-8; came: nothing"),
        (b" \r\n\n", "the file is empty; allowed: CSV text in UTF-8; came: nothing"),
        (b"\xef\xbb\xbf", "the file is empty; allowed: CSV text in UTF-8; came: nothing"),
        (
            b"PK\x03\x04 sheet",
            (
                "this is a spreadsheet file, export it as CSV; allowed: CSV text in UTF-8; "
                "came: a ZIP container, as .xlsx and .ods are"
            ),
        ),
        (
            b"PK\x05\x06",
            (
                "this is a spreadsheet file, export it as CSV; allowed: CSV text in UTF-8; "
                "came: a ZIP container, as .xlsx and .ods are"
            ),
        ),
        (
            b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1 sheet",
            (
                "this is a spreadsheet file, export it as CSV; allowed: CSV text in UTF-8; "
                "came: an OLE container, as .xls is"
            ),
        ),
        (
            b"%PDF-1.7",
            (
                "this is a PDF file, export its table as CSV; allowed: CSV text in UTF-8; "
                "came: a PDF document"
            ),
        ),
        (
            FILE.encode("utf-16"),
            (
                "the text is UTF-16, save it as UTF-8; allowed: CSV text in UTF-8; "
                "came: the byte order mark of UTF-16"
            ),
        ),
        (
            b"\xfe\xff" + FILE.encode("utf-16-be"),
            (
                "the text is UTF-16, save it as UTF-8; allowed: CSV text in UTF-8; "
                "came: the byte order mark of UTF-16"
            ),
        ),
        (
            FILE.encode("utf-16-le"),
            (
                "the text is UTF-16, save it as UTF-8; allowed: CSV text in UTF-8; "
                "came: text with every second byte zero"
            ),
        ),
        (
            FILE.encode("utf-16-be"),
            (
                "the text is UTF-16, save it as UTF-8; allowed: CSV text in UTF-8; "
                "came: text with every second byte zero"
            ),
        ),
        (
            FILE.encode("utf-32"),
            (
                "the text is UTF-32, save it as UTF-8; allowed: CSV text in UTF-8; "
                "came: the byte order mark of UTF-32"
            ),
        ),
        (
            b"\x00\x00\xfe\xff" + FILE.encode("utf-32-be"),
            (
                "the text is UTF-32, save it as UTF-8; allowed: CSV text in UTF-8; "
                "came: the byte order mark of UTF-32"
            ),
        ),
    ],
)
def test_what_is_not_csv_text_is_named(data: bytes, message: str) -> None:
    """Whoever picked the wrong file is told what it is."""
    assert_refused(data, f"visit.csv: {message}")


@pytest.mark.parametrize(
    ("data", "message"),
    [
        (
            b"\xef\xbb\xbf# a: b\r\n# patient: J\xe4ger\r\n",
            (
                "row 2: the text is not valid UTF-8; allowed: CSV text in UTF-8; "
                "came: byte 0xE4 at offset 23"
            ),
        ),
        (
            b"# substrate: lactulose\rminute\xff",
            (
                "row 2: the text is not valid UTF-8; allowed: CSV text in UTF-8; "
                "came: byte 0xFF at offset 29"
            ),
        ),
        (
            b"# substrate: lactulose\nminute,h2_ppm\n0,5\n15,\x007\n",
            (
                "row 4: the text holds a control character; allowed: text, tabs and line ends; "
                "came: a NUL byte"
            ),
        ),
        (
            b"# patient: \x1b[31mred\n",
            (
                "row 1: the text holds a control character; allowed: text, tabs and line ends; "
                "came: U+001B"
            ),
        ),
    ],
)
def test_a_byte_that_is_not_text_is_found(data: bytes, message: str) -> None:
    """The refusal says in which row and, for a wrong encoding, at which byte."""
    assert_refused(data, f"visit.csv, {message}")


def test_a_file_above_ten_megabytes_is_refused_and_one_of_ten_is_not() -> None:
    """The limit itself is allowed."""
    lines, rest = divmod(BYTES_ALLOWED - len(FILE), 1000)
    padding = (b" " * 999 + b"\n") * lines + b" " * rest
    assert parse(FILE.encode() + padding) == parse(FILE)
    assert_refused(
        FILE.encode() + padding + b"\n",
        "visit.csv: the file is too large; allowed: 10000000 bytes at most; came: more than that",
    )


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("", "nothing"),
        ("12", '"12"'),
        ("a\nb", r'"a\nb"'),
        ("\u202eabc", r'"\u202eabc"'),
        ("x" * 61, '"' + "x" * 60 + '…"'),
    ],
)
def test_a_message_shows_what_came_without_hiding_anything(text: str, shown: str) -> None:
    """Characters that cannot be seen are spelled out, and a long text is cut."""
    assert show(text) == shown


@pytest.mark.parametrize(
    ("value", "text"),
    [(5.0, "5"), (-0.5, "-0.5"), (13.9, "13.9"), (100.0, "100"), (0.00001, "0.00001")],
)
def test_a_number_is_written_without_exponent_or_empty_decimals(value: float, text: str) -> None:
    """What is written reads back the same."""
    assert plain(value) == text
    assert float(plain(value)) == value
