"""``ebbline profile``: check a profile, and fit a response for one."""

import math
import tomllib
from pathlib import Path

import numpy as np
import pytest

from ebbline.adapters.files.library import DATA
from ebbline.cli.profile import about_line
from ebbline.core.breath.response import Response, step_response
from tests.cli.conftest import Run
from tests.helpers import library

STREAM = DATA / "profiles" / "harbour-stream.toml"
CHAMBER = DATA / "profiles" / "harbour-chamber.toml"


def write_step(folder: Path, response: Response) -> Path:
    """Return a trace file with a step of H2 to 50 ppm at 20 s; seed fixed."""
    time_s = np.arange(0.0, 200.0, 0.5)
    noise = 0.3 * np.random.default_rng(7).standard_normal(time_s.size)
    shown = 50.0 * step_response(response, time_s - 20.0) + noise
    rows = "".join(f"{at_s:.1f},{value:.2f}\n" for at_s, value in zip(time_s, shown, strict=True))
    path = folder / "step.csv"
    path.write_text(f"# invented: yes\ntime_s,h2_ppm\n{rows}", encoding="utf-8")
    return path


@pytest.fixture
def step(tmp_path: Path) -> Path:
    """Return a step of a sensor with one time constant of 8 s."""
    return write_step(tmp_path, Response(delay_s=1.0, tau_s=8.0, tau2_s=0.0))


@pytest.mark.parametrize("profile", [STREAM, CHAMBER])
def test_a_bundled_profile_is_described_channel_by_channel(run: Run, profile: Path) -> None:
    """Marked invented."""
    answer = run("profile", "check", profile)
    assert answer.code == 0
    assert answer.out.startswith("INVENTED DATA   Harbour")
    for channel in ("H2, ppm", "CH4, ppm", "O2, %", "CO2, %"):
        assert f"\n {channel}" in answer.out
    assert "noise gain" not in answer.out
    assert " ".join(answer.out.split()).endswith(library().quality.caution)


def test_the_rate_is_judged_where_it_is_given(run: Run) -> None:
    """And without it, it is said that it was not."""
    assert "How often values come is not known" in run("profile", "check", STREAM).out
    known = run("profile", "check", STREAM, "--rate", "10").out
    assert "How often" not in known
    assert "noise gain" in known
    assert "shortest plateau" in run("profile", "check", STREAM, "--rate", "1").out
    answer = run("profile", "check", STREAM, "--rate", "1000")
    assert answer.code == 2
    assert "rate cannot be used; allowed: 1 to 100 Hz" in answer.err


def test_a_profile_that_is_refused_ends_with_2(run: Run, tmp_path: Path) -> None:
    """With its name."""
    bad = tmp_path / "bad.toml"
    bad.write_text("name = 3\n", encoding="utf-8")
    answer = run("profile", "check", bad)
    assert (answer.code, answer.out) == (2, "")
    assert str(bad) in answer.err


def test_a_step_gives_delay_and_time_constant_and_the_lines_for_the_profile(
    run: Run, step: Path
) -> None:
    """The lines are TOML with the fitted values."""
    answer = run("profile", "step", step, "--channel", "h2_ppm", "--at", "20")
    assert answer.code == 0
    assert answer.out.startswith("INVENTED DATA   H2, step at 20 s")
    assert "Delay 1." in answer.out or "Delay 0.9" in answer.out
    assert "t90 18." in answer.out
    _, _, lines = answer.out.partition("For the profile:\n\n")
    found = tomllib.loads(lines)["channels"]["h2_ppm"]
    assert found["tau_s"] == pytest.approx(8.0, abs=0.1)
    assert found["delay_s"] == pytest.approx(1.0, abs=0.1)
    assert found["tau2_s"] == 0.0
    assert 0.0 < found["u_tau_fraction"] < 0.01
    assert 0.0 < found["u_delay_s"] < 0.1


def test_two_time_constants_are_advised_where_they_fit_clearly_better(
    run: Run, tmp_path: Path
) -> None:
    """And one where two do not."""
    two = write_step(tmp_path, Response(delay_s=1.0, tau_s=8.0, tau2_s=4.0))
    words = ("profile", "step", two, "--channel", "h2_ppm", "--at", "20")
    assert "Two time constants fit clearly better: try --poles 2." in run(*words).out
    both = run(*words, "--poles", "2").out
    assert "Second time constant" in both
    assert "try --poles" not in both
    assert "--poles 1 is enough" not in both


def test_one_time_constant_is_advised_where_a_second_adds_nothing(run: Run, step: Path) -> None:
    """So that no profile carries a guess."""
    answer = run("profile", "step", step, "--channel", "h2_ppm", "--at", "20", "--poles", "2")
    assert "One time constant fits as well: --poles 1 is enough." in answer.out


def test_a_channel_that_is_not_there_is_refused(run: Run, step: Path) -> None:
    """With those that are."""
    answer = run("profile", "step", step, "--channel", "o2_pct", "--at", "20")
    assert (answer.code, answer.out) == (2, "")
    assert answer.err == (
        f"ebbline: {step}: no such channel to fit; allowed: h2_ppm; came: o2_pct\n"
    )


def test_a_line_is_tried_with_the_profile(run: Run) -> None:
    """What would be read from it, why nothing would, or that it is left out."""
    words = ("profile", "check", STREAM, "--line")
    read = run(*words, "12.5,23.5,-,20.9,4.5,0.25").out
    for said in ("H2: 23.5 ppm.", "CH4: no value.", "O2: 20.9 %.", "CO2: 4.5 %.", "Flow: 0.25 L/s"):
        assert said in read
    assert "The line gives no numbers: 2 columns, 6 are said" in run(*words, "23.5,3").out
    ignored = run(*words, "time,h2,ch4,o2,co2,flow").out
    assert "The line gives no numbers: the profile ignores it." in ignored


@pytest.mark.parametrize("width", [80, 120])
def test_no_line_is_wider_than_the_terminal(
    run: Run, step: Path, monkeypatch: pytest.MonkeyPatch, width: int
) -> None:
    """Neither of the two commands."""
    monkeypatch.setenv("COLUMNS", str(width))
    out = run("profile", "check", STREAM, "--rate", "2").out
    out += run("profile", "step", step, "--channel", "h2_ppm", "--at", "20").out
    assert max(len(line.rstrip()) for line in out.splitlines()) <= width


def test_what_a_line_says_is_told_with_its_units() -> None:
    """A gap is no number, and a number that no gas can have is told as what it is."""
    assert about_line({"h2_ppm": 23.5, "ch4_ppm": math.nan, "flow_l_per_s": 0.25}) == [
        "H2: 23.5 ppm.",
        "CH4: no value.",
        "Flow: 0.25 L/s.",
    ]
    assert about_line({"o2_pct": 0.209}) == [
        (
            "O2: 0.209 %, which no gas can have (5 to 25 %): a breath with it would be refused. "
            "Are unit and scale right?"
        )
    ]
    assert about_line("3 columns") == ["The line gives no numbers: 3 columns."]
