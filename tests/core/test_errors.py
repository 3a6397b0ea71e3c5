import pickle

import pytest

from ebbline.core.errors import (
    AccessError,
    AdoptionError,
    BrokenRecordError,
    ClinicError,
    ConflictError,
    CurveFileError,
    EbblineError,
    FieldError,
    InputError,
    InstrumentError,
    ProfileError,
    RecordError,
    ReportError,
    RuleError,
    SafetyError,
    SettingError,
    TableFileError,
    TraceFileError,
    UnavailableError,
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
        (TableFileError, InputError, 2),
        (CurveFileError, TableFileError, 2),
        (TraceFileError, TableFileError, 2),
        (FieldError, InputError, 2),
        (SettingError, EbblineError, 2),
        (ProfileError, SettingError, 2),
        (RuleError, EbblineError, 3),
        (AdoptionError, RuleError, 3),
        (InstrumentError, EbblineError, 4),
        (ReportError, EbblineError, 1),
        (ClinicError, EbblineError, 6),
        (SafetyError, ClinicError, 6),
        (AccessError, ClinicError, 6),
        (RecordError, EbblineError, 5),
        (ConflictError, RecordError, 5),
        (UnavailableError, RecordError, 5),
        (BrokenRecordError, RecordError, 5),
    ],
)
def test_each_error_has_its_place_in_the_family_and_its_exit_code(
    kind: type[EbblineError], parent: type[EbblineError], code: int
) -> None:
    """Input 2, rule sets 3, instruments 4, the record 5, the clinic's rules 6; else 1."""
    assert issubclass(kind, parent)
    assert kind.exit_code == code


@pytest.mark.parametrize("kind", [FieldError, ClinicError, SafetyError, AccessError])
def test_an_error_about_a_field_names_it(
    kind: type[FieldError] | type[ClinicError],
) -> None:
    """With what was wrong, allowed and came."""
    error = kind(field="weight_kg", wrong="no number", allowed="a number", came="x")
    assert str(error) == "weight_kg: no number; allowed: a number; came: x"
    assert (error.field, error.wrong, error.allowed, error.came) == (
        "weight_kg",
        "no number",
        "a number",
        "x",
    )


@pytest.mark.parametrize(
    ("differences", "stands", "came"),
    [
        (
            (("language", "cy", "gd"), ("sex", "male", "other")),
            "language cy, sex male",
            "language gd, sex other",
        ),
        ((), "the same values", "the same values"),
    ],
)
def test_a_conflict_shows_what_stands_and_what_came(
    differences: tuple[tuple[str, str, str], ...], stands: str, came: str
) -> None:
    """Of each field that differs, with who changed it and when."""
    error = ConflictError(
        what="patient 1", differences=differences, who="ben", at="2026-11-27T08:00:00Z"
    )
    assert str(error) == (
        "patient 1: changed by ben at 2026-11-27T08:00:00Z since it was read; allowed: a change of "
        f"what stands now ({stands}); came: {came}"
    )
    assert (error.what, error.differences, error.who) == ("patient 1", differences, "ben")
    assert error.at == "2026-11-27T08:00:00Z"


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
        ProfileError(file="p.toml", key="link.speed", wrong="w", allowed="x", came="y"),
        FieldError(field="weight_kg", wrong="w", allowed="x", came="y"),
        SafetyError(field="substrate", wrong="w", allowed="x", came="y"),
        AccessError(field="by", wrong="w", allowed="x", came="y"),
        ConflictError(what="patient 1", differences=(("sex", "a", "b"),), who="ben", at="now"),
        UnavailableError("record: w; allowed: x; came: y"),
        BrokenRecordError("record: w; allowed: x; came: y"),
    ],
)
def test_an_error_survives_the_way_between_processes(error: EbblineError) -> None:
    """An archive is worked through by several processes, and their errors come back whole."""
    back = pickle.loads(pickle.dumps(error))
    assert str(back) == str(error)
    assert vars(back) == vars(error)
