"""Options of the caller, which go before the head lines of a curve file."""

import pytest

from ebbline.services.overrides import Overrides
from tests.adapters.files.strategies import HEAD, assert_refused, parse

TABLE = "minute,h2_ppm\n0,5\n"


def test_an_option_goes_before_the_head_line_of_the_same_key() -> None:
    """What an option replaces is not looked at, so an option can mend a file."""
    flags = Overrides(
        substrate="glucose", dose_g=75, baseline="last", reference="co2 5.5", noise_ppm=0.00005
    )
    head = "# substrate: sugar\n# dose_g: much\n# baseline: first\n# reference: 13.9\n# lot: 1\n"
    found = parse(head + TABLE, flags)
    assert (found.substrate, found.dose_g) == ("glucose", 75.0)
    assert found.facts == {
        "baseline": "last",
        "reference": "co2 5.5",
        "lot": "1",
        "noise_ppm": "0.00005",
    }


def test_an_option_is_written_with_a_point_whatever_the_file_uses() -> None:
    """The decimal sign of the file says nothing about the caller's numbers."""
    found = parse("minute;h2_ppm\n0;5,5\n", Overrides(substrate="glucose", dose_g=12.5))
    assert found.dose_g == 12.5
    assert found.tries[0].h2_ppm == 5.5


def test_an_empty_option_says_nothing() -> None:
    """An option without a value leaves the head line as it is."""
    assert parse(HEAD + TABLE, Overrides(substrate="", protocol="")) == parse(HEAD + TABLE)


@pytest.mark.parametrize(
    ("flags", "message"),
    [
        (
            Overrides(dose_g=300.0),
            (
                "option dose_g is out of range; allowed: a plain number, more than 0 and 200 or "
                'less; came: "300"'
            ),
        ),
        (
            Overrides(weight_kg=float("nan")),
            (
                "option weight_kg: this is not a plain number; allowed: a plain number, 1 or more "
                'and 400 or less; came: "nan"'
            ),
        ),
        (
            Overrides(surgery="maybe"),
            'option surgery is not a choice; allowed: yes, no or unknown; came: "maybe"',
        ),
        (
            Overrides(substrate="sugar"),
            'option substrate is not a choice; allowed: lactulose or glucose; came: "sugar"',
        ),
        (
            Overrides(reference="o2 x"),
            (
                "option reference cannot be read; allowed: o2, o2 13.9, co2, co2 5.5, none, or a "
                'name of your own; came: "o2 x"'
            ),
        ),
    ],
)
def test_an_option_is_checked_as_a_head_line_is(flags: Overrides, message: str) -> None:
    """The refusal says that the option is at fault, not the file."""
    assert_refused(HEAD + TABLE, f"visit.csv: {message}", flags)
