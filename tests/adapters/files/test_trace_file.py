"""A trace file as a whole: from disk, in the right order of checks, and fast."""

import re
import time
from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_array_equal

from ebbline.adapters.files.table_text import plain
from ebbline.adapters.files.trace_file import BYTES_ALLOWED, LINES_ALLOWED, read_trace
from ebbline.adapters.files.trace_head import KEYS
from ebbline.adapters.files.trace_rows import LIMITS
from ebbline.core.errors import TraceFileError
from tests.adapters.files.trace_strategies import (
    COLUMNS,
    PAGE,
    TABLE,
    assert_listed,
    assert_refused,
    parse,
)


def test_a_file_on_disk_is_read_under_the_name_that_was_given(tmp_path: Path) -> None:
    """The head's values and the samples stand beside each other."""
    path = tmp_path / "blow.csv"
    path.write_text(
        "# Kind: Blow\n# begun-s: 0.05\n# on_for_min: 35\n# note: a: b\n# invented: yes\n" + TABLE,
        encoding="utf-8",
    )
    found = read_trace(str(path))
    assert found.file == str(path)
    assert (found.kind, found.begun_s, found.on_for_min) == ("blow", 0.05, 35.0)
    assert found.facts == {"note": "a: b", "invented": "yes"}
    assert found.invented
    assert_array_equal(found.trace.time_s, [0.0, 0.1])
    assert_array_equal(found.trace.channel("h2_ppm"), [5.0, 6.0])
    assert_array_equal(found.trace.channel("o2_pct"), [20.9, 20.8])
    assert found.trace.channels == ("h2_ppm", "o2_pct")


def refusal(name: str) -> str:
    """Return the message with which a file on disk is refused, without its name."""
    with pytest.raises(TraceFileError) as caught:
        read_trace(name)
    assert_listed(caught.value)
    assert caught.value.exit_code == 2
    return str(caught.value).removeprefix(f"{name}: ")


def test_what_is_not_a_readable_file_is_refused(tmp_path: Path) -> None:
    """A missing file and a folder have their own words."""
    assert refusal(str(tmp_path / "none.csv")) == (
        "there is no such file; allowed: a trace file; came: nothing"
    )
    assert refusal(str(tmp_path)) == "this is a folder; allowed: a trace file; came: a folder"
    # The word for the reason is the system's own.
    assert re.fullmatch(
        "the file cannot be read; allowed: a trace file; came: .*null.*", refusal("a\x00b")
    )


@pytest.mark.parametrize(
    ("error", "message"),
    [
        (
            PermissionError(13, "Permission denied"),
            "the file may not be read; allowed: a file that you may open; came: permission denied",
        ),
        (
            OSError(5, "Input/output error"),
            "the file cannot be read; allowed: a trace file; came: Input/output error",
        ),
    ],
)
def test_what_the_system_refuses_is_passed_on_in_our_words(
    error: Exception, message: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every failure to open or read ends as a refusal of the file."""

    def fail(*_: object) -> None:
        raise error

    name = str(tmp_path / "blow.csv")
    with monkeypatch.context() as patch:
        patch.setattr(Path, "open", fail)
        with pytest.raises(TraceFileError) as caught:
            read_trace(name)
    assert str(caught.value) == f"{name}: {message}"
    assert_listed(caught.value)


def test_a_file_that_is_too_large_is_refused() -> None:
    """The limit itself is allowed."""
    whole = TABLE.encode()
    # Head lines, since white space below the table would be lines of it.
    padding = b"#" + b" " * (BYTES_ALLOWED - len(whole) - 2) + b"\n"
    assert_array_equal(parse(padding + whole).trace.time_s, [0.0, 0.1])
    assert_refused(
        b"#" + padding + whole,
        "blow.csv: the file is too large; allowed: 50000000 bytes at most; came: more than that",
    )


def test_a_file_of_more_than_a_million_lines_is_refused() -> None:
    """Lines without content count, so that no file takes all of the memory."""
    padding = "\n" * (LINES_ALLOWED - 2)
    assert_array_equal(parse(f"# note: a\n{TABLE}{padding}").trace.time_s, [0.0, 0.1])
    assert_refused(
        f"# note: a\n{TABLE}{padding}\n",
        "blow.csv, row 1000003: too many lines; allowed: up to 1000000 below the columns; "
        "came: 1000001",
    )


@pytest.mark.parametrize(
    ("data", "message"),
    [
        (b"", ": the file is empty; allowed: CSV text in UTF-8; came: nothing"),
        (
            b"PK\x03\x04",
            (
                ": this is a spreadsheet file, export it as CSV; allowed: CSV text in UTF-8; "
                "came: a ZIP container, as .xlsx and .ods are"
            ),
        ),
        (
            b"%PDF-1.7",
            (
                ": this is a PDF file, export its table as CSV; allowed: CSV text in UTF-8; "
                "came: a PDF document"
            ),
        ),
        (
            TABLE.encode("utf-16"),
            (
                ": the text is UTF-16, save it as UTF-8; allowed: CSV text in UTF-8; "
                "came: the byte order mark of UTF-16"
            ),
        ),
        (
            TABLE.encode("utf-32"),
            (
                ": the text is UTF-32, save it as UTF-8; allowed: CSV text in UTF-8; "
                "came: the byte order mark of UTF-32"
            ),
        ),
        (
            b"# note: J\xe4ger\n",
            (
                ", row 1: the text is not valid UTF-8; allowed: CSV text in UTF-8; "
                "came: byte 0xE4 at offset 9"
            ),
        ),
        (
            TABLE.encode() + b"0.2,\x007,20\n",
            (
                ", row 4: the text holds a control character; allowed: text, tabs and line ends; "
                "came: a NUL byte"
            ),
        ),
    ],
)
def test_what_is_not_csv_text_is_named(data: bytes, message: str) -> None:
    """Whoever picked the wrong file is told what it is."""
    assert_refused(data, f"blow.csv{message}")


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        ("# on_for_min: x\n# : y\ntime_s;h2_ppm,\n", "a head line has no key"),
        ("# on_for_min: x\n# decimal: x\ntime_s;h2_ppm,\n", "head line decimal is not a choice"),
        ("# on_for_min: x\ntime_s;h2_ppm,x\n", "the columns can be split in two ways"),
        ('# on_for_min: x\ntime_s;h2\n0;5.5;\n1;"', "the column is not known"),
        ('# on_for_min: x\ntime_s;h2_ppm\n0;5.5;\n1;"', "the row has another number of cells"),
        ('# on_for_min: x\ntime_s;h2_ppm\n0;5.5\n1;5,5;\n2;"', "the row has another number of"),
        ("# on_for_min: x\ntime_s;h2_ppm\n0;5.5\n0;5,5\n", "the decimal sign is ambiguous"),
        ("# on_for_min: x\ntime_s;h2_ppm\n0;y\n0;5.5\n", "head line on_for_min: this is not a"),
        ("time_s;h2_ppm\n0;5\n9;y\n0;z\n", "this is not a plain number"),
        ("time_s;h2_ppm\n0;5\n0;9999\n9;z\n", "the time does not rise"),
        ("time_s;h2_ppm\n0;5\n9;9999\n0;z\n", "the value is out of range"),
    ],
)
def test_the_first_fault_is_reported_in_the_order_of_the_page(text: str, wrong: str) -> None:
    """Each file here has later faults as well."""
    with pytest.raises(TraceFileError) as caught:
        parse(text)
    assert caught.value.wrong.startswith(wrong)


def test_a_refusal_says_where_in_parts_as_well() -> None:
    """A screen can mark the cell, and the reader's own steps do not show."""
    with pytest.raises(TraceFileError) as caught:
        parse("time_s,h2_ppm\n0,5\n0.1,x\n")
    error = caught.value
    assert (error.file, error.row, error.column) == ("blow.csv", 3, "h2_ppm")
    assert (error.came, type(error)) == ('"x"', TraceFileError)
    assert error.__suppress_context__


@pytest.mark.parametrize(
    ("interval_s", "came"), [("0.005", "200 Hz"), ("1.25", "0.8 Hz"), ("0.0094", "106.383 Hz")]
)
def test_sampling_that_no_sensor_has_is_refused(interval_s: str, came: str) -> None:
    """It is no one row's fault; the median decides, whatever a gap does."""
    times = [at * float(interval_s) for at in range(4)] + [1000.0]
    rows = "".join(f"{at:.6f},5\n" for at in times)
    assert_refused(
        f"time_s,h2_ppm\n{rows}",
        "blow.csv, column time_s: the sampling cannot be used; allowed: 1 to 100 Hz by the median "
        f"interval; came: {came}",
    )


@pytest.mark.parametrize("interval_s", [0.01, 1.0])
def test_the_limits_of_the_sampling_are_allowed(interval_s: float) -> None:
    """100 Hz and 1 Hz, written to the millisecond."""
    rows = "".join(f"{at * interval_s:.3f},5\n" for at in range(4))
    assert_array_equal(
        parse(f"# decimal: point\ntime_s,h2_ppm\n{rows}").trace.time_s,
        [round(at * interval_s, 3) for at in range(4)],
    )


def test_the_examples_of_the_reference_page_are_read() -> None:
    """What the page shows is what the reader takes."""
    page = PAGE.read_text(encoding="utf-8")
    long, short = (parse(text) for text in re.findall(r"```csv\n(.*?)```", page, re.DOTALL))
    assert long.invented
    assert (long.kind, long.begun_s, long.on_for_min) == ("blow", 0.25, 35.0)
    assert long.unused == {}
    assert_array_equal(long.trace.time_s, [0.0, 0.1, 0.21, 0.3])
    assert_array_equal(long.trace.channel("h2_ppm"), [1.2, 1.1, np.nan, 1.4])
    assert_array_equal(long.trace.channel("flow_l_per_s"), [0.0, np.nan, 0.1, 0.35])
    assert_array_equal(short.trace.channel("ch4_ppm"), [2.5, 2.75])
    assert not short.invented


def test_the_example_of_a_refusal_on_the_page_is_what_is_said() -> None:
    """The page shows a real message."""
    page = PAGE.read_text(encoding="utf-8").splitlines()
    assert_refused(TABLE + "0.2,7,28\n", next(x for x in page if x.startswith("blow.csv")))


def test_the_reference_page_lists_every_key_and_column_with_its_limits() -> None:
    """The page cannot fall behind the rows that the reader uses."""
    page = PAGE.read_text(encoding="utf-8")
    for key in KEYS.values():
        allowed = {
            "number": f"{plain(key.low)} or more, {plain(key.high)} or less",
            "choice": ", ".join(f"`{word}`" for word in key.choices),
            "text": "any text",
        }[key.kind]
        assert f"| `{key.name}` | {allowed} | {key.meaning} |" in page
    for name, (low, high) in LIMITS.items():
        assert f"| `{name}` | {plain(low)} to {plain(high)} | " in page


def test_half_an_hour_at_ten_hertz_is_read_in_an_eighth_of_a_second() -> None:
    """In proportion, 8 h take 2 s; the fastest run is taken, since other work may run beside it."""
    rows = "".join(f"{at / 10:.1f},5.25,{20 - at % 7}.5\n" for at in range(18_000))
    seconds = []
    for _ in range(5):
        begin = time.perf_counter()
        found = parse(COLUMNS + rows)
        seconds.append(time.perf_counter() - begin)
        assert found.trace.time_s.size == 18_000
    assert min(seconds) < 0.125
