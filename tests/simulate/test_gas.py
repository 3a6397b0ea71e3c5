from dataclasses import fields

import numpy as np
from numpy.testing import assert_array_equal

from ebbline.simulate.gas import GASES, Gases, gases


def test_the_gases_have_one_order() -> None:
    """The order of the rows is that of the named values, there and back."""
    assert tuple(field.name for field in fields(Gases)) == GASES
    named = gases(np.array([1.0, 2.0, 3.0, 4.0]))
    assert named == Gases(h2_ppm=1.0, ch4_ppm=2.0, o2_pct=3.0, co2_pct=4.0)
    assert_array_equal(named.values(), [1.0, 2.0, 3.0, 4.0])
