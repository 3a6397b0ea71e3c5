"""Typed values that look like a slip of the pen are refused; a trace has its digest."""

from dataclasses import replace

import pytest

from ebbline.core.errors import FieldError
from ebbline.services.clinic.bench.breath_taken import Reduced, Typed, fields_of, typed_values
from ebbline.services.clinic.service.settings_on_record import settings_now
from tests.core.breath.givens import a_trace, reduced
from tests.scene import RULES, Scene
from tests.services.clinic.breaths import begun, take, typed


def check(breath: Typed, **changes: object) -> None:
    """Check typed values with nothing before them."""
    given = {"again": None, "confirmed": False, "before": None, **changes}
    typed_values(breath, table=RULES.bench, **given)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("breath", "text"),
    [
        (typed(-3.0), "h2_ppm: out of range; allowed: -2 to 2000; came: -3"),
        (typed(2001.0), "h2_ppm: out of range; allowed: -2 to 2000; came: 2001"),
        (typed(float("nan")), "h2_ppm: out of range; allowed: -2 to 2000; came: nan"),
        (typed(5.0, 2500.0), "ch4_ppm: out of range; allowed: -2 to 2000; came: 2500"),
        (Typed(5.0, 3.0, 22.0, None), "o2_pct: out of range; allowed: 5 to 21.5; came: 22"),
        (Typed(5.0, 3.0, None, 11.0), "co2_pct: out of range; allowed: 0 to 10; came: 11"),
    ],
)
def test_values_out_of_range_are_refused(breath: Typed, text: str) -> None:
    """The refusal names the value and its limits."""
    with pytest.raises(FieldError) as caught:
        check(breath)
    assert str(caught.value) == text


def test_what_is_typed_twice_must_be_the_same(scene: Scene) -> None:
    """A missing value is not the same as a number."""
    check(typed(29.0), again=typed(29.0))
    for again, came in ((typed(92.0), "92"), (typed(29.0, None), "nothing")):
        name, allowed = ("h2_ppm", "29") if came == "92" else ("ch4_ppm", "3")
        with pytest.raises(FieldError) as caught:
            check(typed(29.0), again=again)
        assert str(caught.value) == (
            f"{name}: typed differently the second time; allowed: {allowed}; came: {came}"
        )


def test_a_jump_asks_for_a_second_look(scene: Scene) -> None:
    """Forty ppm further is let through, more is typed twice or confirmed."""
    before = take(scene, scene.test(substrate="lactose", state="cleared"), 5.0)
    check(typed(45.0), before=before)
    with pytest.raises(FieldError) as caught:
        check(typed(45.5), before=before)
    assert str(caught.value) == (
        "h2_ppm: far from the reading before, 5; allowed: within 40 ppm of it, or typed a second "
        "time, or confirmed; came: 45.5"
    )
    check(typed(45.5), before=before, again=typed(45.5))
    check(typed(45.5), before=before, confirmed=True)
    with pytest.raises(FieldError, match="ch4_ppm: far from the reading before, 3"):
        check(typed(5.0, 24.0), before=before)
    check(typed(5.0, 500.0), before=replace(before, ch4_ppm=None))


@pytest.mark.parametrize("digest", ["", "ab", "AB" * 32, "zz" * 32])
def test_a_trace_is_known_by_its_digest(scene: Scene, digest: str) -> None:
    """A SHA-256 in lower case."""
    with scene.clinic.record.look() as look:
        settings = settings_now(scene.clinic, look, substrate="lactose")
    with pytest.raises(FieldError) as caught:
        fields_of(Reduced(reduced(a_trace(seed=3)), digest, {}), settings)
    assert str(caught.value) == (
        "trace_digest: not the digest of a trace; allowed: a SHA-256 in hexadecimal, 64 signs; "
        f"came: {digest or 'nothing'}"
    )


def test_a_trace_without_any_value_keeps_its_reasons(scene: Scene) -> None:
    """It is a try to be repeated without a number."""
    test = begun(scene)
    scene.clock.pass_minutes(30)
    empty = replace(reduced(a_trace(seed=3, to_s=1.5)), reading=None, quality="refused", values={})
    one = take(scene, test, 0.0, breath=Reduced(empty, "cd" * 32, {}))
    assert (one.status, one.h2_ppm, one.o2_pct) == ("repeat", None, None)
    assert one.reasons == tuple(reason.seen for reason in empty.reasons)
