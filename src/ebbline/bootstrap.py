"""The composition root: settings in, wired application out. Nothing happens at import."""

from dataclasses import dataclass
from pathlib import Path

from ebbline.adapters.files.curve_file import check_fasting, read_curve
from ebbline.adapters.files.library import DATA, load_library
from ebbline.adapters.files.rule_file import read_rule_file
from ebbline.core.curve.breath_test import BreathTest
from ebbline.core.rules.grammar import RuleSet
from ebbline.core.rules.interpretation import Interpretation
from ebbline.services.interpret_tests import InterpretTests
from ebbline.services.library import Library
from ebbline.services.overrides import Overrides
from ebbline.services.ports import Paper, RuleReader


@dataclass(frozen=True, slots=True)
class Application:
    """Everything that an entrance (command line, later the bench) may call."""

    library: Library
    interpret_tests: InterpretTests
    read_rules: RuleReader

    def write_report(self, interpretation: Interpretation, *, paper: Paper) -> bytes:
        """Return the report of an interpretation as PDF."""
        # Typesetting is loaded when the first report is asked for: answers in text start faster.
        from ebbline.adapters.pdf.report import write_report

        return write_report(interpretation, paper=paper)


def build() -> Application:
    """Return the application over the bundled rows and the local file system."""
    library = load_library()

    def read_rules(name: str) -> RuleSet:
        return read_rule_file(Path(name), substrates=library.substrates)

    def read(name: str, overrides: Overrides) -> BreathTest:
        return read_curve(name, overrides=overrides, substrates=library.substrates)

    def fasting(test: BreathTest) -> None:
        check_fasting(test, test.file)

    return Application(
        library=library,
        interpret_tests=InterpretTests(library, read, fasting, read_rules),
        read_rules=read_rules,
    )


def demo_files() -> list[str]:
    """Return the curve files of the bundled clinic, all invented."""
    return [str(path) for path in sorted((DATA / "clinic").glob("*.csv"))]
