"""What the tests of the curve file share: short files, refusals, and files in any dialect."""

import re
from dataclasses import dataclass
from pathlib import Path

import pytest
from hypothesis import strategies as st

from ebbline.adapters.files.curve_file import parse_curve
from ebbline.adapters.files.table_text import plain
from ebbline.core.curve.breath_test import SYMPTOMS, BreathTest, Status, Try
from ebbline.core.errors import CurveFileError
from ebbline.services.overrides import Overrides

PAGE = Path(__file__).resolve().parents[3] / "docs" / "reference" / "curve-file.md"
SUBSTRATES = ("lactulose", "glucose")
NO_FLAGS = Overrides()
HEAD = "# substrate: lactulose\n"


def parse(text: str | bytes, flags: Overrides = NO_FLAGS) -> BreathTest:
    """Return the test that a file named visit.csv with this content holds."""
    data = text.encode() if isinstance(text, str) else text
    return parse_curve(data, file="visit.csv", overrides=flags, substrates=SUBSTRATES)


def table(text: str) -> BreathTest:
    """Return the test of a table below the shortest head; the columns are in row 2."""
    return parse(HEAD + text)


def assert_refused(text: str | bytes, message: str, flags: Overrides = NO_FLAGS) -> None:
    """Check the whole message of a refusal, and that the reference page lists it."""
    with pytest.raises(CurveFileError) as refusal:
        parse(text, flags)
    assert str(refusal.value) == message
    assert_listed(refusal.value)


def assert_listed(error: CurveFileError) -> None:
    """Check that the reference page has a line for a refusal."""
    wrong = re.sub(r"^(head line|option) .+?(?=:| is| cannot)", r"\1 NAME", error.wrong)
    wrong = re.sub(r"^column \d+", "column N", wrong)
    page = " ".join(PAGE.read_text(encoding="utf-8").split())
    assert (f'"{wrong}"' if wrong.startswith("option") else f"| {wrong} |") in page


@dataclass(frozen=True)
class Dialect:
    """One of the ways in which a curve file may be written."""

    delimiter: str
    decimal: str
    line_end: str
    mark: bytes
    declared: bool
    quote_all: bool
    columns: tuple[str, ...]


WORDS = st.text(
    st.one_of(
        st.characters(codec="utf-8", exclude_categories=["Cc", "Cs"]),
        st.sampled_from(list("\",;#'\t")),
    ),
    max_size=12,
)
NOTES = st.lists(WORDS, max_size=3).map("\n".join)
FACT_KEYS = ("patient", "operator", "lot", "events", "medicines", "site")
STATUSES: tuple[Status, ...] = ("ok", "repeat", "missed")
ALL_COLUMNS = (
    *("minute", "planned_minute", "h2_ppm", "ch4_ppm", "o2_pct", "co2_pct", "status", "note"),
    *SYMPTOMS,
)
_UNITS = {"h2_ppm": (-2, 2000), "ch4_ppm": (-2, 2000), "o2_pct": (5, 21), "co2_pct": (0, 10)}


def hundredths(low: int, high: int) -> st.SearchStrategy[float]:
    """Draw numbers with two decimals at most, so that none looks like a grouped thousand."""
    return st.integers(low * 100, high * 100).map(lambda value: value / 100)


@st.composite
def dialects(draw: st.DrawFn) -> Dialect:
    """Draw a way of writing."""
    return Dialect(
        delimiter=draw(st.sampled_from(",;")),
        decimal=draw(st.sampled_from(".,")),
        line_end=draw(st.sampled_from(["\n", "\r\n", "\r"])),
        mark=draw(st.sampled_from([b"", b"\xef\xbb\xbf"])),
        declared=draw(st.booleans()),
        quote_all=draw(st.booleans()),
        columns=tuple(draw(st.permutations(ALL_COLUMNS))),
    )


@st.composite
def breath_tests(draw: st.DrawFn) -> BreathTest:
    """Draw a valid test: with a plan for every row, or with none."""
    size = draw(st.integers(1, 8))
    times = st.lists(hundredths(-240, 1440), min_size=size, max_size=size, unique=True).map(sorted)
    minutes = draw(times)
    plan = draw(st.one_of(st.none(), times))
    tries = tuple(
        draw(_tries(minute, None if plan is None else plan[at]))
        for at, minute in enumerate(minutes)
    )
    return BreathTest(
        file="visit.csv",
        substrate=draw(st.sampled_from(SUBSTRATES)),
        dose_g=draw(st.one_of(st.none(), hundredths(1, 200))),
        weight_kg=draw(st.one_of(st.none(), hundredths(1, 400))),
        age_years=draw(st.one_of(st.none(), hundredths(0, 120))),
        protocol=None,
        tries=tries,
        # A letter at the end, because white space and padding there are dropped.
        facts=draw(
            st.dictionaries(st.sampled_from(FACT_KEYS), WORDS.map(lambda text: f"{text}x".strip()))
        ),
    )


@st.composite
def _tries(draw: st.DrawFn, minute: float, planned_minute: float | None) -> Try:
    status = draw(st.sampled_from(STATUSES))
    gas = {
        name: None if status == "missed" else draw(st.one_of(st.none(), hundredths(*limits)))
        for name, limits in _UNITS.items()
    }
    h2_ppm = gas["h2_ppm"]
    if h2_ppm is None and status != "missed":
        h2_ppm = draw(hundredths(-2, 2000))
    return Try(
        minute=planned_minute if status == "missed" and planned_minute is not None else minute,
        planned_minute=planned_minute,
        status=status,
        h2_ppm=h2_ppm,
        ch4_ppm=gas["ch4_ppm"],
        o2_pct=gas["o2_pct"],
        co2_pct=gas["co2_pct"],
        note=draw(NOTES).strip(),
        symptoms=draw(st.dictionaries(st.sampled_from(SYMPTOMS), hundredths(0, 10))),
        row=0,
    )


def write(test: BreathTest, dialect: Dialect) -> bytes:
    """Write a test in a dialect; written apart from the reader, so that each checks the other."""
    head = {"substrate": test.substrate, **test.facts}
    for key in ("dose_g", "weight_kg", "age_years"):
        value = getattr(test, key)
        if value is not None:
            head[key] = _number(value, dialect)
    if dialect.declared:
        head |= {"delimiter": dialect.delimiter, "decimal": dialect.decimal}
    lines = [f"# {key}: {value}" for key, value in head.items()]
    lines.append(dialect.delimiter.join(dialect.columns))
    for row in test.tries:
        cells = _cells(row, dialect)
        lines.append(
            dialect.delimiter.join(_quote(cells.get(name, ""), dialect) for name in dialect.columns)
        )
    return dialect.mark + dialect.line_end.join([*lines, ""]).encode()


def _cells(row: Try, dialect: Dialect) -> dict[str, str]:
    numbers = {
        "minute": None if row.minute == row.planned_minute else row.minute,
        "planned_minute": row.planned_minute,
        "h2_ppm": row.h2_ppm,
        "ch4_ppm": row.ch4_ppm,
        "o2_pct": row.o2_pct,
        "co2_pct": row.co2_pct,
        **row.symptoms,
    }
    if row.status != "missed":
        numbers["minute"] = row.minute
    texts = {name: _number(value, dialect) for name, value in numbers.items() if value is not None}
    return {**texts, "status": row.status, "note": row.note}


def _number(value: float, dialect: Dialect) -> str:
    return plain(value).replace(".", dialect.decimal)


def _quote(cell: str, dialect: Dialect) -> str:
    if dialect.quote_all or re.search(r"[\",;#\r\n]", cell):
        return '"' + cell.replace('"', '""') + '"'
    return cell
