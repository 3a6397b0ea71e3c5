"""The bundled traces are what their script makes, and they say that they are invented."""

import importlib.util
from pathlib import Path

import numpy as np
import pytest

from ebbline.adapters.files.library import DATA
from ebbline.adapters.files.trace_file import read_trace

TOP = Path(__file__).resolve().parents[2]
TRACES = sorted((DATA / "traces").glob("*.csv"))


def test_the_script_makes_the_traces_that_are_there(tmp_path: Path) -> None:
    """Seeds are fixed; times and values agree to the last decimal that is written."""
    spec = importlib.util.spec_from_file_location("make", TOP / "examples" / "make_traces.py")
    assert spec is not None
    assert spec.loader is not None
    script = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(script)
    script.make(tmp_path)
    assert [path.name for path in sorted(tmp_path.iterdir())] == [path.name for path in TRACES]
    for path in TRACES:
        made, there = read_trace(str(tmp_path / path.name)), read_trace(str(path))
        assert (made.kind, made.facts) == (there.kind, there.facts)
        assert made.trace.channels == there.trace.channels
        for name in there.trace.channels:
            # Another processor may round the last digit of a sum, and so one hundredth, otherwise.
            np.testing.assert_allclose(
                made.trace.channel(name), there.trace.channel(name), rtol=0.0, atol=0.0101
            )


@pytest.mark.parametrize("path", TRACES, ids=lambda path: path.stem)
def test_each_trace_says_that_it_is_invented_and_names_its_profile(path: Path) -> None:
    """The profile lies beside it in the package."""
    found = read_trace(str(path))
    assert found.invented
    assert "invented" in found.facts["service"]
    assert (DATA / "profiles" / f"{found.facts['profile']}.toml").is_file()
    assert found.unused == {}
