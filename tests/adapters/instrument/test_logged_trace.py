"""A raw log read as one trace, such as a step with check gas that is no breath."""

from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose

from ebbline.adapters.files.library import DATA
from ebbline.adapters.instrument.logged_trace import read_logged_trace
from ebbline.adapters.instrument.profile_file import read_profile
from ebbline.adapters.instrument.raw_log import RawLog
from ebbline.adapters.instrument.speak import speak
from ebbline.bootstrap import build
from ebbline.core.breath.response import Response, step_response
from ebbline.core.breath.trace import Channel
from ebbline.core.errors import TraceFileError

CHAMBER = read_profile(str(DATA / "profiles" / "harbour-chamber.toml"))


def log_of(path: Path, h2_ppm: list[float], interval_s: float) -> str:
    """Write a raw log of so many lines, with everything but hydrogen as in room air."""
    log = RawLog(path, name=CHAMBER.name)
    log.add(0.0, "opened", b"")
    log.add(0.0, "data", b"\n")
    for at, value in enumerate(h2_ppm, start=1):
        values: dict[Channel, float] = {"h2_ppm": value, "ch4_ppm": 0.0, "o2_pct": 20.9}
        line = speak(CHAMBER, values | {"co2_pct": 0.04}, clock_s=0.0)
        log.add(at * interval_s, "data", line)
    log.close()
    return str(path)


def test_a_log_is_one_trace_on_its_own_times(tmp_path: Path) -> None:
    """Half a second a line, in no time at all."""
    name = log_of(tmp_path / "raw.log", [1.5, 2.5, 3.5, 4.5], 0.5)
    found = read_logged_trace(name, CHAMBER)
    assert_allclose(found.trace.channel("h2_ppm"), [1.5, 2.5, 3.5, 4.5])
    assert_allclose(np.diff(found.trace.time_s), 0.5, atol=1e-6)
    assert found.invented


def test_a_log_without_values_makes_no_trace(tmp_path: Path) -> None:
    """It is refused with its name."""
    name = log_of(tmp_path / "raw.log", [], 0.5)
    with pytest.raises(TraceFileError) as caught:
        read_logged_trace(name, CHAMBER)
    assert str(caught.value) == (
        f"{name}: the trace's times cannot be used; allowed: one row of two or more; "
        "came: shape (0,)"
    )


def test_a_step_is_fitted_from_its_log(tmp_path: Path) -> None:
    """One pole of 6 s after 1 s, switched at 20 s, at 2 Hz."""
    time_s = np.linspace(0.5, 120.0, 240)
    true = Response(delay_s=1.0, tau_s=6.0, tau2_s=0.0)
    shown = np.round(40.0 * step_response(true, time_s - 20.0), 2)
    name = log_of(tmp_path / "raw.log", shown.tolist(), 0.5)
    fit_step = build().fit_step(log_profile=str(DATA / "profiles" / "harbour-chamber.toml"))
    found = fit_step(name, channel="h2_ppm", at_s=20.0, poles=1)
    assert_allclose(found.fit.response.tau_s, 6.0, atol=0.01)
    assert_allclose(found.fit.response.delay_s, 1.0, atol=0.01)
