"""The head lines: which keys are known, what they may hold, what becomes of the others."""

import pytest

from ebbline.adapters.files.curve_keys import KEYS
from ebbline.adapters.files.table_head import Key
from tests.adapters.files.strategies import HEAD, assert_refused, parse

TABLE = "minute,h2_ppm\n0,5\n"


def _value(key: Key) -> str:
    """Return a value that a key takes, written unusually."""
    if key.choices:
        return key.choices[-1].upper()
    if key.kind == "number":
        return "20,50" if key.low == 19.0 else ("0,10" if key.high < 1.0 else "1,0")
    return {"substrate": "Glucose", "reference": "O2  13,90"}.get(key.kind, "Some, words")


def test_every_known_key_is_taken() -> None:
    """Facts keep their words, and numbers and choices take their normal form."""
    lines = [f"# {key.name}: {_value(key)}" for key in KEYS.values()]
    found = parse("\n".join(lines) + "\nminute;h2_ppm\n0;5\n")
    assert found.substrate == "glucose"
    assert (found.dose_g, found.weight_kg, found.age_years) == (1.0, 1.0, 1.0)
    assert found.protocol == "Some, words"
    assert found.unused == {}
    assert found.invented is False
    own = {"substrate", "dose_g", "weight_kg", "age_years", "protocol", "delimiter", "decimal"}
    assert list(found.facts) == [name for name in KEYS if name not in own]
    assert found.facts["noise_ppm"] == "1"
    assert found.facts["ambient_o2_pct"] == "20.5"
    assert found.facts["baseline"] == "lowest"
    assert found.facts["reference"] == "o2 13.9"
    assert found.facts["operator"] == "Some, words"


def test_what_the_head_does_not_say_is_none() -> None:
    """Missing is missing, never a default."""
    found = parse(HEAD + "# dose_g:\n# operator:\n" + TABLE)
    assert (found.dose_g, found.weight_kg, found.age_years, found.protocol) == (None,) * 4
    assert found.facts == {}
    assert found.unused == {}


def test_keys_may_be_spelled_with_capitals_spaces_and_hyphens() -> None:
    """Dose-G, dose g and dose_g are one key."""
    for key in ("Dose-G", "dose g", "DOSE_G", "dose  g"):
        assert parse(f"{HEAD}  #{key} :7.5\n{TABLE}").dose_g == 7.5


def test_a_key_that_is_not_known_is_kept_as_written() -> None:
    """A slip in a key must show on the report instead of being lost."""
    found = parse(HEAD + "# Dose-mg: 10: about,\n# empty:\n" + TABLE)
    assert found.unused == {"Dose-mg": "10: about", "empty": ""}
    assert found.dose_g is None


def test_a_line_without_a_colon_is_a_comment() -> None:
    """Comments may stand anywhere in the head, more than once."""
    assert parse("# one\n" + HEAD + "#\n# one\n\n" + TABLE) == parse("\n\n" + HEAD + "\n\n" + TABLE)


def test_head_lines_that_a_spreadsheet_wrote_are_read() -> None:
    """A spreadsheet fills lines up with separators and quotes a cell that holds one."""
    text = (
        "# substrate: lactulose;;\n"
        '"# patient: ""A"", B; C";;\n'
        "# lot: 7, 8;;\n"
        "# site:;;\n"
        "# delimiter: ;;;\n"
        "# decimal: ,;;\n"
        ";;\n"
        "minute;h2_ppm;note\n"
        "0;5,5;\n"
    )
    found = parse(text.replace("# delimiter: ;;;\n", ""))
    assert found.facts == {"patient": '"A", B; C', "lot": "7, 8"}
    assert found.tries[0].h2_ppm == 5.5
    # Nothing but padding stands behind this key, so it declares nothing and does no harm.
    assert parse(text).facts == found.facts


def test_a_declaration_of_nothing_but_padding_declares_nothing() -> None:
    """A template's blank decimal, filled up with commas, is not a decimal comma."""
    found = parse(HEAD + "# decimal:,,\nminute,h2_ppm,note\n0,5.5,\n")
    assert found.tries[0].h2_ppm == 5.5


@pytest.mark.parametrize(
    ("value", "facts"),
    [
        ("o2", {"reference": "o2"}),
        ("CO2", {"reference": "co2"}),
        ("none", {"reference": "none"}),
        ("O2   13.90 %", {"reference": "o2 13.9"}),
        ("co2 5.5%", {"reference": "co2 5.5"}),
        *((text, {"reference": text}) for text in ("o2 5", "o2 20", "co2 1", "co2 10")),
        ("Our own, of 2031", {"own_reference": "Our own, of 2031"}),
        ("nothing yet", {"own_reference": "nothing yet"}),
    ],
)
def test_a_reference_is_a_gas_none_or_own_words(value: str, facts: dict[str, str]) -> None:
    """The three kinds are kept apart by name."""
    assert parse(f"{HEAD}# reference: {value}\n{TABLE}").facts == facts


@pytest.mark.parametrize(
    "value",
    [
        *("o2 =13.9", "o2 13.9.1", "O 2 13.9", "02 13.9", "co2: 5.5", "CO 5.5", "oxygen 13.9"),
        *("13.9", "-", "O₂", "co₂ 5.5", "h2 5", "carbon dioxide", "o2 thirteen", "o2 1e1", "٣"),
    ],
)
def test_a_reference_that_was_meant_as_a_gas_is_not_taken_as_own_words(value: str) -> None:
    """A slip in the alveolar value must not switch the normalisation off."""
    assert_refused(
        f"{HEAD}# reference: {value}\n{TABLE}",
        "visit.csv, row 2: head line reference cannot be read; allowed: o2, o2 13.9, co2, "
        f'co2 5.5, none, or a name of your own; came: "{value}"',
    )


@pytest.mark.parametrize("word", ["yes", "YES"])
def test_a_file_can_say_that_its_data_are_invented(word: str) -> None:
    """Demonstration data are marked where they are stored."""
    assert parse(f"{HEAD}# invented: {word}\n{TABLE}").invented is True


LIMITS = [
    ("dose_g", "more than 0 and 200 or less", ["0", "-1", "200.1"], ["0.1", "200"]),
    ("weight_kg", "1 or more and 400 or less", ["0.9", "400.1"], ["1", "400"]),
    ("age_years", "0 or more and 120 or less", ["-1", "121"], ["0", "120"]),
    ("minute_tolerance", "0 or more and 30 or less", ["-0.1", "31"], ["0", "30"]),
    ("noise_ppm", "0 or more and 100 or less", ["-0.1", "101"], ["0", "100"]),
    ("noise_fraction", "0 or more and 1 or less", ["-0.1", "1.1"], ["0", "1"]),
    ("gain_fraction", "0 or more and 0.15 or less", ["-0.1", "0.16"], ["0", "0.15"]),
    ("ambient_o2_pct", "19 or more and 21.5 or less", ["18.9", "21.6"], ["19", "21.5"]),
    ("ambient_h2_ppm", "0 or more and 100 or less", ["-0.1", "101"], ["0", "100"]),
    ("ambient_ch4_ppm", "0 or more and 100 or less", ["-0.1", "101"], ["0", "100"]),
]


def test_every_key_that_holds_a_number_has_its_limits_tested() -> None:
    """A new key cannot come without its limits."""
    assert [row[0] for row in LIMITS] == [key.name for key in KEYS.values() if key.kind == "number"]


@pytest.mark.parametrize(("key", "allowed", "outside", "inside"), LIMITS)
def test_a_number_outside_its_limits_is_refused(
    key: str, allowed: str, outside: list[str], inside: list[str]
) -> None:
    """The limits themselves are inside, but for a dose of nothing."""
    for value in outside:
        assert_refused(
            f"{HEAD}# {key}: {value}\n{TABLE}",
            f"visit.csv, row 2: head line {key} is out of range; allowed: a plain number, "
            f'{allowed}; came: "{value}"',
        )
    for value in inside:
        found = parse(f"{HEAD}# {key}: {value}\n{TABLE}")
        kept = getattr(found, key) if hasattr(found, key) else float(found.facts[key])
        assert kept == float(value)


@pytest.mark.parametrize(
    ("value", "wrong"),
    [
        ("ten", "this is not a plain number"),
        ("nan", "this is not a plain number"),
        ("inf", "this is not a plain number"),
        ("1_0", "this is not a plain number"),
        ("0x1f", "this is not a plain number"),
        ("10 g", "this is not a plain number"),
        ("1 000", "this is not a plain number"),
        ("١٠", "this is not a plain number"),
        (".5", "this is not a plain number"),
        ("5.", "this is not a plain number"),
        ("−5", "this is not a plain number"),
        ("1e1", "a number is written with an exponent"),
    ],
)
def test_a_head_number_that_is_not_plain_is_refused(value: str, wrong: str) -> None:
    """Numbers in the head follow the rules of those in the table."""
    assert_refused(
        f"{HEAD}# dose_g: {value}\n{TABLE}",
        f"visit.csv, row 2: head line dose_g: {wrong}; allowed: a plain number, more than 0 and "
        f'200 or less; came: "{value}"',
    )


CHOICES = {
    "baseline": "mean, last or lowest",
    "delimiter": "comma or semicolon",
    "decimal": "point or comma",
    "invented": "yes or no",
    "surgery": "yes, no or unknown",
    "rinse": "none, baseline, every or unknown",
    "substrate": "lactulose or glucose",
}


def test_every_key_that_holds_a_choice_has_its_words_tested() -> None:
    """A new choice cannot come without its refusal."""
    assert set(CHOICES) == {
        key.name for key in KEYS.values() if key.kind in ("choice", "substrate")
    }


@pytest.mark.parametrize(("key", "allowed"), CHOICES.items())
def test_a_word_that_is_not_a_choice_is_refused(key: str, allowed: str) -> None:
    """The refusal lists the words."""
    head = "" if key == "substrate" else HEAD
    row = 1 if key == "substrate" else 2
    assert_refused(
        f"{head}# {key}: perhaps\n{TABLE}",
        f"visit.csv, row {row}: head line {key} is not a choice; allowed: {allowed}; "
        'came: "perhaps"',
    )


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            HEAD + "# Dose-g: 10\n# dose g: 12\n" + TABLE,
            (
                ", row 3: head line dose g is given twice; allowed: each key once; the first is in "
                'row 2; came: "12"'
            ),
        ),
        (
            HEAD + "# Mood: good\n# mood: bad\n" + TABLE,
            (
                ", row 3: head line mood is given twice; allowed: each key once; the first is in "
                'row 2; came: "bad"'
            ),
        ),
        (
            HEAD + "# : lost\n" + TABLE,
            ', row 2: a head line has no key; allowed: # key: value; came: "# : lost"',
        ),
        (
            HEAD + '"# patient: A"B\n' + TABLE,
            (
                ", row 2: a head line is quoted wrongly; allowed: # key: value without quotes, or "
                '"# key: value" as one cell; came: ""# patient: A"B"'
            ),
        ),
        (
            HEAD + "# co2_reference: x\n\n",
            (
                ": the file has no table; allowed: a line with the names of the columns, then one "
                "line for each sample; came: head lines only"
            ),
        ),
        (TABLE, ": the substrate is not given; allowed: lactulose or glucose; came: nothing"),
        (
            "# substrate:\n" + TABLE,
            ": the substrate is not given; allowed: lactulose or glucose; came: nothing",
        ),
        (
            HEAD + "# reference: o2 4.9\n" + TABLE,
            (
                ", row 2: head line reference is out of range; allowed: o2 from 5 to 20 %; "
                'came: "o2 4.9"'
            ),
        ),
        (
            HEAD + "# reference: co2 10.1\n" + TABLE,
            (
                ", row 2: head line reference is out of range; allowed: co2 from 1 to 10 %; "
                'came: "co2 10.1"'
            ),
        ),
    ],
)
def test_a_head_that_cannot_be_used_is_refused(text: str, message: str) -> None:
    """The refusal names the line."""
    assert_refused(text, "visit.csv" + message)
