from numpy.testing import assert_allclose

from ebbline.adapters.chart.trace_frame import TimeFrame, ticks, time_frame


def frame() -> TimeFrame:
    """Return a frame of 10 s and 50 ppm."""
    return time_frame(60.0, 70.0, 0.0, 50.0, width=400.0, height=200.0)


def test_times_and_values_fall_on_their_pixels() -> None:
    """Left is the first second, and the top is the highest value."""
    assert_allclose([frame().x(60.0), frame().x(65.0), frame().x(70.0)], [0.0, 200.0, 400.0])
    assert_allclose([frame().y(50.0), frame().y(25.0), frame().y(0.0)], [0.0, 100.0, 200.0])


def test_what_is_outside_lies_on_the_edge() -> None:
    """Nothing is drawn over the margins."""
    assert_allclose([frame().x(0.0), frame().x(99.0)], [0.0, 400.0])
    assert_allclose([frame().y(90.0), frame().y(-9.0)], [0.0, 200.0])


def test_ticks_are_whole_steps_inside_the_frame() -> None:
    """Steps are 1, 2 or 5 times a power of ten."""
    assert_allclose(frame().ticks, [0.0, 10.0, 20.0, 30.0, 40.0, 50.0])
    assert_allclose(frame().seconds, [60.0, 62.0, 64.0, 66.0, 68.0, 70.0])
    assert_allclose(ticks(-3.0, 8.0, most=3), [0.0, 5.0])
    assert_allclose(ticks(0.0, 0.4, most=4), [0.0, 0.1, 0.2, 0.3, 0.4])


def test_there_are_no_more_ticks_than_asked() -> None:
    """A step too small is never taken, whatever the span."""
    for span in (0.7, 1.0, 3.3, 19.0, 47.0, 250.0, 3600.0):
        # A tick at both ends makes one more than there are steps.
        assert 1 <= len(ticks(0.0, span, most=5)) <= 6
