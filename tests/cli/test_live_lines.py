"""What is shown while a cycle runs: one thing to do at a time."""

from dataclasses import replace
from io import StringIO
from typing import Any

import pytest
from rich.console import Console

from ebbline.cli.live_lines import (
    alveolar_bar,
    alveolar_words,
    live_values,
    plain_line,
    screen,
    settling,
    what_to_do,
)
from ebbline.core.breath.progress import Progress, Settling
from ebbline.services.listen import Now
from tests.helpers import library

CAUTION = library().quality.caution
PROGRESS = Progress(
    phase="room",
    at_s=70.0,
    room_s=60.0,
    room_needed_s=50.0,
    alveolar_share=0.0,
    blown_s=None,
    steady_s=0.0,
    steady_needed_s=2.4,
    at_most_s=None,
    settling={},
    live={"h2_ppm": -0.26, "o2_pct": 20.871},
)
NOW = Now(
    progress=PROGRESS,
    method="blow",
    warm_left_s=0.0,
    room_left_s=0.0,
    room_back=False,
    clearing=False,
    needs_start=False,
    trouble=None,
)


def a_now(progress: dict[str, Any] | None = None, **changes: Any) -> Now:
    """Return a moment of a cycle that waits for a blow, with some things changed."""
    return replace(NOW, progress=replace(PROGRESS, **(progress or {})), **changes)


BLOWING = {"phase": "blow", "alveolar_share": 0.6, "blown_s": 2.0}
STEADY = {**BLOWING, "alveolar_share": 1.02, "steady_s": 2.4}
HELD = {
    "phase": "held",
    "at_most_s": 31.2,
    "settling": {
        "h2_ppm": Settling(value=41.234, u=2.345, asked=2.06, share=0.44),
        "ch4_ppm": Settling(value=None, u=None, asked=1.0, share=0.02),
        "o2_pct": Settling(value=14.0, u=0.1, asked=None, share=0.9),
    },
}


def drawn(now: Now, *, invented: bool = False, width: int = 80) -> str:
    """Return the screen as text."""
    file = StringIO()
    console = Console(file=file, width=width, highlight=False)
    console.print(screen(now, instrument="our", invented=invented, caution=CAUTION))
    return file.getvalue()


@pytest.mark.parametrize(
    ("now", "said"),
    [
        (a_now({"at_s": None}), "Waiting for the analyser."),
        (a_now(clearing=True), "Breath is still in the analyser. Take bag or mouthpiece off and"),
        (a_now(warm_left_s=61.2), "Warming up: 1:02 min left. A breath now would be refused."),
        (a_now(room_left_s=12.3), "Room air: 13 s left. Nobody breathes near the inlet; a breath"),
        (a_now(warm_left_s=None), "Blow now."),
        (a_now(), "Blow now."),
        (a_now(needs_start=True), "Blow now, and press Enter at that moment."),
        (a_now(method="bag"), "Empty the bag now."),
        (a_now(BLOWING), "Blow on, slowly and steadily: 3 s at least."),
        (a_now({**BLOWING, "steady_s": 1.0}), "Blow on, slowly and steadily: 2 s at least."),
        (a_now(STEADY), "Enough from here; blow on for as long as it is"),
        (a_now(STEADY, room_back=True), "Room air is back. Wait, and do not"),
        (a_now(HELD), "The gas is held. Nothing to do: 32 s at the most."),
    ],
)
def test_each_moment_has_one_thing_to_do(now: Now, said: str) -> None:
    """Countdowns are rounded up, so that 0 means that it is over."""
    assert what_to_do(now).startswith(said)


def bar(steady_s: float) -> str:
    """Return the bar after so many seconds of steady air, of 2.4 that are needed."""
    return alveolar_bar(a_now({**BLOWING, "steady_s": steady_s}).progress)


def test_the_bar_reaches_its_mark_when_the_air_is_alveolar() -> None:
    """Not a sample sooner, and it never grows out of its place."""
    empty, short, reached, past = (bar(steady_s) for steady_s in (0.0, 2.3, 2.4, 9.0))
    assert empty.count("█") == 0
    assert short.index("│") > short.rindex("█") + 1
    assert reached.index("│") == reached.rindex("█") + 1
    assert (past.count("█"), past.count("·")) == (50, 0)
    assert len({one.index("│") for one in (empty, short, reached, past)}) == 1


def test_what_the_bar_shows_is_told_in_words_as_well() -> None:
    """With how far the gas is from room air, where a marker tells it."""
    assert alveolar_words(a_now(BLOWING).progress) == (
        "Alveolar air not yet: steady for 0.0 of 2.4 s, at 60 % of the reference."
    )
    assert alveolar_words(a_now({**STEADY, "alveolar_share": None}).progress) == (
        "Alveolar air reached: steady for 2.4 of 2.4 s."
    )


def test_held_gases_are_told_with_u_and_what_is_asked() -> None:
    """The marker gases are not waited for."""
    assert settling(a_now(HELD)) == [
        "H2 settles to 41.2 ± 2.3 ppm; ± 2.1 asked, 44 % of the response seen",
        "CH4 not known yet; ± 1 asked, 2 % of the response seen",
    ]


def test_live_values_are_labelled_as_what_they_are() -> None:
    """With a true minus sign; nothing is made up where nothing came."""
    assert live_values(NOW) == "Live, not a result: H2 −0.3 ppm, O2 20.87 %"
    assert live_values(a_now({"live": {}})) == "Live, not a result: nothing yet"


@pytest.mark.parametrize("width", [80, 120])
def test_the_screen_fits_the_terminal_and_says_what_is_invented(width: int) -> None:
    """The caution is on it, and the trouble while there is one."""
    text = drawn(a_now(BLOWING, trouble="the cable is out"), invented=True, width=width)
    assert max(map(len, text.splitlines())) <= width
    assert "INVENTED DATA   our" in text
    assert "TROUBLE  the cable is out" in text
    assert "│" in text
    assert " ".join(CAUTION.split()) in " ".join(text.split())
    assert "INVENTED" not in drawn(NOW)
    assert "TROUBLE" not in drawn(NOW)


def test_the_bar_is_there_only_while_somebody_blows() -> None:
    """Room air has no way to go."""
    assert "│" not in drawn(NOW)
    assert "│" not in drawn(a_now(STEADY, room_back=True))


@pytest.mark.parametrize(
    ("now", "line"),
    [
        (
            a_now(BLOWING),
            (
                "70.0 s: Blow on, slowly and steadily: 3 s at least. Alveolar air not yet: "
                "steady for 0.0 of 2.4 s, at 60 % of the reference. "
                "Live, not a result: H2 −0.3 ppm, O2 20.87 %."
            ),
        ),
        (
            a_now(STEADY, room_back=True),
            (
                "70.0 s: Room air is back. Wait, and do not blow again yet. "
                "Live, not a result: H2 −0.3 ppm, O2 20.87 %."
            ),
        ),
        (
            a_now({"at_s": None, "live": {}}),
            "Waiting for the analyser. Live, not a result: nothing yet.",
        ),
    ],
)
def test_without_a_terminal_the_screen_is_one_line(now: Now, line: str) -> None:
    """The same words."""
    assert plain_line(now) == line
