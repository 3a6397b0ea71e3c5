"""The whole error family, split by whose fault it is.

    EbblineError
    ├── InputError          what was given: a curve file, a reading, a command's option
    │   ├── TableFileError  one cell or line of a file that is a table
    │   │   ├── CurveFileError
    │   │   └── TraceFileError
    │   └── FieldError      one field of what a person entered
    ├── SettingError        a number that the service sets: limits, references, noise
    │   └── ProfileError    one key of an instrument's profile
    ├── RuleError           a rule set that cannot be read
    │   └── AdoptionError   a rule set that may not be the reporting criterion yet
    ├── InstrumentError     a link to an analyser that cannot be opened or was lost
    ├── ReportError         a report that could not be drawn
    ├── ClinicError         a rule of the clinic forbids what was asked
    │   ├── SafetyError     a drink that may not be given, or not without a decision
    │   └── AccessError     a person who may not do this, or is not known
    └── RecordError         the record itself
        ├── ConflictError   somebody else changed the same thing meanwhile
        ├── UnavailableError  it cannot be read or written now: disk, lock or server
        └── BrokenRecordError  it does not verify, or is not a record of ebbline

Each message says what was wrong, what was allowed and what came. ``exit_code`` is what the command
line ends with: 2 for input, 3 for a rule set, 4 for an instrument, 5 for the record, 6 for a rule
of the clinic (docs/reference/errors.md).
"""

from collections.abc import Iterable
from typing import Any


class EbblineError(Exception):
    """Base of every error that ebbline raises on purpose."""

    exit_code = 1


class InputError(EbblineError):
    """Something that was given cannot be used; nothing of it was kept."""

    exit_code = 2


def _rebuild(kind: type[EbblineError], fields: dict[str, Any]) -> EbblineError:
    """Make an error again from its attributes, as pickle needs for keyword-only arguments."""
    return kind(**fields)


class TableFileError(InputError):
    """A file is refused whole because of one line, column or cell of it.

    Parameters
    ----------
    file : str
        Name of the file as the user gave it.
    wrong, allowed, came : str
        What was wrong, what is allowed there, what came.
    row : int or None
        Line number in the file, counted from 1; None where no one line is at fault.
    column : str or None
        Name of the column; None where no one column is at fault.
    """

    def __init__(
        self,
        *,
        file: str,
        wrong: str,
        allowed: str,
        came: str,
        row: int | None = None,
        column: str | None = None,
    ) -> None:
        self.file = file
        self.row = row
        self.column = column
        self.wrong = wrong
        self.allowed = allowed
        self.came = came
        place = [file]
        if row is not None:
            place.append(f"row {row}")
        if column is not None:
            place.append(f"column {column}")
        super().__init__(f"{', '.join(place)}: {wrong}; allowed: {allowed}; came: {came}")

    def __reduce__(self) -> tuple[Any, ...]:
        """Let the error travel between processes with its attributes."""
        return _rebuild, (type(self), dict(self.__dict__))


class CurveFileError(TableFileError):
    """A curve file is refused."""


class TraceFileError(TableFileError):
    """A trace file is refused."""


class FieldError(InputError):
    """One field of what a person entered cannot be used; nothing of the whole was stored.

    Parameters
    ----------
    field : str
        The field, such as ``weight_kg``.
    wrong, allowed, came : str
        What was wrong, what is allowed there, what came.
    """

    def __init__(self, *, field: str, wrong: str, allowed: str, came: str) -> None:
        self.field = field
        self.wrong = wrong
        self.allowed = allowed
        self.came = came
        super().__init__(f"{field}: {wrong}; allowed: {allowed}; came: {came}")

    def __reduce__(self) -> tuple[Any, ...]:
        """Let the error travel between processes with its attributes."""
        return _rebuild, (type(self), dict(self.__dict__))


class SettingError(EbblineError):
    """A setting is outside what can be computed with."""

    exit_code = 2


class ProfileError(SettingError):
    """An instrument's profile is refused.

    Parameters
    ----------
    file : str
        Name of the profile as the user gave it.
    key : str
        The key at fault, with its table, such as ``link.speed``; empty where none is.
    wrong, allowed, came : str
        What was wrong, what is allowed there, what came.
    """

    def __init__(self, *, file: str, key: str, wrong: str, allowed: str, came: str) -> None:
        self.file = file
        self.key = key
        self.wrong = wrong
        self.allowed = allowed
        self.came = came
        place = f"{file}, key {key}" if key else file
        super().__init__(f"{place}: {wrong}; allowed: {allowed}; came: {came}")

    def __reduce__(self) -> tuple[Any, ...]:
        """Let the error travel between processes with its attributes."""
        return _rebuild, (type(self), dict(self.__dict__))


class InstrumentError(EbblineError):
    """A link to an analyser cannot be opened, or was lost for good."""

    exit_code = 4


class RuleError(EbblineError):
    """A rule set is refused, with its line, key and what was allowed.

    Parameters
    ----------
    file : str
        Name of the rule file.
    key : str
        The key at fault, as a path such as ``statement[2].threshold_ppm``.
    wrong, allowed, came : str
        What was wrong, what is allowed there, what came.
    line : int or None
        Line in the file, counted from 1, where it is known.
    """

    exit_code = 3

    def __init__(
        self, *, file: str, key: str, wrong: str, allowed: str, came: str, line: int | None
    ) -> None:
        self.file = file
        self.key = key
        self.line = line
        self.wrong = wrong
        self.allowed = allowed
        self.came = came
        place = file if line is None else f"{file}, line {line}"
        super().__init__(f"{place}, key {key}: {wrong}; allowed: {allowed}; came: {came}")

    def __reduce__(self) -> tuple[Any, ...]:
        """Let the error travel between processes with its attributes."""
        return _rebuild, (type(self), dict(self.__dict__))


class AdoptionError(RuleError):
    """A rule set holds a row that nobody has checked, so it cannot be adopted yet."""


class ReportError(EbblineError):
    """A report or a chart could not be drawn."""


class ClinicError(EbblineError):
    """A rule of the clinic forbids what was asked; the record stays as it was.

    Parameters
    ----------
    field : str
        What the rule is about, such as ``substrate`` or ``state``.
    wrong, allowed, came : str
        What was wrong, what is allowed there, what came.
    """

    exit_code = 6

    def __init__(self, *, field: str, wrong: str, allowed: str, came: str) -> None:
        self.field = field
        self.wrong = wrong
        self.allowed = allowed
        self.came = came
        super().__init__(f"{field}: {wrong}; allowed: {allowed}; came: {came}")

    def __reduce__(self) -> tuple[Any, ...]:
        """Let the error travel between processes with its attributes."""
        return _rebuild, (type(self), dict(self.__dict__))


class SafetyError(ClinicError):
    """A drink may not be given to this patient, or not without a named person's decision."""


class AccessError(ClinicError):
    """A person may not do this, or is not known."""


class RecordError(EbblineError):
    """The record cannot do what was asked of it; nothing was stored."""

    exit_code = 5


class ConflictError(RecordError):
    """Somebody else changed the same thing since it was read.

    Parameters
    ----------
    what : str
        The kind of entry and its id.
    differences : tuple of (str, str, str)
        For each field that differs: its name, the value that stands, the value that came.
    who, at : str
        Who changed it and when.
    """

    def __init__(
        self, *, what: str, differences: tuple[tuple[str, str, str], ...], who: str, at: str
    ) -> None:
        self.what = what
        self.differences = differences
        self.who = who
        self.at = at
        stands = ", ".join(f"{name} {value}" for name, value, _ in differences) or "the same values"
        came = ", ".join(f"{name} {value}" for name, _, value in differences) or "the same values"
        super().__init__(
            f"{what}: changed by {who} at {at} since it was read; allowed: a change of what stands "
            f"now ({stands}); came: {came}"
        )

    def __reduce__(self) -> tuple[Any, ...]:
        """Let the error travel between processes with its attributes."""
        return _rebuild, (type(self), dict(self.__dict__))


class UnavailableError(RecordError):
    """The record cannot be read or written now; the same can be asked again later."""


class BrokenRecordError(RecordError):
    """What was opened does not verify, or is not a record of ebbline."""


def list_allowed(values: Iterable[str]) -> str:
    """Return the allowed values as one readable phrase, in the order given.

    Parameters
    ----------
    values : iterable of str
        The allowed values.

    Returns
    -------
    str
        ``"a, b or c"``.
    """
    items = list(values)
    if len(items) < 2:
        return "".join(items)
    return f"{', '.join(items[:-1])} or {items[-1]}"
