"""Invented tests of Harbour Clinic as fixtures."""

import pytest

from ebbline.core.rules.interpretation import Interpretation
from tests.adapters import invented


@pytest.fixture
def lactose() -> Interpretation:
    """A plain test: ten samples, all accepted."""
    return invented.lactose()


@pytest.fixture
def glucose() -> Interpretation:
    """A test with scaled and refused readings, a repeated try and three symptoms."""
    return invented.glucose()


@pytest.fixture
def hydrogen_only() -> Interpretation:
    """A test without methane, marker gases, symptoms, or much of a head."""
    return invented.hydrogen_only()


@pytest.fixture
def with_a_missed_sample() -> Interpretation:
    """A test whose sample at 60 min was missed."""
    return invented.with_a_missed_sample()


@pytest.fixture
def long() -> Interpretation:
    """A test whose report needs two pages."""
    return invented.long()
