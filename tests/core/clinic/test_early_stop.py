import copy
import tomllib
from typing import Any

import pytest

from ebbline.adapters.files.library import DATA
from ebbline.core.clinic.early_stop import Suggestion, parse_early_stop, suggest_stop
from ebbline.core.errors import ClinicError, SettingError
from tests.helpers import SUBSTRATES

SHIPPED = tomllib.loads((DATA / "test_life.toml").read_text(encoding="utf-8"))
TABLE = parse_early_stop(SHIPPED, substrates=SUBSTRATES)
(RULE,) = TABLE.rules


def changed(key: str, number: int, **changes: Any) -> dict[str, Any]:
    """Return the shipped table with one row changed; a row is counted from 1."""
    table = copy.deepcopy(SHIPPED)
    table[key][number - 1] |= changes
    return table


def asked(**changes: Any) -> Suggestion | None:
    """Return the suggestion in a lactose test of 180 min that stands at 120."""
    given: dict[str, Any] = {
        "substrate": "lactose",
        "sampled_minutes": (30.0, 60.0, 90.0, 120.0),
        "met_minutes": (90.0, 120.0),
        "scored_minutes": (30.0, 60.0, 90.0, 120.0),
        "left_minutes": (150.0, 180.0),
    }
    return suggest_stop(RULE, TABLE.losses, **(given | changes))


def test_a_suggestion_says_the_rule_and_what_would_be_lost() -> None:
    """37 %: Corazza GR, et al. Ital J Gastroenterol 1990;22:303-305, abstract: 76 of 208."""
    found = asked()
    assert found is not None
    assert (found.rule, found.met, found.left) == (RULE, (90.0, 120.0), (150.0, 180.0))
    assert found.words == (
        (
            "A rule of this service is met at 90, 120 min: the last two samples are past the "
            "reporting criterion and symptoms are recorded for both."
        ),
        (
            "This is a suggestion only: the test goes on until a person stops it, and local "
            "protocol and a licensed clinician decide."
        ),
        "Stopping now loses 2 planned samples: 150, 180 min.",
        (
            "Late phase: of 208 lactose malabsorbers 76 (37 %) passed the criterion only after "
            "2 h, and the mean rise was highest at 3.5 h."
        ),
        (
            "Late phase: the peak, the time of the peak and the area would be of a part of the "
            "test only."
        ),
        "Methane: its pattern to the end of the test would not be seen.",
        "Symptoms: those that come late would not be asked for.",
    )


def test_the_share_in_the_shipped_row_is_that_of_its_counts() -> None:
    """76/208 is 37 % to the whole percent, and the row names its source."""
    (row,) = [row for row in TABLE.losses if row.id == "late-lactose"]
    assert f"76 ({100 * 76 / 208:.0f} %)" in row.says
    assert row.provenance == "read"
    assert "PMID 2134331" in row.source


def test_a_loss_that_is_for_another_sugar_is_not_listed() -> None:
    """What holds for all is."""
    found = asked(substrate="glucose")
    assert found is not None
    assert [row.id for row in found.lost] == ["late-phase", "methane", "late-symptoms"]


def test_one_sample_that_is_left_is_one_sample() -> None:
    """The words count it."""
    found = asked(left_minutes=(150.0,))
    assert found is not None
    assert found.words[2] == "Stopping now loses 1 planned sample: 150 min."


@pytest.mark.parametrize(
    "changes",
    [
        {"met_minutes": ()},
        {"met_minutes": (120.0,)},
        {"met_minutes": (60.0, 120.0)},
        {"met_minutes": (60.0, 90.0)},
        {"scored_minutes": (30.0, 60.0, 90.0)},
        {"scored_minutes": ()},
        {"left_minutes": ()},
        {"sampled_minutes": (120.0,), "met_minutes": (120.0,), "scored_minutes": (120.0,)},
        {"sampled_minutes": (), "met_minutes": (), "scored_minutes": ()},
    ],
    ids=[
        "none", "one", "not in a row", "fell back", "last not scored", "none scored",
        "nothing left", "only one sample", "no sample",
    ],
)  # fmt: skip
def test_nothing_is_suggested_while_the_rule_is_not_met(changes: dict[str, Any]) -> None:
    """A sample between that was missed, or that fell back, breaks the row."""
    assert asked(**changes) is None


def test_a_rule_that_asks_no_symptoms_is_met_without_them() -> None:
    """Its row says so."""
    table = changed("stop_rule", 1, symptoms=False, in_a_row=1)
    (rule,) = parse_early_stop(table, substrates=SUBSTRATES).rules
    found = suggest_stop(
        rule,
        (),
        substrate="lactose",
        sampled_minutes=(120.0, 90.0),
        met_minutes=(120.0,),
        scored_minutes=(),
        left_minutes=(180.0, 150.0),
    )
    assert found is not None
    assert (found.met, found.left, found.lost) == ((120.0,), (150.0, 180.0), ())


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        (
            {"met_minutes": (100.0,)},
            ("met_minutes: not a sample of this test; allowed: 30, 60, 90, 120; came: 100"),
        ),
        (
            {"scored_minutes": (5.0,)},
            "scored_minutes: not a sample of this test; allowed: 30, 60, 90, 120; came: 5",
        ),
        (
            {"sampled_minutes": ()},
            (
                "met_minutes: not a sample of this test; "
                "allowed: none, as nothing is sampled yet; came: 90"
            ),
        ),
    ],
)
def test_a_minute_that_was_not_sampled_is_refused(changes: dict[str, Any], message: str) -> None:
    """It cannot be past the criterion, nor scored."""
    with pytest.raises(ClinicError) as caught:
        asked(**changes)
    assert str(caught.value) == message


@pytest.mark.parametrize(
    ("table", "message"),
    [
        ({}, "test_life.toml, stop_rule: missing; allowed: [[stop_rule]] rows; came: nothing"),
        (
            {"stop_rule": []},
            "test_life.toml, stop_loss: missing; allowed: [[stop_loss]] rows; came: nothing",
        ),
        (
            {"stop_rule": [], "stop_loss": []},
            "test_life.toml, stop_loss: no row; allowed: one row or more; came: none",
        ),
        (
            changed("stop_rule", 1, stops=True),
            (
                "test_life.toml, stop_rule[1].stops: unknown key; "
                "allowed: id, says, in_a_row, symptoms, source or provenance; came: stops"
            ),
        ),
        (
            changed("stop_rule", 1, in_a_row=0),
            "test_life.toml, stop_rule[1].in_a_row: out of range; allowed: 1 to 20; came: 0",
        ),
        (
            changed("stop_rule", 1, in_a_row=1.5),
            (
                "test_life.toml, stop_rule[1].in_a_row: not a count; allowed: a whole number; "
                "came: 1.5"
            ),
        ),
        (
            changed("stop_rule", 1, symptoms="yes"),
            (
                "test_life.toml, stop_rule[1].symptoms: not a yes or no; allowed: true or false; "
                "came: 'yes'"
            ),
        ),
        (
            {"stop_rule": SHIPPED["stop_rule"] * 2, "stop_loss": []},
            (
                "test_life.toml, stop_rule[2].id: given twice; "
                "allowed: an id that no other row has; came: two-in-a-row"
            ),
        ),
        (
            changed("stop_loss", 2, id="late-lactose"),
            (
                "test_life.toml, stop_loss[2].id: given twice; "
                "allowed: an id that no other row has; came: late-lactose"
            ),
        ),
        (
            changed("stop_loss", 1, substrates=["honey"]),
            (
                "test_life.toml, stop_loss[1].substrates: not a list of the choices; "
                "allowed: a list of lactose, fructose, glucose, lactulose, sorbitol, sucrose, "
                "xylose or all, each once; came: ['honey']"
            ),
        ),
        (
            changed("stop_loss", 1, substrates=["lactose", "all"]),
            (
                "test_life.toml, stop_loss[1].substrates: all beside others; allowed: all alone; "
                "came: lactose or all"
            ),
        ),
        (
            changed("stop_loss", 1, provenance="hearsay"),
            (
                "test_life.toml, stop_loss[1].provenance: not one of the choices; "
                "allowed: read, memory or common practice; came: 'hearsay'"
            ),
        ),
        (
            changed("stop_loss", 1, colour="red"),
            (
                "test_life.toml, stop_loss[1].colour: unknown key; "
                "allowed: id, says, substrates, source or provenance; came: colour"
            ),
        ),
    ],
)
def test_a_table_that_cannot_be_read_is_refused(table: dict[str, Any], message: str) -> None:
    """With the row, the key, what was allowed and what came."""
    with pytest.raises(SettingError) as caught:
        parse_early_stop(table, substrates=SUBSTRATES)
    assert str(caught.value) == message
