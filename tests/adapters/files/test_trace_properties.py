"""What holds for every trace file: nothing is read wrongly, and nothing else than refused."""

import re
from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_array_equal

from ebbline.adapters.files.trace_file import TraceFile
from ebbline.adapters.files.trace_writer import write_trace
from ebbline.core.breath.trace import Trace
from ebbline.core.errors import TraceFileError
from tests.adapters.files.trace_strategies import (
    COLUMNS,
    Dialect,
    assert_same,
    dialects,
    parse,
    trace_files,
    traces,
    write,
)


def parse_or_refuse(data: bytes) -> TraceFile | None:
    """Return the trace, None where the file is refused; any other error fails the caller."""
    try:
        return parse(data)
    except TraceFileError:
        return None


@given(trace_files())
def test_what_is_written_reads_back_to_the_last_bit(trace_file: TraceFile) -> None:
    """Every number, gap and fact is the same afterwards, and so is the text written of it."""
    text = write_trace(trace_file)
    found = parse(text)
    assert_same(found, trace_file)
    assert parse(write_trace(found)).facts == trace_file.facts


@given(traces(), dialects())
def test_a_trace_reads_back_the_same_in_every_dialect(trace: Trace, dialect: Dialect) -> None:
    """Separator, decimal sign, quotes and line ends change nothing."""
    found = parse(write(trace, dialect)).trace
    assert found.channels == trace.channels
    assert_array_equal(found.time_s, trace.time_s, strict=True)
    for name in trace.channels:
        assert_array_equal(found.channel(name), trace.channel(name), strict=True)


@given(st.binary(max_size=200))
def test_random_bytes_are_refused(data: bytes) -> None:
    """No garbage gets past the reader or breaks it."""
    assert parse_or_refuse(data) is None


@given(st.text('",;#:\r\n\t ax1.-_', max_size=60))
def test_any_quotes_and_separators_are_read_or_refused(text: str) -> None:
    """Odd quoting ends in a trace or in a refusal, nothing else."""
    found = parse_or_refuse(f"{COLUMNS}0,5,20\n{text}\n9,6,20\n".encode())
    assert found is None or found.trace.channel("h2_ppm")[0] == 5.0


@given(traces(), dialects(), st.data())
def test_a_file_with_a_damaged_place_is_read_or_refused(
    trace: Trace, dialect: Dialect, data: st.DataObject
) -> None:
    """Bytes lost, added or changed never end in another error than a refusal."""
    whole = write(trace, dialect)
    begin = data.draw(st.integers(0, len(whole)))
    end = data.draw(st.integers(begin, min(len(whole), begin + 6)))
    damaged = whole[:begin] + data.draw(st.binary(max_size=6)) + whole[end:]
    found = parse_or_refuse(damaged)
    assert found is None or found.trace.time_s.size >= 2


NUMBERS_OF_A_KIND = st.text("0123456789+-.,eE_x ٣５−", max_size=8)


@given(
    st.one_of(st.text(max_size=8), NUMBERS_OF_A_KIND, st.floats().map(str)),
    st.integers(0, 3),
    st.sampled_from(["time_s", "h2_ppm", "o2_pct", "flow_l_per_s"]),
    st.sampled_from(",;\t"),
)
def test_a_corrupted_cell_is_refused_or_reads_as_what_it_says(
    cell: str, at: int, column: str, delimiter: str
) -> None:
    """Whatever is typed into one cell, the cell is not misread and no other cell changes."""
    names = ["time_s", "h2_ppm", "o2_pct", "flow_l_per_s"]
    rows = [[str(second), "5", "14", "1"] for second in range(4)]
    before = parse("\n".join(delimiter.join(row) for row in [names, *rows])).trace
    rows[at][names.index(column)] = '"' + cell.replace('"', '""') + '"'
    hurt = "\n".join(delimiter.join(row) for row in [names, *rows])
    found = parse_or_refuse(hurt.encode("utf-8", "surrogatepass"))
    if found is None:
        return
    for name in names:
        old, new = (getattr(trace, name).tolist() for trace in (before, found.trace))
        if name == column:
            changed = new.pop(at)
            del old[at]
        assert new == old
    text = cell.strip()
    if text == "":
        assert changed != changed
        assert column != "time_s"
        return
    assert re.fullmatch(r"[+-]?[0-9]+([.,][0-9]+)?", text, re.ASCII)
    assert changed == float(Decimal(text.replace(",", ".")))
