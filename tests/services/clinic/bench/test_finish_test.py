"""A test is finished when every planned sample is in or missed with a reason."""

from typing import Any

import pytest

from ebbline.core.errors import ClinicError, ConflictError
from ebbline.services.clinic.bench.finish_test import finish_test
from tests.scene import Scene
from tests.services.clinic.bench.test_miss_sample import miss
from tests.services.clinic.breaths import POSITIVE, begun, sampled
from tests.services.clinic.given import refused


def test_the_last_sample_lets_it_be_finished(scene: Scene) -> None:
    """Sent twice it is finished once."""
    test = begun(scene)
    sampled(scene, test, POSITIVE[:5])
    given: dict[str, Any] = {"test_id": test.id, "version": scene.version_of(test)}
    text = (
        "state: cannot go from sampling to finished yet; allowed: finished when every planned "
        "sample is taken or missed with a reason; came: not yet that every planned sample is taken "
        "or missed with a reason"
    )
    with refused(scene, ClinicError, text):
        finish_test(scene.clinic, scene.bench, **given, token="tap-1")
    miss(scene, test, 180.0)
    done = finish_test(scene.clinic, scene.bench, **given, token="tap-2")
    assert done.state == "finished"
    assert finish_test(scene.clinic, scene.bench, **given, token="tap-2") == done


def test_whoever_saw_an_older_version_is_told(scene: Scene) -> None:
    """Somebody else has changed the test meanwhile."""
    test = begun(scene)
    sampled(scene, test, POSITIVE)
    with pytest.raises(ConflictError):
        finish_test(scene.clinic, scene.bench, test_id=test.id, version=1, token=None)
