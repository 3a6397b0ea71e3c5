"""Troubles: found by rules within 2 s, told once, and told to be over."""

import math
from dataclasses import replace

import numpy as np
import pytest

from ebbline.adapters.instrument.advice import advice, describe
from ebbline.adapters.instrument.lines import Unreadable, Values
from ebbline.adapters.instrument.profile import TcpLink
from ebbline.adapters.instrument.watch import Watch
from ebbline.services.events import Event, Restored, Trouble
from tests.adapters.instrument.live import LINE, SERIAL, on, troubles

GOOD = Values({"h2_ppm": 1.0}, None)
BAD = Unreadable("garbled", "the pattern does not fit: x")


def a_watch(*, good_until_s: float) -> Watch:
    """Return a watch with a good line every 0.1 s so far."""
    watch = Watch(SERIAL)
    watch.opened(0.0)
    for at_s in np.arange(0.1, good_until_s + 0.05, 0.1):
        assert watch.received(at_s, LINE) == ()
        assert watch.line(at_s, GOOD) == ()
    return watch


def test_silence_is_told_after_the_profiles_time_and_once() -> None:
    """1.5 s in the example; the words say what to look at."""
    watch = a_watch(good_until_s=1.0)
    assert watch.tick(2.4) == ()
    assert watch.tick(2.55) == (
        Trouble(
            "silent",
            "The instrument is silent: nothing has come for 1.5 s. Is the instrument on, its "
            "output switched on, the cable in place?",
        ),
    )
    assert watch.tick(3.0) == ()


def test_silence_from_the_start_is_told() -> None:
    """A port that is open says nothing about what is plugged in."""
    watch = a_watch(good_until_s=0.0)
    assert watch.tick(1.0) == ()
    assert troubles(list(watch.tick(1.5))) == ["silent"]


def test_the_first_good_line_ends_silence_with_the_gap() -> None:
    """From the last good line to the first."""
    watch = a_watch(good_until_s=1.0)
    watch.tick(3.0)
    watch.received(4.0, LINE)
    (event,) = watch.line(4.0, GOOD)
    assert isinstance(event, Restored)
    assert event.words == "values come again, after 3.0 s"
    assert event.gap_s == pytest.approx(3.0)


def test_a_lost_link_is_told_once_and_again_after_it_worked() -> None:
    """However often it is lost while it is opened again."""
    watch = a_watch(good_until_s=1.0)
    assert watch.lost(1.1, "port lost") == (
        Trouble(
            "unplugged",
            "The link is lost: port lost. Look at cable, plug and power; it is opened again by "
            "itself.",
        ),
    )
    watch.opened(1.6)
    assert watch.lost(1.7, "port lost") == ()
    watch.opened(2.0)
    watch.received(2.1, LINE)
    assert [type(one) for one in watch.line(2.1, GOOD)] == [Restored]
    assert troubles(list(watch.lost(2.2, "port lost"))) == ["unplugged"]


def test_one_line_that_is_not_understood_is_no_trouble() -> None:
    """It gives no value, and that is all."""
    watch = a_watch(good_until_s=1.0)
    watch.received(1.1, b"x\r\n")
    assert watch.line(1.1, BAD) == ()
    assert watch.line(1.2, GOOD) == ()


def test_three_lines_in_a_row_that_are_not_understood_are_told() -> None:
    """With the last of them."""
    watch = a_watch(good_until_s=1.0)
    events: list[Event] = []
    for at_s in (1.1, 1.2, 1.3):
        watch.received(at_s, b"some other text\r\n")
        events += watch.line(at_s, BAD)
    assert events == [
        Trouble(
            "garbled",
            "Lines cannot be read: 3 lines are not understood, the last one: the pattern does not "
            "fit: x. Another device, a damaged cable, or another output setting; look at the "
            "instrument's output setting and at [lines] of the profile.",
        )
    ]


def test_half_of_the_lines_not_understood_are_told_and_end_with_a_run_of_good_ones() -> None:
    """Not at the first good line between, and after a second of good ones."""
    watch = a_watch(good_until_s=1.0)
    events: list[Event] = []
    for count in range(40):
        at_s = 1.1 + 0.1 * count
        watch.received(at_s, LINE)
        events += watch.line(at_s, BAD if count % 2 else GOOD)
    assert troubles(events) == ["garbled"]
    assert len(events) == 1
    for count in range(20):
        at_s = 5.1 + 0.1 * count
        watch.received(at_s, LINE)
        events += watch.line(at_s, GOOD)
    assert isinstance(events[1], Restored)
    assert len(events) == 2


def test_a_slow_instrument_is_told_after_its_time_without_a_good_line() -> None:
    """At one line a second two bad ones are enough."""
    watch = Watch(replace(SERIAL, silent_after_s=2.0))
    watch.opened(0.0)
    watch.received(1.0, LINE)
    watch.line(1.0, GOOD)
    events: list[Event] = []
    for at_s in (2.0, 3.0):
        events += watch.received(at_s, b"some other text\r\n")
        events += watch.line(at_s, BAD)
    assert troubles([*events, *watch.tick(3.0)]) == ["garbled"]


def test_one_line_a_second_is_no_trouble_from_the_first_half_line_on() -> None:
    """The first piece is left out, and the next line comes 1.9 s after the link was opened."""
    watch = Watch(SERIAL)
    watch.opened(0.0)
    events: list[Event] = []
    for at_s in np.arange(0.1, 10.0, 0.1):
        if round(at_s, 1) % 1.0 == pytest.approx(0.9):
            events += watch.received(at_s, LINE)
            if at_s > 1.0:
                events += watch.line(at_s, GOOD)
        events += watch.tick(at_s)
    assert events == []


@pytest.mark.parametrize("ends", [True, False])
def test_the_wrong_speed_is_told_by_what_can_be_printed(ends: bool) -> None:
    """Random bytes, whether a line's end is among them or not."""
    rng = np.random.default_rng(5)
    watch = a_watch(good_until_s=1.0)
    events: list[Event] = []
    for at_s in np.arange(1.1, 3.0, 0.1):
        data = bytes(rng.integers(128, 256, 10, dtype=np.uint8)) + (b"\n" if ends else b"")
        events += watch.received(at_s, data)
        if ends:
            events += watch.line(at_s, BAD)
        if events:
            break
    (event,) = events
    assert isinstance(event, Trouble)
    printable, total = (3, 33) if ends else (0, 140)
    assert event == Trouble(
        "wrong_speed",
        f"What comes is no text in lines: only {printable} of {total} bytes are characters of a "
        "text. Speed, bits or parity may differ from the instrument's; the profile has 9600 baud, "
        "8 bits, parity none.",
    )


def test_text_without_a_lines_end_is_told() -> None:
    """Within the profile's time."""
    watch = a_watch(good_until_s=1.0)
    events: list[Event] = []
    for at_s in np.arange(1.1, 2.6, 0.1):
        events += watch.received(at_s, b"12")
    assert len(events) == 1
    assert isinstance(events[0], Trouble)
    assert events[0].words.startswith(
        "What comes is no text in lines: 28 bytes have come, and none ends a line. Speed, bits"
    )


def test_only_ends_of_lines_are_half_lines() -> None:
    """Something comes, but never a line whose beginning was seen."""
    watch = a_watch(good_until_s=1.0)
    events: list[Event] = []
    for at_s in np.arange(1.1, 2.6, 0.1):
        events += watch.received(at_s, b"\r\n")
    assert troubles(events) == ["half_lines"]
    assert isinstance(events[0], Trouble)
    assert events[0].words == (
        "Lines come in halves: no line has come whole. Characters are lost on the way, or the "
        "output has other fields; look at the cable, at flow control, and whether another program "
        "reads the port."
    )


def test_lines_that_are_ignored_are_no_values() -> None:
    """An instrument that only says READY."""
    watch = a_watch(good_until_s=1.0)
    events: list[Event] = []
    for at_s in np.arange(1.1, 2.6, 0.1):
        events += watch.received(at_s, b"READY\r\n")
        events += watch.line(at_s, None)
    assert troubles(events) == ["silent"]
    assert isinstance(events[0], Trouble)
    assert events[0].words.startswith(
        "The instrument is silent: only lines come that the profile ignores. Is"
    )


@pytest.mark.parametrize(
    ("code", "told"),
    [
        ("half_line", "half_lines"),
        ("decimal_comma", "decimal_comma"),
        ("refused_number", "refused_number"),
    ],
)
def test_what_is_wrong_with_lines_is_named_by_most_of_them(code: str, told: str) -> None:
    """Two of one kind and one of another."""
    watch = a_watch(good_until_s=1.0)
    events: list[Event] = []
    for at_s, one in ((1.1, code), (1.2, "garbled"), (1.3, code)):
        watch.received(at_s, b"some other text\r\n")
        events += watch.line(at_s, Unreadable(one, "why"))
    assert troubles(events) == [told]


def test_another_look_of_the_same_lines_is_not_told_at_once() -> None:
    """A screen that changes with each line cannot be read; silence is told all the same."""
    watch = a_watch(good_until_s=1.0)
    events: list[Event] = []
    for count in range(12):
        at_s = 1.1 + 0.1 * count
        watch.received(at_s, b"some other text\r\n")
        events += watch.line(at_s, BAD if count < 4 else Unreadable("half_line", "short"))
    assert troubles(events) == ["garbled"]
    events += watch.tick(3.8)
    assert troubles(events) == ["garbled", "silent"]


def test_a_jump_of_the_clock_is_told_at_once_and_stays_for_a_while() -> None:
    """Values go on all the time."""
    watch = a_watch(good_until_s=1.0)
    events: list[Event] = list(watch.notice(1.0, "clock_jumped", "it goes back"))
    for count in range(70):
        at_s = 1.1 + 0.1 * count
        watch.received(at_s, LINE)
        events += watch.line(at_s, GOOD)
    told, over = events
    assert told == Trouble(
        "clock_jumped",
        "The instrument's clock is wrong: it goes back. Times of arrival are used from here on. "
        "Was its clock set, or was it switched off and on?",
    )
    assert isinstance(over, Restored)
    assert over.words == "values go on"
    assert over.gap_s == pytest.approx(0.1)


def test_a_notice_is_told_during_another_trouble() -> None:
    """It is found once only, and must not be lost."""
    watch = a_watch(good_until_s=1.0)
    for at_s in (1.1, 1.2, 1.3):
        watch.received(at_s, b"some other text\r\n")
        watch.line(at_s, BAD)
    assert troubles(list(watch.notice(1.4, "not_logged", "No space left on device"))) == [
        "not_logged"
    ]


@pytest.mark.parametrize(
    "code",
    [
        "unplugged",
        "silent",
        "garbled",
        "wrong_speed",
        "half_lines",
        "clock_jumped",
        "decimal_comma",
        "refused_number",
        "not_logged",
        "torn_log",
    ],
)
def test_every_trouble_has_words_for_what_it_is_and_what_to_do(code: str) -> None:
    """Whole sentences."""
    told = f"{describe(code, 'seen')} {advice(code, SERIAL.link)}"
    assert told[0].isupper()
    assert ": seen. " in told
    assert told[-1] in ".?"


def test_no_advice_speaks_of_a_speed_where_there_is_none() -> None:
    """Over the network something else may answer."""
    link = on(SERIAL, TcpLink("127.0.0.1", 1)).link
    assert advice("wrong_speed", link) == (
        "Something else may answer there than the instrument; look at the profile's [link]."
    )


def test_no_good_line_at_all_has_a_gap_from_the_opening() -> None:
    """There is no last good line."""
    watch = Watch(SERIAL)
    watch.opened(2.0)
    watch.tick(4.0)
    watch.received(5.0, LINE)
    (event,) = watch.line(5.0, GOOD)
    assert isinstance(event, Restored)
    assert math.isclose(event.gap_s, 3.0)
