"""Interpret curve files: all of them are read before anything is answered."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from ebbline.core.curve.breath_test import BreathTest
from ebbline.core.curve.protocol import with_planned_samples
from ebbline.core.errors import InputError
from ebbline.core.rules.grammar import RuleSet
from ebbline.core.rules.interpret import interpret
from ebbline.core.rules.interpretation import Interpretation
from ebbline.services.choose_rules import choose_rules
from ebbline.services.choose_settings import choose_settings
from ebbline.services.library import Library
from ebbline.services.overrides import Overrides
from ebbline.services.ports import CurveReader, FastingCheck, RuleReader


@dataclass(frozen=True, slots=True)
class InterpretTests:
    """The use case, with what it needs from outside."""

    library: Library
    read_curve: CurveReader
    check_fasting: FastingCheck
    read_rules: RuleReader

    def __call__(
        self, names: Sequence[str], *, overrides: Overrides, rules: tuple[str, ...]
    ) -> list[Interpretation]:
        """Return one interpretation a file, in the order given.

        Parameters
        ----------
        names : sequence of str
            Names of curve files.
        overrides : Overrides
            What a person gave beside them; it overrides the files' heads.
        rules : tuple of str
            Ids of rule sets or names of rule files; empty for all of the service.

        Returns
        -------
        list of Interpretation

        Raises
        ------
        InputError
            If any file is refused; then nothing of the others is answered either.
        RuleError
            If a rule set is refused.
        """
        tests = [self.read_curve(name, overrides) for name in names]
        return [self._interpret(test, rules) for test in tests]

    def _interpret(self, test: BreathTest, rules: tuple[str, ...]) -> Interpretation:
        protocol = self.library.protocols.get(test.protocol or "")
        if protocol is not None:
            test = with_planned_samples(test, protocol)
        elif test.protocol is not None:
            test = replace(test, unused={**test.unused, "protocol": test.protocol})
        rule_sets, criterion = choose_rules(test, rules, self.library, self.read_rules)
        used = [rule_set for rule_set in rule_sets if rule_set.covers(test.substrate)]
        if not used:
            raise InputError(
                f"{test.file}: no rule set asked for covers {test.substrate}; allowed: a rule set "
                f"that does; came: {', '.join(rule_set.id for rule_set in rule_sets)}"
            )
        if any(_asks_for_a_rise(rule_set, test.substrate) for rule_set in used):
            self.check_fasting(test)
        return interpret(
            test,
            rule_sets=rule_sets,
            criterion=criterion,
            settings=choose_settings(test, self.library),
            substrates=self.library.substrates,
            wording=self.library.wording,
            transit=self.library.transit,
            engine=self.library.engine,
        )


def _asks_for_a_rise(rule_set: RuleSet, substrate: str) -> bool:
    return any(
        statement.measure != "level" and substrate in statement.substrates
        for statement in rule_set.statements
    )
