"""Rule files: bytes to rows, with the line of every key."""

from pathlib import Path

import pytest

from ebbline.adapters.files.rule_file import key_lines, read_rule_file
from ebbline.core.errors import RuleError

SUBSTRATES = ("lactose", "glucose")


def refusal(path: Path) -> RuleError:
    """Return the error that reading a file ends with."""
    with pytest.raises(RuleError) as caught:
        read_rule_file(path, substrates=SUBSTRATES)
    return caught.value


def test_the_line_of_every_key_is_known() -> None:
    """Rows are counted from 1, as people count them."""
    text = (
        'id = "x"\n\n[[statement]]\nid = "a"\n[[statement]]\n  gas = "h2"\n[[validity]]\nid = "v"\n'
    )
    assert key_lines(text) == {
        "id": 1,
        "statement[1]": 3,
        "statement[1].id": 4,
        "statement[2]": 5,
        "statement[2].gas": 6,
        "validity[1]": 7,
        "validity[1].id": 8,
    }


def test_a_file_that_is_not_there_is_refused(tmp_path: Path) -> None:
    """With the system's own reason."""
    path = tmp_path / "none.toml"
    assert str(refusal(path)) == (
        f"{path}, key (file): cannot be read; allowed: a readable file; "
        "came: No such file or directory"
    )


def test_a_file_that_is_not_text_is_refused(tmp_path: Path) -> None:
    """Bytes that are not UTF-8."""
    path = tmp_path / "bad.toml"
    path.write_bytes(b'id = "\xff"\n')
    assert str(refusal(path)) == (
        f"{path}, key (file): is not UTF-8 text; allowed: UTF-8; came: byte 6 is not"
    )


def test_a_file_that_is_not_toml_is_refused_with_its_line(tmp_path: Path) -> None:
    """The reader's own words are passed on."""
    path = tmp_path / "bad.toml"
    path.write_text('id = "x"\nversion = \n', encoding="utf-8")
    error = refusal(path)
    assert error.line == 2
    assert str(error).startswith(
        f"{path}, line 2, key (file): is not TOML; allowed: TOML 1.0; came:"
    )
