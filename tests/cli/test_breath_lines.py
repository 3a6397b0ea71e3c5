"""A reduced trace on the terminal: nothing is hidden, and nothing is called what it is not."""

import re
from io import StringIO
from typing import Any

import pytest
from rich.console import Console

from ebbline.cli.breath_lines import amount, show
from ebbline.core.breath.trace import Trace
from ebbline.services.prepare_cycle import Said
from ebbline.services.reduce_traces import ReduceTraces
from tests.helpers import library
from tests.services.instruments import (
    AnInstrument,
    ARecord,
    Shelf,
    a_trace,
    an_instrument,
    with_sensor,
)

STREAM = an_instrument()
CHAMBER = an_instrument(regime="chamber")
BLOW = a_trace(STREAM)
BAG = a_trace(CHAMBER, breath_s=(65.0, 999.0), end_s=120.0)


def shown(
    trace: Trace, instrument: AnInstrument = STREAM, *, width: int = 100, **record: Any
) -> str:
    """Return what is printed of a trace."""
    shelf = Shelf(instrument, ARecord("a.csv", trace, **{"kind": "blow", **record}))
    use_case = ReduceTraces(library(), shelf.read_trace, shelf.read_instrument)
    said = Said(method=None, begun_s=None, on_for_min=None, reference=None)
    (reduced,) = use_case(["a.csv"], profile="our.toml", said=said)
    file = StringIO()
    show(reduced, Console(file=file, width=width, highlight=False))
    return file.getvalue()


def flat(text: str) -> str:
    """Return a text on one line, however it was broken."""
    return " ".join(text.split())


@pytest.mark.parametrize("width", [80, 110])
def test_no_line_is_wider_than_the_terminal(width: int) -> None:
    """Tables too, with every reason and remark."""
    instrument = with_sensor(STREAM, "h2_ppm", u_gain_fraction=None)
    text = shown(
        a_trace(instrument, without=("ch4_ppm",)),
        instrument,
        width=width,
        on_for_min=3.0,
        unused={"Room of the service": "on the third floor, behind the kitchen, on the left"},
    )
    assert max(len(line.rstrip()) for line in text.splitlines()) <= width


def test_an_accepted_breath_shows_what_counts_beside_what_a_display_shows() -> None:
    """Last and highest stand there by these names, and are said not to be results."""
    text = shown(BLOW)
    assert "Accepted. The raw values count." in text
    (head,) = [line for line in text.splitlines() if "value that counts" in line]
    assert head.split("  ")[-1].strip() == "highest shown"
    assert "last shown" in head
    (h2,) = [line for line in text.splitlines() if line.startswith(" H2  ")]
    assert h2.count("±") == 2
    assert "They are not results." in flat(text)
    assert "Alveolar fraction 1.00 by O2 (13.9 % is full)." in text
    assert re.search(r"Breath from 6\d\.\d s to 7\d\.\d s on the trace's clock\.", text)
    assert re.search(r"Plateau from 6\d\.\d s to 7\d\.\d s\.", text)


def test_where_u_comes_from_is_shown_part_by_part() -> None:
    """A row for each gas."""
    lines = shown(BLOW).splitlines()
    (head,) = [line for line in lines if "calibration" in line and "together" in line]
    assert head.split() == [
        "u", "of", "raw", "noise", "zero", "response", "resolution", "calibration", "together",
    ]  # fmt: skip
    rows = [line.split() for line in lines if line.startswith((" H2, ", " CH4, ", " O2, "))]
    for _, _, *parts, together in rows:
        squares = sum(float(part) ** 2 for part in parts)
        assert squares**0.5 == pytest.approx(float(together), abs=0.02)


def test_a_calibration_that_is_not_known_is_not_a_0() -> None:
    """In the table and in a sentence."""
    instrument = with_sensor(STREAM, "h2_ppm", u_gain_fraction=None)
    text = shown(BLOW, instrument)
    (h2,) = [line for line in text.splitlines() if line.startswith(" H2, ppm")]
    assert "not known" in h2
    assert "Calibration not known of H2: its part is not in u." in text
    assert "Calibration not known" not in shown(BLOW)


def test_a_refused_breath_says_all_reasons_and_what_to_do() -> None:
    """The numbers stay, and none of them counts."""
    text = flat(shown(BLOW, on_for_min=3.0))
    words = library().quality.reasons["still_warming"]
    assert "Refused. No value of this breath counts" in text
    assert "- Still warming: on for 4 min, at least 20 min are needed." in text
    assert words.means in text
    assert f"What to do: {words.do}" in text
    assert re.search(r"H2 none \d+\.\d+ ± \d", text)


def test_reasons_of_one_kind_share_their_advice() -> None:
    """Four channels that were not zeroed are one thing to mend."""
    text = flat(shown(a_trace(STREAM, breath_s=(20.0, 30.0), end_s=40.0)))
    words = library().quality.reasons["not_zeroed"]
    assert text.count(words.do) == 1
    assert "H2: room air too short" in text
    assert "CO2: room air too short" in text


def test_a_trace_without_breath_has_no_table() -> None:
    """There is nothing to show, and it is said why."""
    text = shown(a_trace(STREAM, breath_s=(900.0, 910.0)))
    assert "No breath was seen." in text
    assert "value that counts" not in text
    assert "Alveolar" not in text


def test_a_normalised_sample_keeps_its_raw_value_beside_it() -> None:
    """With the factor."""
    trace = a_trace(STREAM)
    mixed = Trace(
        time_s=trace.time_s,
        h2_ppm=trace.h2_ppm,
        ch4_ppm=trace.ch4_ppm,
        o2_pct=20.9 + 0.8 * (trace.channel("o2_pct") - 20.9),
        co2_pct=None,
        flow_l_per_s=None,
    )
    text = shown(mixed)
    assert "Normalised. The sample held room air" in text
    assert "Alveolar fraction 0.80 by O2 (13.9 % is full), scaled by 1.25." in text
    (h2,) = [line for line in text.splitlines() if line.startswith(" H2  ")]
    assert h2.split()[1] != h2.split()[5]


def test_held_gas_says_how_long_it_took_and_what_was_saved() -> None:
    """Against 99 % of the slowest response."""
    text = flat(shown(BAG, CHAMBER, kind="bag"))
    assert "Held gas was watched for" in text
    assert "s less than 99 % of the slowest response takes." in text
    assert "Held gas" not in shown(BLOW)


def test_held_gas_that_saved_nothing_says_so() -> None:
    """Noise that never lets it be known well enough."""
    clean = a_trace(CHAMBER, breath_s=(65.0, 999.0), end_s=200.0)
    text = flat(shown(clean, with_sensor(CHAMBER, "h2_ppm", noise=60.0), kind="bag"))
    assert "no less than 99 % of the slowest response takes." in text


@pytest.mark.parametrize(("on_for_min", "told"), [(None, True), (45.0, False)])
def test_a_warm_up_that_was_not_judged_is_told(on_for_min: float | None, told: bool) -> None:
    """Nobody is to think that it was."""
    assert ("Warm-up not judged" in shown(BLOW, on_for_min=on_for_min)) is told


def test_invented_data_say_so_first_and_the_caution_comes_last() -> None:
    """On every screen."""
    text = shown(BLOW, invented=True)
    assert text.startswith("INVENTED DATA   a.csv   blow   our analyser")
    assert flat(text).endswith(library().quality.caution)
    assert "INVENTED" not in shown(BLOW)


def test_without_a_marker_the_alveolar_fraction_is_not_known() -> None:
    """It is not taken to be 1."""
    h2_only = an_instrument("h2_ppm", regime="chamber")
    trace = a_trace(h2_only, breath_s=(65.0, 999.0), end_s=120.0)
    text = shown(trace, h2_only, kind="bag", begun_s=65.0)
    assert "Alveolar fraction not known: there is no value of O2 or CO2." in text


def test_lines_of_the_head_that_are_not_known_are_told() -> None:
    """So that a typing error does not pass in silence."""
    assert "not known and were not used: On for: 30" in shown(BLOW, unused={"On for": "30"})


@pytest.mark.parametrize(
    ("value", "u", "text"),
    [
        (41.234, 2.345, "41.2 ± 2.3 ppm"),
        (412.34, 23.45, "412 ± 23 ppm"),
        (1.23456, 0.0123, "1.235 ± 0.012 ppm"),
        (-0.51, 0.5, "−0.51 ± 0.50 ppm"),
        (1.23456, 0.00001, "1.235 ± 0.000 ppm"),
        (3.0, None, "3 ppm"),
        (3.0, float("nan"), "3 ppm"),
        (3.0, 0.0, "3 ppm"),
    ],
)
def test_a_value_has_as_many_digits_as_its_uncertainty_allows(
    value: float, u: float | None, text: str
) -> None:
    """Two digits of u, at most three decimals; without a u none is made up."""
    assert amount(value, u, "ppm") == text
