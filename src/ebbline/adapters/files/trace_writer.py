"""Write a trace file, so that `ebbline.adapters.files.trace_file` reads the same values back."""

from collections.abc import Iterator, Mapping

from ebbline.adapters.files.table_text import Place, clip, is_one_line, plain, refused_as, show
from ebbline.adapters.files.trace_file import TraceFile, parse_trace
from ebbline.adapters.files.trace_rows import GASES, LIMITS, TIME, first_outside
from ebbline.core.breath.trace import Float, Trace
from ebbline.core.errors import TraceFileError, list_allowed

_SMALLEST_TABLE = "time_s,h2_ppm\n0,\n1,\n"


@refused_as(TraceFileError)
def write_trace(trace_file: TraceFile) -> str:
    """Return a trace as the text of a trace file, to be kept in UTF-8.

    Commas separate the cells, numbers have a point and as many digits as they need, and a gap is an
    empty cell, so that each value reads back as the same number.

    Parameters
    ----------
    trace_file : TraceFile
        What to write. The name of its file is not written; it stands in messages.

    Returns
    -------
    str
        Lines that end with LF.

    Raises
    ------
    TraceFileError
        If something would not read back as it is: a fact that is not one line of text, a number
        outside the limits of its key or of time_s, a trace without gas.
    """
    head = "".join(_head_lines(trace_file))
    _check_head(head, trace_file)
    _check_trace(trace_file.trace, trace_file.file)
    columns = {TIME: trace_file.trace.time_s} | {
        str(name): trace_file.trace.channel(name) for name in trace_file.trace.channels
    }
    texts = [_texts(values) for values in columns.values()]
    rows = "\n".join(map(",".join, zip(*texts, strict=True)))
    return f"{head}{','.join(columns)}\n{rows}\n"


def _head_lines(trace_file: TraceFile) -> Iterator[str]:
    place = Place(trace_file.file)
    if trace_file.kind is not None:
        yield f"# kind: {trace_file.kind}\n"
    if trace_file.begun_s is not None:
        yield f"# begun_s: {plain(trace_file.begun_s)}\n"
    if trace_file.on_for_min is not None:
        yield f"# on_for_min: {plain(trace_file.on_for_min)}\n"
    for key, value in (*trace_file.facts.items(), *trace_file.unused.items()):
        if not is_one_line(f"{key}{value}"):
            place.refuse(
                f"head line {clip(key)} is not one line of text",
                allowed="text and tabs",
                came=show(value),
            )
        yield f"# {key}: {value}\n"


def _check_head(head: str, trace_file: TraceFile) -> None:
    """Let the reader say what it makes of the head, and refuse what is not the same."""
    data = f"{head}{_SMALLEST_TABLE}".encode("utf-8", "surrogatepass")
    found = parse_trace(data, file=trace_file.file)
    _check_texts(
        trace_file.facts,
        found.facts,
        Place(trace_file.file),
        allowed="a key of the reference page with a text that does not end with a comma or space",
    )
    _check_texts(
        trace_file.unused,
        found.unused,
        Place(trace_file.file),
        allowed="a key of your own with a text that does not end with a comma or space",
    )


def _check_texts(
    given: Mapping[str, str], found: Mapping[str, str], place: Place, *, allowed: str
) -> None:
    for key, value in given.items():
        if found.get(key) != value:
            place.refuse(
                f"head line {clip(key)} would not read back as it is",
                allowed=allowed,
                came=show(value),
            )


def _check_trace(trace: Trace, file: str) -> None:
    """Refuse what a `Trace` may hold and a trace file may not."""
    if not any(name in GASES for name in trace.channels):
        Place(file).refuse(
            "no column holds a gas",
            allowed=f"{list_allowed(GASES)}, at least one",
            came=show(", ".join((TIME, *trace.channels))),
        )
    at = first_outside(TIME, trace.time_s)
    if at is not None:
        low, high = LIMITS[TIME]
        Place(file, column=TIME).refuse(
            "the value is out of range",
            allowed=f"a plain number from {plain(low)} to {plain(high)}",
            came=plain(float(trace.time_s[at])),
        )


def _texts(values: Float) -> list[str]:
    return ["" if value != value else plain(value) for value in values.tolist()]
