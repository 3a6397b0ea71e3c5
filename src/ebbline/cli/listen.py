"""``ebbline listen``: cycles on an analyser, live on the terminal."""

import argparse
import sys
import threading
from collections.abc import Callable
from types import TracebackType
from typing import TYPE_CHECKING, Self

from ebbline.cli.reduce import add_profile, add_said, said_by

if TYPE_CHECKING:
    from rich.console import Console

    from ebbline.services.listen import Listening, Now
    from ebbline.services.reduce_traces import ReducedTrace

# How long one look at the link takes at the most, s.
_LOOK_S = 0.1
# How often the screen is drawn, s on the analyser's clock: as often as an eye can follow.
_DRAW_EVERY_S = 0.1
# How often a line is written where there is no terminal, s on the analyser's clock.
_LINE_EVERY_S = 5.0


def add_to(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command to the parser."""
    parser = commands.add_parser(
        "listen",
        help="run cycles on an analyser, live",
        description="Listen to an analyser: warm-up, room air, blow or bag, result, one cycle "
        "after the other. Where the output is no terminal a line is written every few seconds. "
        "Nothing is ever sent to the analyser.",
        allow_abbrev=False,
    )
    add_profile(parser)
    add_said(parser, at="when listening begins")
    parser.add_argument(
        "--keep", metavar="FOLDER", help="keep the raw log and each breath's trace file here"
    )
    parser.add_argument("--once", action="store_true", help="end after the first result")
    parser.set_defaults(run=run)


def run(chosen: argparse.Namespace) -> int:
    """Listen until Ctrl-C, the end of a replay, or the first result where only one is asked."""
    from dataclasses import replace

    from ebbline.bootstrap import build
    from ebbline.cli.breath_lines import a_console

    said = said_by(chosen, begun_s=None)
    if said.method is None:
        said = replace(said, method="blow")
    listening = build().listen(chosen.profile, said=said, keep=chosen.keep)
    pressed = enter_key() if listening.now.needs_start else never
    follow(listening, a_console(), once=chosen.once, pressed=pressed)
    return 0


def follow(
    listening: "Listening", console: "Console", *, once: bool, pressed: Callable[[], bool]
) -> None:
    """Show cycles until there is an end to them, and end tidily.

    Parameters
    ----------
    listening : Listening
        The cycles.
    console : Console
        Where to.
    once : bool
        Whether to end after the first result.
    pressed : callable
        Returns whether a key was pressed since it was asked last.
    """
    from ebbline.cli.breath_lines import say, show

    view = LiveView(listening, console) if console.is_terminal else PlainView(listening, console)
    results: list[ReducedTrace] = []
    try:
        with view:
            while not listening.over and not (once and results):
                for reduced in listening.poll(_LOOK_S):
                    if not (once and results):
                        results.append(reduced)
                        show(reduced, console)
                if pressed():
                    listening.begin()
                if not (once and results):
                    view.update(listening.now)
    except KeyboardInterrupt:
        say(console, "Ended by Ctrl-C.")
    finally:
        # A link that was lost for good must not take the breath under way with it.
        rest = listening.stop()
        if rest is not None and not (once and results):
            results.append(rest)
            show(rest, console)
    if not results:
        say(console, "No breath was under way, so there is no result.")


class LiveView:
    """One screen that is drawn again and again."""

    def __init__(self, listening: "Listening", console: "Console") -> None:
        from rich.live import Live

        self._listening = listening
        self._live = Live(console=console, auto_refresh=False, transient=True)
        self._drawn: tuple[str, str | None] | None = None
        self._drawn_s = 0.0

    def __enter__(self) -> Self:
        """Begin to draw."""
        self._live.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Take the screen away; results stay."""
        self._live.stop()

    def update(self, now: "Now") -> None:
        """Draw where the cycle is, if it is time to."""
        from ebbline.cli.live_lines import screen

        at_s = now.progress.at_s or 0.0
        state = (now.progress.phase, now.trouble)
        if state == self._drawn and at_s < self._drawn_s + _DRAW_EVERY_S:
            return
        self._drawn, self._drawn_s = state, at_s
        listening = self._listening
        drawn = screen(
            now,
            instrument=listening.instrument.name,
            invented=listening.instrument.invented,
            caution=listening.words.caution,
        )
        self._live.update(drawn, refresh=True)


class PlainView:
    """A line now and then, and whenever something changes."""

    def __init__(self, listening: "Listening", console: "Console") -> None:
        self._listening = listening
        self._console = console
        self._shown: tuple[str, bool, str | None] | None = None
        self._shown_s = 0.0

    def __enter__(self) -> Self:
        """Say what is listened to."""
        from ebbline.cli.breath_lines import invented_mark, say

        instrument = self._listening.instrument
        mark = invented_mark(invented=instrument.invented)
        self._console.print(mark.append(instrument.name))
        say(self._console, self._listening.words.caution)
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Nothing is to be taken away."""

    def update(self, now: "Now") -> None:
        """Write a line where it is time for one."""
        from ebbline.cli.breath_lines import say
        from ebbline.cli.live_lines import plain_line

        if now.progress.at_s is None and now.trouble is None:
            return
        at_s = now.progress.at_s or 0.0
        ready = now.room_left_s > 0.0 or bool(now.warm_left_s)
        state = (now.progress.phase, ready, now.trouble)
        if state == self._shown and at_s < self._shown_s + _LINE_EVERY_S:
            return
        if now.trouble is not None and (self._shown is None or now.trouble != self._shown[2]):
            say(self._console, f"TROUBLE: {now.trouble}")
        self._shown, self._shown_s = state, at_s
        say(self._console, plain_line(now))


def never() -> bool:
    """Return that no key was pressed."""
    return False


def enter_key() -> Callable[[], bool]:
    """Return what tells whether Enter was pressed since it was asked last."""
    hit = threading.Event()

    def read() -> None:
        for _ in sys.stdin:
            hit.set()

    # A thread, since waiting for a key must not keep the analyser waiting, on any system.
    threading.Thread(target=read, daemon=True).start()

    def pressed() -> bool:
        was = hit.is_set()
        hit.clear()
        return was

    return pressed
