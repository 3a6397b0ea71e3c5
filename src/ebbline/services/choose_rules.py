"""Choose the rule sets that judge a test, and which of them is the reporting criterion."""

from ebbline.core.curve.breath_test import BreathTest
from ebbline.core.errors import RuleError, list_allowed
from ebbline.core.rules.grammar import RuleSet
from ebbline.core.rules.interpret import check_adoption
from ebbline.services.library import Library
from ebbline.services.ports import RuleReader


def choose_rules(
    test: BreathTest, rules: tuple[str, ...], library: Library, read_rules: RuleReader
) -> tuple[tuple[RuleSet, ...], str | None]:
    """Return the rule sets in order of showing, and the id of the reporting criterion.

    Without a choice all rule sets of the service are shown, except those written for children where
    the patient is known to be an adult, and the other way round. The criterion is the one that the
    test names, else the service's own if it is among those shown, else the first one shown that may
    be adopted.

    Parameters
    ----------
    test : BreathTest
        Its facts may name a criterion.
    rules : tuple of str
        Ids, or names of rule files (ending in .toml), in the order in which to show them.
    library : Library
        The service's rule sets.
    read_rules : RuleReader
        Reads a rule file.

    Returns
    -------
    rule_sets : tuple of RuleSet
    criterion : str or None

    Raises
    ------
    RuleError
        If an id is not known, or a file cannot be read.
    AdoptionError
        If the criterion asked for holds a row that nobody has checked.
    """
    shown = _each_once([find_rule_set(name, library, read_rules) for name in rules])
    if not shown:
        shown = tuple(one for one in library.rule_sets if _written_for(one, test, library))
    asked = test.facts.get("criterion")
    if asked is None:
        return shown, _usual(shown, library)
    chosen = find_rule_set(asked, library, read_rules)
    check_adoption(chosen)
    if chosen.id not in [rule_set.id for rule_set in shown]:
        shown = (chosen, *shown)
    return shown, chosen.id


def _usual(shown: tuple[RuleSet, ...], library: Library) -> str | None:
    ids = [rule_set.id for rule_set in shown]
    if library.criterion in ids:
        return library.criterion
    return next((rule_set.id for rule_set in shown if not rule_set.unchecked), None)


def _each_once(rule_sets: list[RuleSet]) -> tuple[RuleSet, ...]:
    """Return rule sets without repeats; two different ones of one id cannot be told apart."""
    by_id: dict[str, RuleSet] = {}
    for rule_set in rule_sets:
        if by_id.setdefault(rule_set.id, rule_set) != rule_set:
            raise RuleError(
                file="rule sets",
                key="id",
                wrong="two different rule sets of one id",
                allowed="an id for each",
                came=rule_set.id,
                line=None,
            )
    return tuple(by_id.values())


def _written_for(rule_set: RuleSet, test: BreathTest, library: Library) -> bool:
    """Whether a rule set was written for people of this age, as far as it is known."""
    if test.age_years is None or rule_set.population == "any":
        return True
    adult = test.age_years >= library.wording.limits["adult_years"]
    return adult == (rule_set.population == "adults")


def find_rule_set(name: str, library: Library, read_rules: RuleReader) -> RuleSet:
    """Return a rule set by its id, or from a file where the name ends in .toml.

    Parameters
    ----------
    name : str
        The id, or the name of the file.
    library : Library
        The service's rule sets.
    read_rules : RuleReader
        Reads a rule file.

    Returns
    -------
    RuleSet

    Raises
    ------
    RuleError
        If there is no such rule set, or the file cannot be read.
    """
    if name.endswith(".toml"):
        return read_rules(name)
    for rule_set in library.rule_sets:
        if rule_set.id == name:
            return rule_set
    raise RuleError(
        file="rule sets",
        key="id",
        wrong="no such rule set",
        allowed=f"{list_allowed([r.id for r in library.rule_sets])}, or a file ending in .toml",
        came=name,
        line=None,
    )
