from ebbline.adapters.chart.place import Box, best, overlap, text_box, text_width, wrap


def test_overlap_is_the_area_shared() -> None:
    """Boxes that only touch share nothing."""
    box = Box(0, 0, 10, 10)
    assert overlap(box, [Box(5, 5, 20, 20), Box(10, 0, 20, 10)]) == 25


def test_the_first_of_the_freest_places_is_taken() -> None:
    """Places are in order of preference."""
    places = [Box(0, 0, 10, 10), Box(20, 0, 30, 10), Box(40, 0, 50, 10)]
    assert best(places, [Box(0, 0, 5, 5)]) == 1
    assert best(places, []) == 0


def test_a_label_lies_on_the_side_that_its_alignment_says() -> None:
    """A right-aligned text ends where it is placed."""
    assert text_box(100, 50, 40, 10, align="right")[:1] == (60,)
    assert text_box(100, 50, 40, 10, align="left")[:1] == (100,)
    assert text_box(100, 50, 40, 10, align="center")[:1] == (80,)


def test_phrases_are_wrapped_whole() -> None:
    """No line is wider than asked unless one phrase alone is."""
    lines = wrap(["aaaa", "bbbb", "c" * 40], joint=" · ", width=90, size=10)
    assert lines == ["aaaa · bbbb", "c" * 40]
    assert text_width(lines[0], 10) <= 90
