import contextlib
from dataclasses import replace

import pytest

from ebbline.core.curve.breath_test import BreathTest
from ebbline.core.errors import AdoptionError, RuleError
from ebbline.core.rules.grammar import RuleSet
from ebbline.services.choose_rules import choose_rules, find_rule_set
from ebbline.services.library import Library
from tests.helpers import build_test, library, rule_set, statement_row

CONSENSUS, KERLIN, ROME = "north-american-2017", "kerlin-wong-1988", "rome-2009"
OWN = rule_set(id="own-file", title="From a file")


def no_file(name: str) -> RuleSet:
    """Refuse to read any file."""
    raise AssertionError(name)


def read_file(name: str) -> RuleSet:
    """Read the one file there is."""
    assert name == "own.toml"
    return OWN


def a_test(criterion: str | None = None) -> BreathTest:
    """Return a test whose head may name a criterion."""
    return build_test([0], [5], facts={} if criterion is None else {"criterion": criterion})


def chosen(
    *rules: str, criterion: str | None = None, at: Library | None = None
) -> tuple[list[str], str | None]:
    """Return the ids of the rule sets shown, and the criterion."""
    shown, adopted = choose_rules(a_test(criterion), rules, at or library(), read_file)
    return [found.id for found in shown], adopted


def test_without_a_choice_all_rule_sets_of_the_service_are_shown_in_its_order() -> None:
    """With the service's own criterion."""
    assert chosen() == ([found.id for found in library().rule_sets], CONSENSUS)


@pytest.mark.parametrize(
    ("age", "left_out"),
    [(17.9, {"adults"}), (18.0, {"children"}), (None, set())],
)
def test_without_a_choice_sets_for_another_age_are_not_shown(
    age: float | None, left_out: set[str]
) -> None:
    """From 18 years on a patient is an adult; where the age is not known all are shown."""
    sets = tuple(rule_set(id=f"for-{who}", population=who) for who in ("any", "adults", "children"))
    at = replace(library(), rule_sets=sets)
    test = replace(a_test(), age_years=age)
    shown, _ = choose_rules(test, (), at, no_file)
    assert {found.population for found in shown} == {"any", "adults", "children"} - left_out


def test_a_set_for_another_age_that_is_asked_for_is_shown() -> None:
    """Its findings then say whom it was written for."""
    test = replace(a_test(), age_years=41.0)
    shown, _ = choose_rules(test, ("espghan-2022",), library(), no_file)
    assert [found.id for found in shown] == ["espghan-2022"]


def test_rule_sets_are_shown_in_the_order_asked_for() -> None:
    """The service's criterion keeps its part wherever it stands."""
    assert chosen(ROME, CONSENSUS) == ([ROME, CONSENSUS], CONSENSUS)


def test_without_the_service_s_criterion_the_first_that_may_be_adopted_leads() -> None:
    """One with rows from memory is passed over."""
    assert chosen(ROME, KERLIN) == ([ROME, KERLIN], KERLIN)


def test_no_criterion_leads_where_none_of_those_shown_may() -> None:
    """None is better than one that nobody has checked."""
    assert chosen(ROME, "eisenmann-2008") == ([ROME, "eisenmann-2008"], None)


def test_the_criterion_that_the_test_names_leads() -> None:
    """Before the service's own."""
    assert chosen(CONSENSUS, KERLIN, criterion=KERLIN) == ([CONSENSUS, KERLIN], KERLIN)


def test_a_criterion_outside_those_shown_is_shown_first() -> None:
    """What leads the report cannot be left out of it."""
    assert chosen(ROME, criterion=KERLIN) == ([KERLIN, ROME], KERLIN)


def test_a_file_may_be_shown_and_may_lead() -> None:
    """A name that ends in .toml is read as a file."""
    assert chosen("own.toml", ROME) == (["own-file", ROME], "own-file")
    assert chosen("own.toml", criterion="own.toml") == (["own-file"], "own-file")
    assert chosen(ROME, criterion="own.toml") == (["own-file", ROME], "own-file")


@pytest.mark.parametrize("as_criterion", [True, False])
def test_an_id_that_is_not_known_is_refused_with_those_that_are(as_criterion: bool) -> None:
    """Whether it was to be shown or to lead."""
    rules, criterion = ((), "rome") if as_criterion else (("rome",), None)
    with pytest.raises(RuleError) as caught:
        chosen(*rules, criterion=criterion)
    ids = [found.id for found in library().rule_sets]
    assert str(caught.value) == (
        f"rule sets, key id: no such rule set; allowed: {', '.join(ids[:-1])} or {ids[-1]}, or a "
        "file ending in .toml; came: rome"
    )


def test_a_criterion_with_rows_from_memory_is_refused() -> None:
    """Asking for it in the head of a file does not check it."""
    with pytest.raises(AdoptionError) as caught:
        chosen(criterion=ROME)
    assert str(caught.value) == (
        "rome-2009, key provenance: cannot be the reporting criterion while rows are not checked "
        "against the paper; allowed: confirmed_by and confirmed_on in each such row; came: memory "
        "in h2-rise-lactose, h2-rise-glucose"
    )


def test_a_bundled_rule_set_needs_no_file() -> None:
    """It is at hand."""
    assert find_rule_set(KERLIN, library(), no_file).id == KERLIN


def test_a_rule_set_that_is_asked_for_twice_is_shown_once_or_refused() -> None:
    """Two columns of the same findings would look like two opinions."""
    shown: list[str] = []
    with contextlib.suppress(RuleError):
        shown, _ = chosen(CONSENSUS, CONSENSUS)
    assert shown in ([], [CONSENSUS])


def test_a_file_that_has_the_id_of_another_rule_set_shown_is_refused() -> None:
    """Findings go by the id of their rule set, so two of one id cannot be told apart."""
    twin = replace(OWN, id=KERLIN)

    def read_twin(name: str) -> RuleSet:
        return twin

    with pytest.raises(RuleError, match=KERLIN):
        choose_rules(a_test(), (KERLIN, "own.toml"), library(), read_twin)


def test_the_service_s_criterion_is_not_looked_for_among_other_services_sets() -> None:
    """A service that shows one set of its own adopts that one."""
    only = replace(library(), rule_sets=(OWN,), criterion="own-file")
    assert chosen(at=only) == (["own-file"], "own-file")
    unchecked = rule_set(statement_row(provenance="memory"), id="memory")
    none = replace(library(), rule_sets=(unchecked,), criterion="elsewhere")
    assert chosen(at=none) == (["memory"], None)
