import pickle

import pytest

from ebbline.core.errors import (
    AdoptionError,
    CurveFileError,
    EbblineError,
    InputError,
    ReportError,
    RuleError,
    SettingError,
    list_allowed,
)


@pytest.mark.parametrize(
    ("row", "column", "place"),
    [
        (None, None, "a.csv"),
        (7, None, "a.csv, row 7"),
        (7, "h2_ppm", "a.csv, row 7, column h2_ppm"),
        (None, "h2_ppm", "a.csv, column h2_ppm"),
    ],
)
def test_a_curve_file_error_says_where_what_allowed_and_came(
    row: int | None, column: str | None, place: str
) -> None:
    """A place that is not known is left out."""
    error = CurveFileError(
        file="a.csv", wrong="no number", allowed="a number", came="'x'", row=row, column=column
    )
    assert str(error) == f"{place}: no number; allowed: a number; came: 'x'"
    assert (error.file, error.row, error.column) == ("a.csv", row, column)
    assert (error.wrong, error.allowed, error.came) == ("no number", "a number", "'x'")


@pytest.mark.parametrize(("line", "place"), [(3, "r.toml, line 3"), (None, "r.toml")])
def test_a_rule_error_says_its_line_and_key(line: int | None, place: str) -> None:
    """A line that is not known is left out."""
    error = RuleError(
        file="r.toml", key="id", wrong="missing", allowed="an id", came="nothing", line=line
    )
    assert str(error) == f"{place}, key id: missing; allowed: an id; came: nothing"
    assert (error.key, error.line, error.file) == ("id", line, "r.toml")


@pytest.mark.parametrize(
    ("kind", "parent", "code"),
    [
        (InputError, EbblineError, 2),
        (CurveFileError, InputError, 2),
        (SettingError, EbblineError, 2),
        (RuleError, EbblineError, 3),
        (AdoptionError, RuleError, 3),
        (ReportError, EbblineError, 1),
    ],
)
def test_each_error_has_its_place_in_the_family_and_its_exit_code(
    kind: type[EbblineError], parent: type[EbblineError], code: int
) -> None:
    """Input ends with 2, rule sets with 3, everything else with 1."""
    assert issubclass(kind, parent)
    assert kind.exit_code == code


@pytest.mark.parametrize(
    ("values", "text"),
    [([], ""), (["a"], "a"), (["a", "b"], "a or b"), (["a", "b", "c"], "a, b or c")],
)
def test_allowed_values_read_as_a_phrase(values: list[str], text: str) -> None:
    """The order given is kept."""
    assert list_allowed(values) == text


@pytest.mark.parametrize(
    "error",
    [
        InputError("wrong"),
        CurveFileError(file="a.csv", wrong="w", allowed="x", came="y", row=2, column="c"),
        RuleError(file="r.toml", key="id", wrong="w", allowed="x", came="y", line=1),
    ],
)
def test_an_error_survives_the_way_between_processes(error: EbblineError) -> None:
    """An archive is worked through by several processes, and their errors come back whole."""
    back = pickle.loads(pickle.dumps(error))
    assert str(back) == str(error)
    assert vars(back) == vars(error)
