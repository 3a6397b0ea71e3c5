from ebbline.adapters.chart.place import text_width
from ebbline.adapters.chart.theme import PRINT
from ebbline.adapters.chart.trace_axes import Moment, caption_words, rounded, uprights
from ebbline.adapters.chart.trace_frame import LEFT, RIGHT, time_frame

FRAME = time_frame(0.0, 10.0, 0.0, 50.0, width=400.0, height=200.0)


def test_words_that_would_meet_a_later_line_stand_in_the_row_above() -> None:
    """Two moments a second apart cannot both be written in one row."""
    moments = (Moment(2.0, "breath begins"), Moment(3.0, "blow ends"), Moment(8.0, "done"))
    _, words = uprights(moments, FRAME, [(0.0, 200.0)], PRINT)
    assert [(label.text, label.y) for label in words] == [
        ("done", -10.0),
        ("blow ends", -10.0),
        ("breath begins", -25.0),
    ]


def test_words_stay_within_the_margin() -> None:
    """Long words at the last moment begin to the left of their line."""
    text = "the reading is known as well as was asked"
    _, words = uprights((Moment(10.0, text),), FRAME, [(0.0, 200.0)], PRINT)
    assert words[0].x + text_width(text, words[0].size) <= FRAME.width + RIGHT - 9.9


def test_an_upright_line_leaves_out_what_is_between_two_plots() -> None:
    """It begins at its words, and in the second plot at the top of that."""
    (lines,), _ = uprights((Moment(5.0, "done"),), FRAME, [(0.0, 200.0), (240.0, 300.0)], PRINT)
    values = lines["data"]["values"]
    assert [(row["y"], row["foot"]) for row in values] == [(-10.0, 200.0), (240.0, 300.0)]


def test_without_moments_there_are_no_lines() -> None:
    """A layer without data would be an error to some renderers."""
    assert uprights((), FRAME, [(0.0, 200.0)], PRINT) == ([], [])


def test_a_phrase_too_long_for_a_line_is_broken_between_words() -> None:
    """Shorter ones stay whole."""
    long = "a reason that takes more words than any one line of this caption could hold " * 2
    labels = caption_words(["short one", long.strip()], FRAME, 240.0)
    assert labels[0].text == "short one"
    assert " ".join(label.text for label in labels[1:]) == long.strip()
    width = FRAME.width + LEFT + RIGHT
    assert all(text_width(label.text, label.size) <= width for label in labels)
    assert [label.y for label in labels] == [240.0 + 15.0 * i for i in range(len(labels))]


def test_data_are_rounded_and_never_minus_zero() -> None:
    """A picture does not hang on the last bit."""
    assert rounded(1.23456) == 1.235
    assert str(rounded(-0.0001)) == "0.0"
