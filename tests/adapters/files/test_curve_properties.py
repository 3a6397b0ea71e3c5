"""What holds for every curve file: nothing is read wrongly, and nothing else than refused."""

import re
from dataclasses import replace
from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from ebbline.core.curve.breath_test import BreathTest
from ebbline.core.errors import CurveFileError
from tests.adapters.files.strategies import (
    HEAD,
    NOTES,
    Dialect,
    breath_tests,
    dialects,
    parse,
    write,
)


def parse_or_refuse(data: bytes) -> BreathTest | None:
    """Return the test, None where the file is refused; any other error fails the caller."""
    try:
        return parse(data)
    except CurveFileError:
        return None


def without_rows(test: BreathTest) -> BreathTest:
    """Return a test whose tries have forgotten their line in the file."""
    return replace(test, tries=tuple(replace(row, row=0) for row in test.tries))


@given(breath_tests(), dialects())
def test_a_test_reads_back_the_same_in_every_dialect(test: BreathTest, dialect: Dialect) -> None:
    """Separator, decimal sign, quotes, line ends and order of columns change nothing."""
    assert without_rows(parse(write(test, dialect))) == test


@given(st.binary(max_size=200))
def test_random_bytes_are_refused(data: bytes) -> None:
    """No garbage gets past the reader or breaks it."""
    assert parse_or_refuse(data) is None


@given(st.text('",;#:\r\n\t ax1.-_', max_size=60))
def test_any_quotes_and_separators_are_read_or_refused(text: str) -> None:
    """Odd quoting ends in a test or in a refusal, nothing else."""
    found = parse_or_refuse(f"{HEAD}minute,h2_ppm,note\n0,5,{text}\n".encode())
    assert found is None or found.tries[0].h2_ppm == 5.0


@given(NOTES)
def test_a_note_in_quotes_is_kept_to_the_letter(note: str) -> None:
    """Only white space around it is dropped."""
    quoted = note.replace('"', '""')
    found = parse(f'{HEAD}minute,h2_ppm,note\n0,5,"{quoted}"\n15,7,\n')
    assert [row.note for row in found.tries] == [note.strip(), ""]


@given(breath_tests(), dialects(), st.data())
def test_a_file_with_a_damaged_place_is_read_or_refused(
    test: BreathTest, dialect: Dialect, data: st.DataObject
) -> None:
    """Bytes lost, added or changed never end in another error than a refusal."""
    whole = write(test, dialect)
    begin = data.draw(st.integers(0, len(whole)))
    end = data.draw(st.integers(begin, min(len(whole), begin + 6)))
    damaged = whole[:begin] + data.draw(st.binary(max_size=6)) + whole[end:]
    found = parse_or_refuse(damaged)
    assert found is None or found.tries


NUMBERS_OF_A_KIND = st.text("0123456789+-.,eE_x ٣５−", max_size=8)


@given(
    st.one_of(st.text(max_size=8), NUMBERS_OF_A_KIND, st.floats().map(str)),
    st.integers(0, 3),
    st.sampled_from(["h2_ppm", "ch4_ppm", "o2_pct", "co2_pct", "pain"]),
    st.sampled_from(",;"),
)
def test_a_corrupted_cell_is_refused_or_reads_as_what_it_says(
    cell: str, at: int, column: str, delimiter: str
) -> None:
    """Whatever is typed into one cell, the cell is not misread and no other cell changes."""
    names = ["minute", "h2_ppm", "ch4_ppm", "o2_pct", "co2_pct", "pain"]
    rows = [[str(minute), "5", "3", "14", "5", "1"] for minute in range(0, 60, 15)]
    sound = [delimiter.join(row) for row in [names, *rows]]
    quoted = '"' + cell.replace('"', '""') + '"'
    rows[at][names.index(column)] = quoted
    hurt = [delimiter.join(row) for row in [names, *rows]]
    before = parse(HEAD + "\n".join(sound))
    after = parse_or_refuse((HEAD + "\n".join(hurt)).encode("utf-8", "surrogatepass"))
    if after is None:
        return
    text = cell.strip()
    for old, new in zip(before.tries, after.tries, strict=True):
        if old.row != at + 3:
            assert new == old
    changed = after.tries[at]
    value = changed.symptoms.get("pain") if column == "pain" else getattr(changed, column)
    if text == "":
        assert value is None
        assert column != "h2_ppm"
        return
    assert re.fullmatch(r"[+-]?[0-9]+([.,][0-9]+)?", text, re.ASCII)
    assert value == float(Decimal(text.replace(",", ".")))
