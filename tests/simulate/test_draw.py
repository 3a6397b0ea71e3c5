import numpy as np
from numpy.testing import assert_allclose

from ebbline.simulate.draw import draw_sensor
from ebbline.simulate.ranges import PPM_CHANNEL, Span
from ebbline.simulate.sensor import t90_s


def test_a_drawn_sensor_has_the_t90_that_was_drawn() -> None:
    """Whatever its second pole; and what is drawn lies in its ranges."""
    for seed in range(20):
        sensor = draw_sensor(
            np.random.default_rng(seed),
            PPM_CHANNEL,
            regime="chamber",
            delay_s=Span(0.2, 0.4),
            t90=Span(25.0, 25.0),
            second_pole_share=Span(0.0, 0.8),
            cross_factor=0.1,
        )
        assert_allclose(t90_s(sensor.tau_s, sensor.tau2_s), 25.0, rtol=1e-9)
        assert 0.2 <= sensor.delay_s <= 0.4
        assert 0.3 <= sensor.noise <= 2.0
        assert sensor.step in {0.1, 1.0}
        assert (sensor.regime, sensor.cross_factor) == ("chamber", 0.1)
