"""Read a trace file: one trace as CSV text, taken whole or refused whole.

The format is described in docs/reference/trace-file.md. `parse_trace` is pure; only `read_trace`
touches a file. `ebbline.adapters.files.trace_writer` writes one.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import chain

import numpy as np

from ebbline.adapters.files.table_dialect import (
    DECIMALS,
    find_decimal,
    find_delimiter,
    read_records,
)
from ebbline.adapters.files.table_head import split_head, take_sign, unpad
from ebbline.adapters.files.table_text import Place, read_bytes, refused_as, to_lines
from ebbline.adapters.files.trace_head import KEYS, TraceKind, head_numbers, read_head
from ebbline.adapters.files.trace_rows import TIME, read_cells, read_columns, take_cells
from ebbline.core.breath.trace import FASTEST_HZ, SLOWEST_HZ, Float, Trace
from ebbline.core.errors import InputError, TraceFileError

BYTES_ALLOWED = 50_000_000
"""Largest file that is read, bytes. Eight hours at 10 Hz, five channels, take 10 to 26 million."""

LINES_ALLOWED = 1_000_000
"""Most lines below the columns: 27 hours at 10 Hz."""

_DELIMITERS = {",": "comma", ";": "semicolon", "\t": "tab"}


@dataclass(frozen=True, slots=True, eq=False)
class TraceFile:
    """A trace, and what its file's head said about it; None and no entry are not given.

    Parameters
    ----------
    file : str
        Name of the file as the user gave it.
    trace : Trace
        The samples.
    kind : {"blow", "bag"} or None
        Whether a patient blew or a bag was emptied.
    begun_s : float or None
        Time at which the blow began or the bag was opened, s on the trace's own time.
    on_for_min : float or None
        How long the analyser had been on at time 0, min.
    facts : mapping of str to str
        What the head said in words (profile, analyser, note …), under the names of
        docs/reference/trace-file.md.
    unused : mapping of str to str
        Head lines that ebbline does not know, under their keys as written.
    """

    file: str
    trace: Trace
    kind: TraceKind | None
    begun_s: float | None
    on_for_min: float | None
    facts: Mapping[str, str]
    unused: Mapping[str, str]

    @property
    def invented(self) -> bool:
        """Whether the file says that its data are invented."""
        return self.facts.get("invented") == "yes"


@refused_as(TraceFileError)
def parse_trace(data: bytes, *, file: str) -> TraceFile:
    """Return the trace that a trace file holds.

    Parameters
    ----------
    data : bytes
        The whole file.
    file : str
        Its name as the user gave it, for messages.

    Returns
    -------
    TraceFile

    Raises
    ------
    TraceFileError
        For the first fault: of the text, the head's lines, the separators, the quotes, the
        columns, the shape of the table, the decimal sign, the head's values, then the rows from
        top to bottom, and at last the sampling.
    """
    lines = to_lines(data, file, bytes_allowed=BYTES_ALLOWED)
    head, start = split_head(lines, file)
    declared_delimiter = take_sign(head.get("delimiter"), KEYS["delimiter"].choices)
    declared_decimal = take_sign(head.get("decimal"), KEYS["decimal"].choices)
    delimiter = find_delimiter(
        lines[start], Place(file, start + 1), declared_delimiter, delimiters=_DELIMITERS
    )
    unpad(head, delimiter)
    if len(lines) - start - 1 > LINES_ALLOWED:
        Place(file, start + LINES_ALLOWED + 2).refuse(
            "too many lines",
            allowed=f"up to {LINES_ALLOWED} below the columns",
            came=f"{len(lines) - start - 1}",
        )
    records = read_records(lines, start, delimiter, file)
    cells = take_cells(records, read_columns(next(records), file), file)
    heads = list(head_numbers(head))
    decimal = declared_decimal or find_decimal(
        chain(heads, cells.numbers(file)),
        delimiter,
        possible=cells.signs().union(*(number.text for number in heads)).intersection(DECIMALS),
    )
    said = read_head(head, decimal)
    return TraceFile(
        file=file,
        trace=_to_trace(read_cells(cells, decimal, file), file),
        kind=said.kind,
        begun_s=said.begun_s,
        on_for_min=said.on_for_min,
        facts=said.facts,
        unused=said.unused,
    )


@refused_as(TraceFileError)
def read_trace(name: str) -> TraceFile:
    """Return the trace that a trace file on disk holds; see `parse_trace`.

    Parameters
    ----------
    name : str
        Name of the file.

    Returns
    -------
    TraceFile

    Raises
    ------
    TraceFileError
        If there is no such file, it cannot be read, or `parse_trace` refuses it.
    """
    data = read_bytes(name, allowed="a trace file", bytes_allowed=BYTES_ALLOWED)
    return parse_trace(data, file=name)


def _to_trace(values: Mapping[str, Float], file: str) -> Trace:
    try:
        return Trace(
            time_s=values[TIME],
            h2_ppm=values.get("h2_ppm"),
            ch4_ppm=values.get("ch4_ppm"),
            o2_pct=values.get("o2_pct"),
            co2_pct=values.get("co2_pct"),
            flow_l_per_s=values.get("flow_l_per_s"),
        )
    except InputError:
        # Each time and each value was checked with its row, so that only their spacing is left.
        median_s = float(np.median(np.diff(values[TIME])))
        Place(file, column=TIME).refuse(
            "the sampling cannot be used",
            allowed=f"{SLOWEST_HZ:g} to {FASTEST_HZ:g} Hz by the median interval",
            came=f"{1.0 / median_s:g} Hz",
        )
