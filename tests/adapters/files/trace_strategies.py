"""What the tests of the trace file share: short files, refusals, and traces in any dialect."""

import re
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from hypothesis import strategies as st
from numpy.testing import assert_array_equal

from ebbline.adapters.files.table_text import plain
from ebbline.adapters.files.trace_file import TraceFile, parse_trace
from ebbline.adapters.files.trace_head import FACTS, TraceKind
from ebbline.core.breath.trace import PHYSICAL, Float, Trace
from ebbline.core.errors import TraceFileError

PAGE = Path(__file__).resolve().parents[3] / "docs" / "reference" / "trace-file.md"
COLUMNS = "time_s,h2_ppm,o2_pct\n"
TABLE = COLUMNS + "0,5,20.9\n0.1,6,20.8\n"
KINDS: tuple[TraceKind | None, ...] = ("blow", "bag", None)
GASES = ("h2_ppm", "ch4_ppm", "o2_pct", "co2_pct")


def parse(text: str | bytes) -> TraceFile:
    """Return the trace that a file named blow.csv with this content holds."""
    return parse_trace(text.encode() if isinstance(text, str) else text, file="blow.csv")


def assert_refused(text: str | bytes, message: str) -> None:
    """Check the whole message of a refusal, and that the reference page lists it."""
    with pytest.raises(TraceFileError) as refusal:
        parse(text)
    assert str(refusal.value) == message
    assert_listed(refusal.value)


def assert_listed(error: TraceFileError) -> None:
    """Check that the reference page has a line for a refusal."""
    wrong = re.sub(r"^head line .+?(?=: | is | would )", "head line NAME", error.wrong)
    wrong = re.sub(r"^column \d+", "column N", wrong)
    assert f"| {wrong} |" in PAGE.read_text(encoding="utf-8")


def assert_same(found: TraceFile, given: TraceFile) -> None:
    """Check that two trace files say the same, each number to the last bit."""
    assert (found.kind, found.begun_s, found.on_for_min) == (
        given.kind,
        given.begun_s,
        given.on_for_min,
    )
    assert found.facts == given.facts
    assert found.unused == given.unused
    assert found.trace.channels == given.trace.channels
    assert_array_equal(found.trace.time_s, given.trace.time_s, strict=True)
    for name in given.trace.channels:
        assert_array_equal(found.trace.channel(name), given.trace.channel(name), strict=True)


def a_trace_file(
    *,
    time_s: Float,
    h2_ppm: Float | None,
    kind: TraceKind | None = None,
    begun_s: float | None = None,
    on_for_min: float | None = None,
    facts: dict[str, str] | None = None,
    unused: dict[str, str] | None = None,
) -> TraceFile:
    """Return a trace file with hydrogen alone."""
    return TraceFile(
        file="blow.csv",
        trace=Trace(
            time_s=time_s, h2_ppm=h2_ppm, ch4_ppm=None, o2_pct=None, co2_pct=None, flow_l_per_s=None
        ),
        kind=kind,
        begun_s=begun_s,
        on_for_min=on_for_min,
        facts=facts or {},
        unused=unused or {},
    )


# White space and padding at the end of a value are dropped, so that a letter stands there.
WORDS = st.text(
    st.one_of(
        st.characters(codec="utf-8", exclude_categories=["Cc", "Cs"]),
        st.sampled_from(list("\",;#:'\t")),
    ),
    max_size=12,
).map(lambda text: f"{text}x".strip())
OWN_KEYS = st.text("abcdefgh", min_size=2, max_size=6).map(lambda text: f"Own {text}")
_TEXT_FACTS = tuple(name for name in FACTS if name != "invented")


@st.composite
def traces(draw: st.DrawFn) -> Trace:
    """Draw a trace: any channels with a gas among them, gaps, and numbers of full precision."""
    size = draw(st.integers(2, 8))
    steps = draw(st.lists(st.floats(0.01001, 0.99), min_size=size, max_size=size))
    names = draw(st.sets(st.sampled_from(list(PHYSICAL))).filter(lambda names: names & set(GASES)))
    channels = {
        name: np.array(
            draw(
                st.lists(
                    st.one_of(st.just(np.nan), st.floats(*PHYSICAL[name])),
                    min_size=size,
                    max_size=size,
                )
            )
        )
        if name in names
        else None
        for name in PHYSICAL
    }
    return Trace(
        time_s=draw(st.floats(-1e6, 1e6)) + np.cumsum(steps),
        h2_ppm=channels["h2_ppm"],
        ch4_ppm=channels["ch4_ppm"],
        o2_pct=channels["o2_pct"],
        co2_pct=channels["co2_pct"],
        flow_l_per_s=channels["flow_l_per_s"],
    )


@st.composite
def trace_files(draw: st.DrawFn) -> TraceFile:
    """Draw a trace with any head."""
    facts = draw(st.dictionaries(st.sampled_from(_TEXT_FACTS), WORDS))
    if draw(st.booleans()):
        facts["invented"] = draw(st.sampled_from(["yes", "no"]))
    return TraceFile(
        file="blow.csv",
        trace=draw(traces()),
        kind=draw(st.sampled_from(KINDS)),
        begun_s=draw(st.one_of(st.none(), st.floats(-1e10, 1e10))),
        on_for_min=draw(st.one_of(st.none(), st.floats(0.0, 1e7))),
        facts=facts,
        unused=draw(st.dictionaries(OWN_KEYS, st.one_of(st.just(""), WORDS))),
    )


@dataclass(frozen=True)
class Dialect:
    """One of the ways in which a trace file may be written."""

    delimiter: str
    decimal: str
    line_end: str
    mark: bytes
    quote_all: bool


@st.composite
def dialects(draw: st.DrawFn) -> Dialect:
    """Draw a way of writing."""
    return Dialect(
        delimiter=draw(st.sampled_from(",;\t")),
        decimal=draw(st.sampled_from(".,")),
        line_end=draw(st.sampled_from(["\n", "\r\n", "\r"])),
        mark=draw(st.sampled_from([b"", b"\xef\xbb\xbf"])),
        quote_all=draw(st.booleans()),
    )


def write(trace: Trace, dialect: Dialect) -> bytes:
    """Write a trace in a dialect; written apart from the program, so that each checks the other."""
    word = {",": "comma", ".": "point"}[dialect.decimal]
    lines = [f"# decimal: {word}", dialect.delimiter.join(("time_s", *trace.channels))]
    columns = [trace.time_s, *(trace.channel(name) for name in trace.channels)]
    for row in zip(*(column.tolist() for column in columns), strict=True):
        cells = ["" if value != value else plain(value) for value in row]
        lines.append(dialect.delimiter.join(_quote(cell, dialect) for cell in cells))
    return dialect.mark + dialect.line_end.join([*lines, ""]).encode()


def _quote(cell: str, dialect: Dialect) -> str:
    text = cell.replace(".", dialect.decimal)
    return f'"{text}"' if dialect.quote_all or dialect.delimiter in text else text
