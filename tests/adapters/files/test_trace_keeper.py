"""Traces of live breaths are kept, each in a file of its own."""

from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from ebbline.adapters.files.trace_file import read_trace
from ebbline.adapters.files.trace_keeper import FolderKeeper
from ebbline.core.breath.trace import Trace
from ebbline.core.errors import InputError, TraceFileError
from ebbline.services.keep_trace import KeptTrace

NOW = datetime(2031, 5, 4, 10, 20, 30, tzinfo=UTC)


def a_kept(*, invented: bool = True, h2: bool = True, profile: str = "our analyser") -> KeptTrace:
    """Return a short trace to be kept."""
    values = np.array([1.0, np.nan, 1.25])
    trace = Trace(
        time_s=np.array([10.0, 10.5, 11.0]),
        h2_ppm=values if h2 else None,
        ch4_ppm=None,
        o2_pct=None,
        co2_pct=None,
        flow_l_per_s=None if h2 else values,
    )
    return KeptTrace(
        trace=trace,
        kind="bag",
        begun_s=10.2,
        on_for_min=30.0,
        profile=profile,
        invented=invented,
    )


def a_keeper(folder: Path) -> FolderKeeper:
    """Return a keeper whose clock stands still."""
    return FolderKeeper(folder, lambda: NOW)


def test_a_kept_trace_reads_back_the_same(tmp_path: Path) -> None:
    """In a folder that is made, with what is known of it in the head."""
    name = a_keeper(tmp_path / "new" / "traces")(a_kept())
    assert Path(name) == tmp_path / "new" / "traces" / "2031-05-04-102030.csv"
    found = read_trace(name)
    assert (found.kind, found.begun_s, found.on_for_min) == ("bag", 10.2, 30.0)
    assert found.facts == {
        "invented": "yes",
        "profile": "our analyser",
        "started": "2031-05-04T10:20:30+00:00",
    }
    np.testing.assert_array_equal(found.trace.time_s, [10.0, 10.5, 11.0])
    np.testing.assert_array_equal(found.trace.channel("h2_ppm"), [1.0, np.nan, 1.25])


def test_what_is_not_invented_does_not_say_so(tmp_path: Path) -> None:
    """Only the mark is missing."""
    assert not read_trace(a_keeper(tmp_path)(a_kept(invented=False))).invented


def test_no_trace_is_written_over_another_of_the_same_second(tmp_path: Path) -> None:
    """The second one is numbered, and so is a path for anything else."""
    keep = a_keeper(tmp_path)
    names = [Path(keep(a_kept())).name for _ in range(3)]
    assert names == [f"2031-05-04-102030{part}.csv" for part in ("", "-2", "-3")]
    assert keep.new_path(".log").name == "2031-05-04-102030.log"


def test_a_trace_that_is_no_trace_file_is_refused(tmp_path: Path) -> None:
    """Flow alone is no gas; nothing is written."""
    with pytest.raises(TraceFileError, match="no column holds a gas"):
        a_keeper(tmp_path)(a_kept(h2=False))
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_cannot_be_made_is_refused(tmp_path: Path) -> None:
    """A file stands where it should be."""
    taken = tmp_path / "taken"
    taken.write_text("", encoding="utf-8")
    with pytest.raises(InputError) as caught:
        a_keeper(taken)
    assert str(caught.value) == (
        f"{taken}: cannot be made; allowed: a folder that can be written; came: File exists"
    )


def test_a_file_that_cannot_be_written_is_refused(tmp_path: Path) -> None:
    """The folder is gone in the meantime."""
    keep = a_keeper(tmp_path / "gone")
    (tmp_path / "gone").rmdir()
    with pytest.raises(InputError) as caught:
        keep(a_kept())
    path = tmp_path / "gone" / "2031-05-04-102030.csv"
    assert str(caught.value) == (
        f"{path}: the trace cannot be written; allowed: a file that can be written; "
        "came: No such file or directory"
    )
