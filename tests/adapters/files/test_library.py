"""Everything under data/ is read, and is what it should be."""

from ebbline.adapters.files.library import DATA, load_library
from ebbline.core.rules.caveats import QUESTIONS_TO_THE_CURVE

ASKED_FOR = (
    "north-american-2017",
    "acg-2020",
    "european-2022",
    "rome-2009",
    "espghan-2022",
    "german-2005",
    "asian-pacific-2022",
    "kerlin-wong-1988",
    "eisenmann-2008",
    "hovde-farup-2009",
)


def test_every_rule_file_is_in_the_service_and_has_the_name_of_its_set() -> None:
    """No file lies unused beside the others."""
    library = load_library()
    ids = [rule_set.id for rule_set in library.rule_sets]
    assert sorted(ids) == sorted(path.stem for path in (DATA / "rules").glob("*.toml"))
    assert ids[: len(ASKED_FOR)] == list(ASKED_FOR)


def test_the_criterion_is_one_that_may_be_adopted() -> None:
    """Every row of it was read in the paper."""
    library = load_library()
    (criterion,) = [one for one in library.rule_sets if one.id == library.criterion]
    assert criterion.unchecked == ()
    assert {row.provenance for row in criterion.statements} == {"read"}


def test_a_rule_from_memory_is_never_marked_otherwise() -> None:
    """Rows that nobody has read keep the word that says so."""
    library = load_library()
    memory = {rule_set.id: rule_set.unchecked for rule_set in library.rule_sets}
    assert memory["eisenmann-2008"] == ("h2-rise-overgrowth",)
    assert memory["rome-2009"] == ("h2-rise-lactose", "h2-rise-glucose")
    assert memory["kerlin-wong-1988"] == memory["hovde-farup-2009"] == ()


def test_the_dilution_references_are_those_of_common_practice() -> None:
    """Ambient 20.9 % and alveolar 13.9 % O2, 5.0 % CO2: common practice, no source."""
    markers = load_library().markers
    assert (markers["o2"].ambient_pct, markers["o2"].alveolar_pct) == (20.9, 13.9)
    assert markers["co2"].alveolar_pct == 5.0


def test_typical_noise_says_that_it_is_typical() -> None:
    """A = 1.5 ppm and b = 0.10, from memory."""
    library = load_library()
    assert (library.noise.ppm, library.noise.fraction) == (1.5, 0.10)
    assert "not measured on this analyser" in library.noise_source


def test_every_word_that_caveats_ask_for_is_there() -> None:
    """Names in code and in data/wording.toml are the same."""
    wording = load_library().wording
    asked = {
        name
        for ask in QUESTIONS_TO_THE_CURVE
        for name in ask.__code__.co_consts
        if isinstance(name, str) and name in wording.caveats
    }
    assert asked <= set(wording.caveats)
    assert len(asked) >= 9
