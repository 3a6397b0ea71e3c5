"""``ebbline listen``: cycles from a link to the terminal, and a tidy end."""

import json
import sys
import time
from collections.abc import Callable
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from rich.console import Console

from ebbline.adapters.files.library import DATA
from ebbline.cli.listen import enter_key, follow, never
from ebbline.core.breath.trace import Trace
from ebbline.core.errors import InstrumentError
from ebbline.services.events import Event, Restored, Trouble
from ebbline.services.listen import Listening
from ebbline.services.prepare_cycle import Said
from tests.cli.conftest import Run
from tests.helpers import library
from tests.services.instruments import AnInstrument, Played, a_trace, an_instrument

STREAM = an_instrument(invented=True)
BLOW = a_trace(STREAM)
H2_ONLY = an_instrument("h2_ppm", regime="chamber")


class Broken(Played):
    """A link on which something else happens when it is looked at for the nth time."""

    def __init__(self, trace: Trace, at: int, error: BaseException) -> None:
        super().__init__(trace)
        self._left = at
        self._error = error

    def poll(self, timeout_s: float) -> tuple[Event, ...]:
        self._left -= 1
        if self._left == 0:
            raise self._error
        return super().poll(timeout_s)


def followed(
    source: Played,
    *,
    instrument: AnInstrument = STREAM,
    method: Any = "blow",
    once: bool = False,
    terminal: bool = False,
    width: int = 100,
    pressed: Callable[[], bool] = never,
) -> str:
    """Return what is printed of all cycles on a link."""
    said = Said(method=method, begun_s=None, on_for_min=None, reference=None)
    listening = Listening(
        library=library(), instrument=instrument, said=said, source=source, keep=None
    )
    file = StringIO()
    console = Console(file=file, width=width, highlight=False, force_terminal=terminal)
    try:
        follow(listening, console, once=once, pressed=pressed)
    finally:
        assert source.closed
    return file.getvalue()


def test_without_a_terminal_lines_are_written_and_then_the_result() -> None:
    """A line every few seconds, and one whenever something changes."""
    text = followed(Played(BLOW))
    lines = text.splitlines()
    assert lines[0] == "INVENTED DATA   our analyser"
    assert text.count("Room air:") in range(9, 14)
    assert "Blow now." in text
    assert text.index("Blow now.") < text.index("Blow on, slowly") < text.index("Enough from here")
    assert text.index("Enough from here") < text.index("Accepted. The raw values count.")
    assert max(map(len, lines)) <= 100


def test_a_trouble_is_written_when_it_comes_and_not_again_and_again() -> None:
    """In the words of the link."""
    pulled, back = Trouble("unplugged", "the cable is out"), Restored("it is back", 3.0)
    text = followed(Played(BLOW, {100: pulled, 300: back}))
    assert text.count("TROUBLE: the cable is out") == 1


@pytest.mark.parametrize("width", [80, 120])
def test_on_a_terminal_the_screen_is_drawn_and_the_result_stays(width: int) -> None:
    """Bar, countdown, and the caution."""
    text = followed(Played(BLOW), terminal=True, width=width)
    assert "Room air: 50 s left." in text
    assert "Alveolar air reached" in text
    assert "The raw values count." in text


def test_a_fast_analyser_is_not_drawn_as_often_as_it_sends() -> None:
    """Ten screens a second are enough, and drawing must not fall behind."""
    fast = an_instrument(invented=True)
    text = followed(Played(a_trace(fast, rate_hz=100.0)), instrument=fast, terminal=True)
    screens = text.count("Live, not a result")
    assert 700 < screens < 950


def test_once_ends_after_the_first_result() -> None:
    """Samples that come later are not looked at."""
    source = Played(a_trace(STREAM, end_s=300.0))
    text = followed(source, once=True)
    assert text.count("The raw values count.") == 1
    assert text.rstrip().endswith("overdue for it.")
    assert not source.over


def test_ctrl_c_during_a_blow_ends_tidily_with_what_came() -> None:
    """The breath is reduced where it was broken off."""
    text = followed(Broken(BLOW, 720, KeyboardInterrupt()))
    assert "Ended by Ctrl-C." in text
    assert text.index("Ended by Ctrl-C.") < text.index("value that counts")


def test_ctrl_c_in_room_air_says_that_there_is_no_result() -> None:
    """Nothing was under way."""
    text = followed(Broken(BLOW, 100, KeyboardInterrupt()))
    assert text.endswith("No breath was under way, so there is no result.\n")


def test_a_link_that_is_lost_for_good_does_not_take_the_blow_with_it(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """What came is shown, and the error goes on to end the command."""
    with pytest.raises(InstrumentError, match="gone"):
        followed(Broken(BLOW, 720, InstrumentError("the port is gone")))
    said = Said(method="blow", begun_s=None, on_for_min=None, reference=None)
    source = Broken(BLOW, 720, InstrumentError("the port is gone"))
    listening = Listening(library=library(), instrument=STREAM, said=said, source=source, keep=None)
    with pytest.raises(InstrumentError):
        follow(listening, Console(width=100), once=False, pressed=never)
    assert "value that counts" in capsys.readouterr().out


def test_a_key_begins_the_breath_where_nothing_else_shows_it() -> None:
    """Pressed once, when the bag is emptied at 65 s."""
    looks = iter(range(10_000))
    bag = a_trace(H2_ONLY, breath_s=(65.0, 999.0), end_s=120.0)
    text = followed(
        Played(bag),
        instrument=H2_ONLY,
        method="bag",
        pressed=lambda: next(looks) == 650,
    )
    assert "Empty the bag now, and press Enter at that moment." in text
    assert "Breath from 65.0 s on the trace's clock." in text


def test_the_enter_key_is_told_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each press counts for one question."""
    monkeypatch.setattr(sys, "stdin", StringIO("\n"))
    pressed = enter_key()
    deadline = time.monotonic() + 5.0
    while not pressed():
        assert time.monotonic() < deadline
        time.sleep(0.001)
    assert not pressed()
    assert not never()


def a_profile(folder: Path, name: str, link: str) -> Path:
    """Return a bundled profile with another link."""
    text = (DATA / "profiles" / f"{name}.toml").read_text(encoding="utf-8")
    before, _, rest = text.partition("[link]\n")
    path = folder / f"{name}.toml"
    path.write_text(f"{before}[link]\n{link}\n[lines]\n{rest.partition('[lines]')[2]}", "utf-8")
    return path


@pytest.mark.parametrize(
    ("name", "kind", "flag"),
    [("harbour-stream", "stream", "--blow"), ("harbour-chamber", "bag", "--bag")],
)
def test_a_virtual_analyser_is_listened_to_logged_kept_and_reduced_again(
    run: Run, tmp_path: Path, name: str, kind: str, flag: str
) -> None:
    """The whole way: link, raw log, cycle, result, trace file, and the same reading from it."""
    link = f'kind = "simulated"\nwhat = "{kind}"\nseed = 3\nspeed = 500\nsilent_after_s = 2'
    profile, folder = a_profile(tmp_path, name, link), tmp_path / "kept"
    answer = run("listen", "--profile", profile, flag, "--keep", folder, "--once", "--on-for", "60")
    assert answer.code == 0
    assert answer.out.startswith("INVENTED DATA")
    (trace,) = folder.glob("*.csv")
    (log,) = folder.glob("*.log")
    assert log.stat().st_size > 1000
    assert f"The trace is kept in {trace}." in " ".join(answer.out.split())
    again = run("reduce", trace, "--profile", profile)
    (live,) = [line for line in answer.out.splitlines() if line.startswith(" H2  ")]
    assert live in again.out.splitlines()
    document = json.loads(run("reduce", trace, "--profile", profile, "--json").out)
    assert document["trace"]["invented"] is True
    assert document["method"] == ("blow" if flag == "--blow" else "bag")


def test_a_port_that_is_not_there_ends_with_4(run: Run, tmp_path: Path) -> None:
    """In words, on standard error."""
    link = (
        f'kind = "serial"\nport = "{tmp_path}/none"\nspeed = 9600\nbits = 8\nparity = "none"\n'
        'stop_bits = 1\nflow_control = "none"\nsilent_after_s = 1.5'
    )
    answer = run("listen", "--profile", a_profile(tmp_path, "harbour-stream", link))
    assert answer.code == 4
    assert f"{tmp_path}/none" in answer.err
    assert "no result" not in answer.out


def test_a_profile_that_cannot_be_reduced_ends_before_anybody_blows(
    run: Run, tmp_path: Path
) -> None:
    """And lets go of the link and its log."""
    path = tmp_path / "no-h2.toml"
    text = (DATA / "profiles" / "harbour-stream.toml").read_text(encoding="utf-8")
    before, _, rest = text.partition("[channels.h2_ppm]")
    path.write_text(f"{before}[channels.{rest.partition('[channels.')[2]}", "utf-8")
    answer = run("listen", "--profile", path, "--keep", tmp_path / "kept")
    assert (answer.code, answer.out) == (2, "")
    assert "h2_ppm among them" in answer.err
