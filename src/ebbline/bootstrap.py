"""The composition root: settings in, wired application out. Nothing happens at import."""

import os
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo, available_timezones

from ebbline.adapters.files.curve_file import check_fasting, read_curve
from ebbline.adapters.files.library import DATA, load_library
from ebbline.adapters.files.rule_file import read_rule_file
from ebbline.adapters.files.trace_file import read_trace
from ebbline.core.breath.trace import Channel
from ebbline.core.curve.breath_test import BreathTest
from ebbline.core.errors import EbblineError
from ebbline.core.rules.grammar import RuleSet
from ebbline.core.rules.interpretation import Interpretation
from ebbline.services.check_profile import CheckProfile
from ebbline.services.interpret_tests import InterpretTests
from ebbline.services.library import Library
from ebbline.services.overrides import Overrides
from ebbline.services.ports import Instrument, Paper, RuleReader
from ebbline.services.prepare_cycle import Said

if TYPE_CHECKING:
    from ebbline.adapters.sql.record import SqlRecord
    from ebbline.core.clinic.sheet import Sheet
    from ebbline.services.clinic.access.access_ports import Door
    from ebbline.services.clinic.report.issue import DrawReport, Issue
    from ebbline.services.fit_step import FitStep
    from ebbline.services.listen import Listening
    from ebbline.services.reduce_traces import ReducedTrace, ReduceTraces

PICTURE_WIDTH = 760.0
"""Width of a trace's picture, px."""

RECORD_WAIT_S = 10.0
"""How long to wait for another writer of the record, or for its server, s."""


@dataclass(frozen=True, slots=True)
class Certificate:
    """The certificate of the service that signs PDFs: a PKCS#12 archive, and its password."""

    archive: bytes = field(repr=False)
    password: str = field(repr=False)


@dataclass(frozen=True, slots=True)
class Application:
    """Everything that an entrance (command line, later the bench) may call."""

    library: Library
    interpret_tests: InterpretTests
    read_rules: RuleReader
    check_profile: CheckProfile

    @property
    def reduce_traces(self) -> "ReduceTraces":
        """The use case that reduces trace files."""
        # It loads scipy, which an interpretation does not need.
        from ebbline.services.reduce_traces import ReduceTraces

        return ReduceTraces(self.library, read_trace, read_instrument)

    def fit_step(self, *, log_profile: str | None) -> "FitStep":
        """Return the use case that fits a step in a trace file or, with its profile, a raw log."""
        from ebbline.services.fit_step import FitStep

        if log_profile is None:
            return FitStep(read_trace)
        from ebbline.adapters.instrument.logged_trace import read_logged_trace
        from ebbline.adapters.instrument.profile_file import read_profile

        profile = read_profile(profile_named(log_profile))
        return FitStep(lambda name: read_logged_trace(name, profile))

    def try_line(self, profile: str, line: str) -> Mapping[Channel, float] | str:
        """Return what a profile reads from a line, NaN for no value, or why it reads nothing."""
        from ebbline.adapters.instrument.lines import Unreadable, parse_line
        from ebbline.adapters.instrument.profile_file import read_profile

        found = parse_line(line, read_profile(profile_named(profile)))
        if found is None:
            return "the profile ignores it"
        return found.words if isinstance(found, Unreadable) else found.values

    def listen(self, profile: str, *, said: Said, keep: str | None) -> "Listening":
        """Return cycles on an analyser; ``keep`` is the folder for raw log and traces, or None."""
        from ebbline.adapters.files.trace_keeper import FolderKeeper
        from ebbline.adapters.instrument.listener import Listener
        from ebbline.adapters.instrument.profile_file import read_profile
        from ebbline.adapters.instrument.raw_log import RawLog, utc_now
        from ebbline.services.listen import Listening

        instrument = read_profile(profile_named(profile))
        keeper = None if keep is None else FolderKeeper(Path(keep), utc_now)
        log = None
        if keeper is not None:
            log = RawLog(keeper.new_path(".log"), name=instrument.name)
        source = Listener(instrument, log=log)
        try:
            return Listening(
                library=self.library,
                instrument=instrument,
                said=said,
                source=source,
                keep=keeper,
            )
        except EbblineError:
            source.close()
            raise

    def draw_trace(self, reduced: "ReducedTrace") -> str:
        """Return the picture of a trace file and what it was reduced to, as SVG."""
        from ebbline.adapters.chart.theme import PRINT
        from ebbline.adapters.chart.trace_chart import trace_svg

        assert reduced.trace is not None
        return trace_svg(
            reduced.trace,
            reduced.reduction,
            sensors=reduced.sensors,
            dilution=reduced.dilution,
            title=f"{reduced.file}: {reduced.instrument}",
            invented=reduced.invented,
            width=PICTURE_WIDTH,
            theme=PRINT,
        )

    def write_report(
        self, interpretation: Interpretation, *, paper: Paper, issue: "Issue | None" = None
    ) -> bytes:
        """Return the report of an interpretation as PDF; ``issue`` is for a test of the record."""
        # Typesetting is loaded when the first report is asked for: answers in text start faster.
        from ebbline.adapters.pdf.report import write_report

        return write_report(interpretation, paper=paper, issue=issue)


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
        check_profile=CheckProfile(library, read_instrument),
    )


def read_instrument(name: str) -> Instrument:
    """Return the profile of an analyser."""
    # Links are loaded when the first profile is asked for: other commands start faster.
    from ebbline.adapters.instrument.profile_file import read_profile

    return read_profile(profile_named(name))


def profile_named(name: str) -> str:
    """Return the file of a profile: the one of that name, else an invented one that is bundled."""
    bundled = {path.stem: str(path) for path in (DATA / "profiles").glob("*.toml")}
    return name if Path(name).exists() else bundled.get(name, name)


def demo_files() -> list[str]:
    """Return the curve files of the bundled clinic, all invented."""
    return [str(path) for path in sorted((DATA / "clinic").glob("*.csv"))]


def utc_now() -> datetime:
    """Return the time by the computer's clock."""
    return datetime.now(UTC)


def local_zone() -> str:
    """Return the computer's time zone by its IANA name; UTC where it has none by name."""
    place = os.environ.get("TZ", "").removeprefix(":") or str(Path("/etc/localtime").resolve())
    name = place.rpartition("zoneinfo/")[2]
    return name if name in available_timezones() else "UTC"


def record_at(where: str) -> "SqlRecord":
    """Return the record at an address, whether there is one yet or not."""
    # The database's library is loaded when a record is asked for: other commands start faster.
    from ebbline.adapters.sql.engine import record_url
    from ebbline.adapters.sql.record import SqlRecord

    return SqlRecord(record_url(where), now=utc_now, zone=local_zone(), wait_s=RECORD_WAIT_S)


def door_of(record: "SqlRecord") -> "Door":
    """Return the clinic over a record, with what says who may come in."""
    from ebbline.adapters.files.clinic_rules import load_clinic_rules
    from ebbline.adapters.files.documents import DataDocuments
    from ebbline.adapters.files.library import data_table
    from ebbline.adapters.passwords import Argon2Passwords
    from ebbline.adapters.sql.access import SqlAccess
    from ebbline.core.clinic.access_table import parse_access
    from ebbline.services.clinic.access.access_ports import Door
    from ebbline.services.clinic.desk import Clinic

    library = load_library()
    return Door(
        clinic=Clinic(
            record=record,
            documents=DataDocuments(library.substrates),
            library=library,
            rules=load_clinic_rules(library),
            zone=ZoneInfo(local_zone()),
        ),
        access=SqlAccess(record, now=utc_now),
        passwords=Argon2Passwords(),
        rules=parse_access(data_table("access")),
    )


def report_drawer(*, paper: Paper, certificate: Certificate | None) -> "DrawReport":
    """Return what draws a report of the record; what a reviewer signs bears the certificate too."""

    def draw(interpretation: Interpretation, issue: "Issue") -> bytes:
        # Typesetting is loaded when the first report is asked for: other commands start faster.
        from ebbline.adapters.pdf.report import write_report

        pages = write_report(interpretation, paper=paper, issue=issue)
        if certificate is None or not issue.signer:
            return pages
        from ebbline.adapters.pdf.sign import sign_pdf

        return sign_pdf(
            pages,
            certificate=certificate.archive,
            password=certificate.password,
            reason=f"report {issue.name}",
            name=issue.signer,
            at=issue.at,
        )

    return draw


def draw_sheet(sheet: "Sheet", *, paper: Paper, created: datetime) -> bytes:
    """Return a preparation sheet as PDF."""
    from ebbline.adapters.pdf.sheet import write_sheet

    return write_sheet(sheet, paper=paper, created=created)
