import pytest

from ebbline.core.rules.wording import cautions_for, parse_wording
from tests.helpers import SUBSTRATES, library

TABLE = {
    "question": {"a": "the question"},
    "gas": {"h2": "H2"},
    "limit": {"flat_rise_ppm": 5.0},
    "caveat": {"rinse_once": "words"},
    "caution": [{"text": "always"}, {"text": "for two", "substrates": ["lactose", "sucrose"]}],
}


def test_words_and_limits_are_read_as_they_are_written() -> None:
    """Nothing is added and nothing is left out."""
    found = parse_wording(TABLE)
    assert found.questions == {"a": "the question"}
    assert found.gases == {"h2": "H2"}
    assert found.limits == {"flat_rise_ppm": 5.0}
    assert found.caveats == {"rinse_once": "words"}
    assert [(c.text, c.substrates) for c in found.cautions] == [
        ("always", ()),
        ("for two", ("lactose", "sucrose")),
    ]


@pytest.mark.parametrize(
    ("substrate", "texts"),
    [("lactose", ("always", "for two")), ("sucrose", ("always", "for two")),
     ("glucose", ("always",))],
)  # fmt: skip
def test_a_caution_is_shown_for_its_substrates(substrate: str, texts: tuple[str, ...]) -> None:
    """One without substrates is always shown, and the order is kept."""
    assert cautions_for(substrate, parse_wording(TABLE)) == texts


HEREDITARY = "Hereditary fructose intolerance, known or suspected"


@pytest.mark.parametrize(
    ("start", "substrates"),
    [
        (HEREDITARY, {"fructose", "sucrose", "sorbitol"}),
        ("Lactulose holds some galactose", {"lactulose"}),
        ("Galactosaemia or a galactose-free diet", {"lactose"}),
        ("Diabetes, earlier stomach or bypass surgery", {"glucose"}),
        ("Results after lactulose or glucose also reflect transit", {"lactulose", "glucose"}),
        ("This supports a trained operator", set(SUBSTRATES)),
        ("A negative test does not exclude disease", set(SUBSTRATES)),
        ("No antibiotic and no long-term exclusion diet", set(SUBSTRATES)),
        ("Weight loss, bleeding, anaemia", set(SUBSTRATES)),
        ("Not valid with a failed or expired analyser check", set(SUBSTRATES)),
    ],
)
def test_each_bundled_caution_is_shown_for_its_substrates_and_no_others(
    start: str, substrates: set[str]
) -> None:
    """Hazards of a sugar stand on the report of that sugar."""
    wording = library().wording
    shown = {
        substrate
        for substrate in SUBSTRATES
        if any(text.startswith(start) for text in cautions_for(substrate, wording))
    }
    assert shown == substrates


def test_every_bundled_caution_is_tried_above() -> None:
    """Ten of them; a new one needs a row in that table."""
    assert len(library().wording.cautions) == 10
