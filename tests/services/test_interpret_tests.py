from dataclasses import replace

import pytest

from ebbline.core.curve.breath_test import BreathTest
from ebbline.core.errors import AdoptionError, InputError, RuleError
from ebbline.core.rules.grammar import RuleSet
from ebbline.core.rules.interpretation import Interpretation
from ebbline.services.interpret_tests import InterpretTests
from ebbline.services.overrides import Overrides
from tests.helpers import build_test, library, rule_set, statement_row

NOTHING = Overrides()
LEVELS = rule_set(
    statement_row(gas="ch4", measure="level", threshold_ppm=10, question="methanogen-overgrowth"),
    id="levels",
)


class Files:
    """Curve files that are not on a disk, and what was asked of them."""

    def __init__(self, *tests: BreathTest) -> None:
        self.tests = {test.file: test for test in tests}
        self.read: list[tuple[str, Overrides]] = []
        self.checked: list[str] = []

    def read_curve(self, name: str, overrides: Overrides) -> BreathTest:
        self.read.append((name, overrides))
        if name not in self.tests:
            raise InputError(f"{name}: no such file; allowed: a curve file; came: nothing")
        return self.tests[name]

    def check_fasting(self, test: BreathTest) -> None:
        self.checked.append(test.file)
        if not any(one.minute <= 0.0 for one in test.tries):
            raise InputError(f"{test.file}: no reading at minute 0 or before")

    def read_rules(self, name: str) -> RuleSet:
        return LEVELS


def lactose(file: str = "a.csv", *, minutes: tuple[float, ...] = (0, 90, 180)) -> BreathTest:
    """Return a plain test under a file name."""
    return replace(build_test(minutes, [5, 30, 9], [1, 2, 1]), file=file)


def run(
    files: Files, *names: str, rules: tuple[str, ...] = (), overrides: Overrides = NOTHING
) -> list[Interpretation]:
    """Interpret files."""
    use_case = InterpretTests(library(), files.read_curve, files.check_fasting, files.read_rules)
    return use_case(names, overrides=overrides, rules=rules)


def test_files_are_answered_in_the_order_given() -> None:
    """One interpretation each."""
    files = Files(lactose("a.csv"), lactose("b.csv"))
    assert [result.test.file for result in run(files, "b.csv", "a.csv")] == ["b.csv", "a.csv"]


def test_what_a_person_says_is_handed_to_the_reader() -> None:
    """It overrides the file's head there."""
    files = Files(lactose())
    said = Overrides(baseline="last")
    run(files, "a.csv", overrides=said)
    assert files.read == [("a.csv", said)]


def test_one_file_that_is_refused_leaves_all_unanswered() -> None:
    """All are read before anything is answered."""
    files = Files(lactose())
    with pytest.raises(InputError, match=r"b\.csv: no such file"):
        run(files, "a.csv", "b.csv")
    assert files.checked == []


def test_the_criterion_of_the_service_leads() -> None:
    """Marked as adopted."""
    (result,) = run(Files(lactose()), "a.csv")
    assert [used.id for used in result.rule_sets if used.adopted] == ["north-american-2017"]
    assert result.engine == library().engine


def test_rule_sets_that_do_not_cover_the_substrate_are_refused_together() -> None:
    """One that does would have been enough."""
    with pytest.raises(InputError) as caught:
        run(Files(lactose()), "a.csv", rules=("kerlin-wong-1988", "asian-pacific-2022"))
    assert str(caught.value) == (
        "a.csv: no rule set asked for covers lactose; allowed: a rule set that does; "
        "came: kerlin-wong-1988, asian-pacific-2022"
    )
    (result,) = run(Files(lactose()), "a.csv", rules=("kerlin-wong-1988", "rome-2009"))
    assert [used.id for used in result.rule_sets] == ["rome-2009"]


def test_a_rule_set_that_is_not_known_is_refused() -> None:
    """Before anything is judged."""
    with pytest.raises(RuleError, match="no such rule set"):
        run(Files(lactose()), "a.csv", rules=("nobody",))


def test_a_criterion_from_memory_in_the_head_is_refused() -> None:
    """Adoption needs a confirmation in the rule file."""
    test = replace(lactose(), facts={"criterion": "rome-2009"})
    with pytest.raises(AdoptionError, match="rome-2009"):
        run(Files(test), "a.csv")


def test_a_test_without_a_fasting_reading_is_refused_where_a_rise_is_asked_for() -> None:
    """There would be nothing to count from."""
    with pytest.raises(InputError, match="no reading at minute 0 or before"):
        run(Files(lactose(minutes=(15, 90, 180))), "a.csv")


def test_a_test_without_a_fasting_reading_is_answered_where_only_levels_are_asked_for() -> None:
    """A level counts from nothing."""
    files = Files(lactose(minutes=(15, 90, 180)))
    (result,) = run(files, "a.csv", rules=("levels.toml",))
    assert files.checked == []
    assert [finding.finding for finding in result.findings] == ["negative"]


def test_planned_samples_of_a_known_protocol_without_a_row_are_missed() -> None:
    """They are among what does not count; an unknown protocol says nothing."""
    known = replace(lactose(), protocol="lactose-180")
    (result,) = run(Files(known), "a.csv")
    assert [(row.minute, row.reason) for row in result.not_counted] == [
        (30, "missed"), (60, "missed"), (120, "missed"), (150, "missed"),
    ]  # fmt: skip
    (plain,) = run(Files(replace(lactose(), protocol="of our own")), "a.csv")
    assert plain.not_counted == ()
    assert plain.test.unused == {"protocol": "of our own"}
    assert result.test.unused == {}


def test_a_protocol_for_another_substrate_is_refused() -> None:
    """A slip in the head."""
    with pytest.raises(InputError, match="protocol glucose-120 does not fit"):
        run(Files(replace(lactose(), protocol="glucose-120")), "a.csv")


def test_settings_come_from_the_head_of_the_file() -> None:
    """The baseline rule that the test names is the one computed with."""
    test = replace(build_test([-10, 0, 90, 180], [4, 10, 25, 9]), file="a.csv",
                   facts={"baseline": "last"})  # fmt: skip
    (result,) = run(Files(test), "a.csv")
    assert (result.settings.baseline, result.measures["h2_ppm"].baseline) == ("last", 10.0)
