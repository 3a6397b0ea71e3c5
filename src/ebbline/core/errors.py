"""The whole error family, split by whose fault it is.

    EbblineError
    ├── InputError          what was given: a curve file, a reading, a command's option
    │   └── TableFileError  one cell or line of a file that is a table
    │       ├── CurveFileError
    │       └── TraceFileError
    ├── SettingError        a number that the service sets: limits, references, noise
    │   └── ProfileError    one key of an instrument's profile
    ├── RuleError           a rule set that cannot be read
    │   └── AdoptionError   a rule set that may not be the reporting criterion yet
    ├── InstrumentError     a link to an analyser that cannot be opened or was lost
    └── ReportError         a report that could not be drawn

Each message says what was wrong, what was allowed and what came. ``exit_code`` is what the command
line ends with: 2 for input, 3 for a rule set, 4 for an instrument (docs/reference/errors.md).
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
