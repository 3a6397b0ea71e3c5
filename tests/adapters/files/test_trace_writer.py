"""Writing a trace file: what is written reads back the same, and what would not is refused."""

from typing import Any

import numpy as np
import pytest

from ebbline.adapters.files.trace_file import TraceFile
from ebbline.adapters.files.trace_writer import write_trace
from ebbline.core.errors import TraceFileError
from tests.adapters.files.trace_strategies import a_trace_file, assert_listed, assert_same, parse

TIME_S = np.array([0.0, 0.1, 0.25])
H2_PPM = np.array([1.0, np.nan, 1.25e-7])


def test_a_trace_is_written_in_plain_numbers() -> None:
    """No exponent, no empty decimals, and nothing where there is a gap."""
    given = a_trace_file(
        time_s=TIME_S,
        h2_ppm=H2_PPM,
        kind="blow",
        begun_s=0.05,
        on_for_min=20.0,
        facts={"note": "steady", "invented": "yes"},
        unused={"Room": ""},
    )
    text = write_trace(given)
    assert text == (
        "# kind: blow\n# begun_s: 0.05\n# on_for_min: 20\n# note: steady\n# invented: yes\n"
        "# Room: \ntime_s,h2_ppm\n0,1\n0.1,\n0.25,0.000000125\n"
    )
    assert_same(parse(text), given)


def test_nothing_is_written_of_what_is_not_given() -> None:
    """The shortest file is a table."""
    text = write_trace(a_trace_file(time_s=TIME_S, h2_ppm=H2_PPM))
    assert text == "time_s,h2_ppm\n0,1\n0.1,\n0.25,0.000000125\n"


def refusal(given: TraceFile) -> str:
    """Return the message with which a trace is not written."""
    with pytest.raises(TraceFileError) as caught:
        write_trace(given)
    assert_listed(caught.value)
    return str(caught.value)


KNOWN = "a key of the reference page with a text that does not end with a comma or space"
OWN = "a key of your own with a text that does not end with a comma or space"


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        (
            {"facts": {"note": "two\nlines"}},
            (
                ": head line note is not one line of text; allowed: text and tabs; "
                'came: "two\\nlines"'
            ),
        ),
        (
            {"unused": {"bell\x07": "x"}},
            ': head line bell\\x07 is not one line of text; allowed: text and tabs; came: "x"',
        ),
        (
            {"facts": {"note": "first, "}},
            (f': head line note would not read back as it is; allowed: {KNOWN}; came: "first, "'),
        ),
        (
            {"facts": {"note": ""}},
            f": head line note would not read back as it is; allowed: {KNOWN}; came: nothing",
        ),
        (
            {"facts": {"kind": "bag"}},
            f': head line kind would not read back as it is; allowed: {KNOWN}; came: "bag"',
        ),
        (
            {"facts": {"room": "4"}},
            f': head line room would not read back as it is; allowed: {KNOWN}; came: "4"',
        ),
        (
            {"unused": {"Note": "x"}},
            f': head line Note would not read back as it is; allowed: {OWN}; came: "x"',
        ),
        (
            {"unused": {"a:b": "x"}},
            f': head line a:b would not read back as it is; allowed: {OWN}; came: "x"',
        ),
        (
            {"kind": "bag", "unused": {"kind": "blow"}},
            (
                ", row 2: head line kind is given twice; allowed: each key once; the first is in "
                'row 1; came: "blow"'
            ),
        ),
        (
            {"unused": {" ": "x"}},
            ', row 1: a head line has no key; allowed: # key: value; came: "#  : x"',
        ),
        (
            {"facts": {"note": "\ud800"}},
            (
                ", row 1: the text is not valid UTF-8; allowed: CSV text in UTF-8; "
                "came: byte 0xED at offset 8"
            ),
        ),
        (
            {"begun_s": float("nan")},
            (
                ", row 1: head line begun_s: this is not a plain number; allowed: a plain number, "
                '-10000000000 or more and 10000000000 or less; came: "nan"'
            ),
        ),
        (
            {"on_for_min": -1.0},
            (
                ", row 1: head line on_for_min is out of range; allowed: a plain number, 0 or more "
                'and 10000000 or less; came: "-1"'
            ),
        ),
        (
            {"time_s": TIME_S + 2e10},
            (
                ", column time_s: the value is out of range; allowed: a plain number from "
                "-10000000000 to 10000000000; came: 20000000000"
            ),
        ),
        (
            {"h2_ppm": None},
            (
                ": no column holds a gas; allowed: h2_ppm, ch4_ppm, o2_pct or co2_pct, at least "
                'one; came: "time_s"'
            ),
        ),
    ],
)
def test_what_would_not_read_back_is_not_written(changes: dict[str, Any], message: str) -> None:
    """A fact that the reader would cut or take for another is refused while it is still known."""
    given: dict[str, Any] = {"time_s": TIME_S, "h2_ppm": H2_PPM}
    assert refusal(a_trace_file(**(given | changes))) == f"blow.csv{message}"
