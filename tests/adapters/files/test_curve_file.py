"""A curve file as a whole: from disk, in the right order of checks, and fast."""

import ast
import re
import sys
import time
from pathlib import Path

import pytest

import ebbline.adapters.files.curve_file as module
from ebbline.adapters.files.curve_file import check_fasting, read_curve
from ebbline.adapters.files.curve_keys import KEYS
from ebbline.adapters.files.curve_rows import COLUMNS
from ebbline.adapters.files.table_text import plain, read_bytes
from ebbline.core.errors import CurveFileError
from ebbline.services.overrides import Overrides
from tests.adapters.files.strategies import (
    HEAD,
    NO_FLAGS,
    PAGE,
    SUBSTRATES,
    assert_listed,
    assert_refused,
    parse,
    table,
)


def refusal(path: Path | str) -> str:
    """Return the message with which a file on disk is refused, without its name."""
    with pytest.raises(CurveFileError) as caught:
        read_curve(path, overrides=NO_FLAGS, substrates=SUBSTRATES)
    assert_listed(caught.value)
    assert caught.value.exit_code == 2
    return str(caught.value).removeprefix(f"{path}: ")


def test_a_file_on_disk_is_read_under_the_name_that_was_given(tmp_path: Path) -> None:
    """The name stays as the user typed it."""
    path = tmp_path / "visit.csv"
    path.write_text(HEAD + "minute,h2_ppm\n0,5\n", encoding="utf-8")
    found = read_curve(str(path), overrides=Overrides(dose_g=10.0), substrates=SUBSTRATES)
    assert found.file == str(path)
    assert (found.substrate, found.dose_g, len(found.tries)) == ("lactulose", 10.0, 1)
    assert read_curve(path, overrides=Overrides(dose_g=10.0), substrates=SUBSTRATES) == found


def test_what_is_not_a_readable_file_is_refused(tmp_path: Path) -> None:
    """A missing file, a folder and a name that no system holds have their own words."""
    assert refusal(tmp_path / "none.csv") == (
        "there is no such file; allowed: a curve file; came: nothing"
    )
    assert refusal(tmp_path) == "this is a folder; allowed: a curve file; came: a folder"
    with pytest.raises(CurveFileError, match="the file cannot be read; allowed: a curve file; "):
        read_curve("a\x00b", overrides=NO_FLAGS, substrates=SUBSTRATES)


@pytest.mark.parametrize(
    ("error", "message"),
    [
        (
            PermissionError(13, "Permission denied"),
            "the file may not be read; allowed: a file that you may open; came: permission denied",
        ),
        (
            OSError(5, "Input/output error"),
            "the file cannot be read; allowed: a curve file; came: Input/output error",
        ),
        (
            ValueError("embedded null byte"),
            "the file cannot be read; allowed: a curve file; came: embedded null byte",
        ),
    ],
)
def test_what_the_system_refuses_is_passed_on_in_our_words(
    error: Exception, message: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every failure to open or read ends as a refusal of the file."""

    def fail(*_: object) -> None:
        raise error

    path = tmp_path / "visit.csv"
    with monkeypatch.context() as patch:
        patch.setattr(Path, "open", fail)
        with pytest.raises(CurveFileError) as caught:
            read_curve(path, overrides=NO_FLAGS, substrates=SUBSTRATES)
    assert str(caught.value) == f"{path}: {message}"
    assert_listed(caught.value)


def test_a_file_that_is_too_large_is_not_read_to_its_end(tmp_path: Path) -> None:
    """One byte above the limit is enough to know."""
    path = tmp_path / "visit.csv"
    path.write_bytes(b"0123456789abcdef")
    found = read_bytes(str(path), allowed="a curve file", bytes_allowed=10)
    assert found == b"0123456789a"


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        ("# dose_g: x\n# : y\nminute;h2_ppm,pain\n", "a head line has no key"),
        ("# decimal: x\nminute;h2_ppm,pain\n", "head line decimal is not a choice"),
        ('# dose_g: x\nminute;h2_ppm,pain\n"', "the columns can be split in two ways"),
        ('# dose_g: x\nminute;h2\n0;5.5\n1;5,5\n2;"', "a quote is opened and never closed"),
        ("# dose_g: x\nminute;h2_ppm;x\n0;5.5;\n1;5,5;\n", "the decimal sign is ambiguous"),
        ("# dose_g: x\nminute;h2\n0;5\n", "head line dose_g: this is not a plain number"),
        ("minute;h2\n0;5;6\n", "the column is not known"),
        ("minute;h2_ppm\n0;x\n0;5;6\n", "this is not a plain number"),
        ("minute;h2_ppm\n0;5\n0;5\n0;x\n", "the minute does not increase"),
    ],
)
def test_the_first_fault_is_reported_in_the_order_of_the_page(text: str, wrong: str) -> None:
    """Each file here has every later fault as well."""
    with pytest.raises(CurveFileError) as caught:
        table(text)
    assert caught.value.wrong == wrong


def test_a_refusal_says_where_in_parts_as_well() -> None:
    """A screen can mark the cell."""
    with pytest.raises(CurveFileError) as caught:
        table("minute,h2_ppm\n0,5\n15,x\n")
    error = caught.value
    assert (error.file, error.row, error.column) == ("visit.csv", 4, "h2_ppm")
    assert error.came == '"x"'
    assert error.__suppress_context__ or error.__context__ is None


def test_a_fasting_reading_at_minute_zero_or_before_is_enough() -> None:
    """A repeat or a missed row beside it does no harm."""
    for minute in ("-12", "0"):
        check_fasting(table(f"minute,h2_ppm,status\n{minute},5,\n15,9,repeat\n"), "visit.csv")


@pytest.mark.parametrize(
    ("rows", "came"),
    [
        ("0.5,5,ok\n15,6,ok\n", "the first at minute 0.5"),
        ("-5,5,repeat\n0,,missed\n15,6,ok\n", "the first at minute 15"),
        ("-5,5,repeat\n0,,missed\n", "no row with status ok"),
    ],
)
def test_a_test_without_a_fasting_reading_gives_no_rise(rows: str, came: str) -> None:
    """Only a row that counts can be what rises count from."""
    with pytest.raises(CurveFileError) as caught:
        check_fasting(table("minute,h2_ppm,status\n" + rows), "visit.csv")
    assert str(caught.value) == (
        "visit.csv: no reading at minute 0 or before; allowed: a row with status ok at minute 0 or "
        f"below, to count rises from; came: {came}"
    )
    assert_listed(caught.value)


def test_the_examples_of_the_reference_page_are_read() -> None:
    """What the page shows is what the reader takes."""
    page = PAGE.read_text(encoding="utf-8")
    long, short = (parse(text) for text in re.findall(r"```csv\n(.*?)```", page, re.DOTALL))
    assert long.invented
    assert [row.minute for row in long.tries] == [-12.0, -2.0, 16.0, 31.0, 33.0, 45.0, 62.0]
    assert long.tries[-1].note == "pain, then better"
    assert long.unused == {}
    assert [row.h2_ppm for row in short.tries] == [5.0, 7.5]


def test_the_example_of_a_refusal_on_the_page_is_what_is_said() -> None:
    """The page shows a real message."""
    shown = next(
        line for line in PAGE.read_text(encoding="utf-8").splitlines() if line.startswith("visit")
    )
    text = "minute,h2_ppm,o2_pct\n0,5,14\n1,5,14\n2,5,14\n3,5,14\n4,5,28\n"
    assert_refused(HEAD + text, shown)


def test_the_reference_page_lists_every_key_and_column_with_its_limits() -> None:
    """The page cannot fall behind the rows that the reader uses."""
    page = PAGE.read_text(encoding="utf-8")
    for key in KEYS.values():
        low = f"more than {plain(key.low)}" if key.above else f"{plain(key.low)} or more"
        allowed = {
            "number": f"{low}, {plain(key.high)} or less",
            "choice": ", ".join(f"`{word}`" for word in key.choices),
            "substrate": "id of a substrate",
            "reference": "see below",
            "text": "any text",
        }[key.kind]
        assert f"| `{key.name}` | {allowed} | {key.meaning} |" in page
    for column in COLUMNS.values():
        limits = f"{plain(column.low)} to {plain(column.high)}"
        assert f"| `{column.name}` | {limits} | {column.meaning} |" in page


def test_twenty_rows_are_read_in_three_milliseconds() -> None:
    """The fastest of some runs is taken, since other work may run beside it."""
    rows = [f"{at * 10},{at * 10},{at}.5,3,14.2,5.1,ok,as usual,0,1.5" for at in range(20)]
    columns = "minute,planned_minute,h2_ppm,ch4_ppm,o2_pct,co2_pct,status,note,pain,bloating"
    text = "\n".join([columns, *rows])
    seconds = []
    for _ in range(20):
        begin = time.perf_counter()
        table(text)
        seconds.append(time.perf_counter() - begin)
    assert min(seconds) < 0.003


def test_the_reader_needs_the_standard_library_alone() -> None:
    """A command that only reads a file must not wait for numerical libraries."""
    own = (
        "ebbline.adapters.files.curve_",
        "ebbline.adapters.files.table_",
        "ebbline.core.curve.breath_test",
        "ebbline.core.errors",
    )
    found = set()
    folder = Path(module.__file__).parent
    for source in [*folder.glob("curve_*.py"), *folder.glob("table_*.py")]:
        for node in ast.walk(ast.parse(source.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                found |= {name.name for name in node.names}
            elif isinstance(node, ast.ImportFrom):
                found.add(node.module or "")
    assert {"csv", "ebbline.core.errors"} < found
    foreign = {name for name in found if name.split(".")[0] not in sys.stdlib_module_names}
    assert {name for name in foreign if not name.startswith(own)} == {"ebbline.services.overrides"}


def test_a_file_of_more_than_a_thousand_rows_is_refused() -> None:
    """It is not one test; the row named is the first one too many."""
    rows = "".join(f"{row / 10:.1f},5\n" for row in range(1001))
    assert_refused(
        HEAD + "minute,h2_ppm\n" + rows,
        "visit.csv, row 1003: too many rows; allowed: up to 1000 rows; came: 1001",
    )
