"""The chain and its canonical JSON against what others published, and against ten lines of Python.

Examples of RFC 8785, JSON Canonicalization Scheme (June 2020): section 3.2.2 (an object), section
3.2.3 (order of keys), appendix B (numbers).
"""

import hashlib
import json
import struct
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rfc8785 import FloatDomainError

from ebbline.core.clinic.record.chain import START, Fault, Link, check_links, link
from ebbline.core.clinic.record.written import canonical


def first_that_does_not_follow(rows: list[tuple[int, str, str]]) -> int | None:
    """The verifier that anybody can write: number, body and hash of each row, in order."""
    before = bytes(32)
    for due, (seq, body, said) in enumerate(rows, start=1):
        found = hashlib.sha256(before + body.encode("utf-8")).hexdigest()
        if (seq, said) != (due, found) or json.loads(body)["seq"] != due:
            return due
        before = bytes.fromhex(found)
    return None


@st.composite
def tampered(draw: st.DrawFn) -> list[Link]:
    """A chain of up to seven acts to which up to two things were done, or none."""
    rows: list[Link] = []
    for seq in range(1, draw(st.integers(0, 7)) + 1):
        body = canonical({"seq": seq, "words": draw(st.text(st.characters(codec="utf-8")))})
        rows.append(Link(seq, body, link(rows[-1].hash if rows else START, body)))
    for _ in range(draw(st.integers(0, 2)) if rows else 0):
        place = draw(st.integers(0, len(rows) - 1))
        other = draw(st.integers(0, len(rows) - 1))
        what = draw(st.sampled_from(["edit", "take out", "put in", "swap", "rehash"]))
        if what == "edit":
            rows[place] = replace(rows[place], body=canonical({"seq": place + 1, "words": "x"}))
        elif what == "take out" and len(rows) > 1:
            del rows[place]
        elif what == "put in":
            rows.insert(place, rows[other])
        elif what == "swap":
            rows[place], rows[other] = rows[other], rows[place]
        elif what == "rehash":
            before = rows[place - 1].hash if place else START
            rows[place] = replace(rows[place], hash=link(before, rows[place].body))
    return rows


@given(rows=tampered())
def test_ten_lines_of_python_find_the_same_fault(rows: list[Link]) -> None:
    """With a hash function and a reader of JSON, and nothing of ebbline."""
    said = list(check_links(rows))
    fault = said[-1].seq if said and isinstance(said[-1], Fault) else None
    assert first_that_does_not_follow([(r.seq, r.body, r.hash) for r in rows]) == fault


def test_the_object_of_rfc_8785() -> None:
    """Section 3.2.2: numbers, escapes and literals, as given there and as they must come out."""
    given_there = r"""{
      "numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],
      "string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/",
      "literals": [null, true, false]
    }"""
    assert canonical(json.loads(given_there)) == (
        '{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],'
        '"string":"€$\\u000f\\nA\'B\\"\\\\\\\\\\"/"}'
    )


def test_the_order_of_keys_of_rfc_8785() -> None:
    """Section 3.2.3: by UTF-16 code units, so that the emoji comes before the Hebrew letter."""
    given_there = r"""{
      "\u20ac": "Euro Sign",
      "\r": "Carriage Return",
      "\ufb33": "Hebrew Letter Dalet With Dagesh",
      "1": "One",
      "\ud83d\ude00": "Emoji: Grinning Face",
      "\u0080": "Control",
      "\u00f6": "Latin Small Letter O With Diaeresis"
    }"""
    assert list(json.loads(canonical(json.loads(given_there))).values()) == [
        "Carriage Return",
        "One",
        "Control",
        "Latin Small Letter O With Diaeresis",
        "Euro Sign",
        "Emoji: Grinning Face",
        "Hebrew Letter Dalet With Dagesh",
    ]


@pytest.mark.parametrize(
    ("bits", "text"),
    [
        ("0000000000000000", "0"),
        ("8000000000000000", "0"),
        ("0000000000000001", "5e-324"),
        ("8000000000000001", "-5e-324"),
        ("7fefffffffffffff", "1.7976931348623157e+308"),
        ("ffefffffffffffff", "-1.7976931348623157e+308"),
        ("4340000000000000", "9007199254740992"),
        ("c340000000000000", "-9007199254740992"),
        ("4430000000000000", "295147905179352830000"),
        ("44b52d02c7e14af5", "9.999999999999997e+22"),
        ("44b52d02c7e14af6", "1e+23"),
        ("44b52d02c7e14af7", "1.0000000000000001e+23"),
        ("444b1ae4d6e2ef4e", "999999999999999700000"),
        ("444b1ae4d6e2ef4f", "999999999999999900000"),
        ("444b1ae4d6e2ef50", "1e+21"),
        ("3eb0c6f7a0b5ed8c", "9.999999999999997e-7"),
        ("3eb0c6f7a0b5ed8d", "0.000001"),
        ("41b3de4355555553", "333333333.3333332"),
        ("41b3de4355555554", "333333333.33333325"),
        ("41b3de4355555555", "333333333.3333333"),
        ("41b3de4355555556", "333333333.3333334"),
        ("41b3de4355555557", "333333333.33333343"),
        ("becbf647612f3696", "-0.0000033333333333333333"),
        ("43143ff3c1cb0959", "1424953923781206.2"),
    ],
)
def test_the_numbers_of_rfc_8785(bits: str, text: str) -> None:
    """Appendix B: the bits of a double, and how it is written."""
    assert canonical(struct.unpack(">d", bytes.fromhex(bits))[0]) == text


@pytest.mark.parametrize("bits", ["7fffffffffffffff", "7ff0000000000000"])
def test_what_is_no_number_in_rfc_8785(bits: str) -> None:
    """Appendix B: NaN and infinity must be refused."""
    with pytest.raises(FloatDomainError):
        canonical(struct.unpack(">d", bytes.fromhex(bits))[0])
