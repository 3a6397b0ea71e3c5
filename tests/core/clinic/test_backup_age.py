"""How old the last backup may be is a row, taken whole or refused."""

import tomllib
from typing import Any

import pytest

from ebbline.adapters.files.library import DATA
from ebbline.core.clinic.backup_age import parse_backup_days
from ebbline.core.errors import SettingError

SHIPPED = tomllib.loads((DATA / "backup.toml").read_text(encoding="utf-8"))


def test_the_shipped_row_is_two_days() -> None:
    """Common practice, no source: the row says so itself."""
    assert parse_backup_days(SHIPPED) == 2.0
    assert SHIPPED["provenance"] == "common practice"


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        (
            {"hours": 48},
            "hours: unknown key; allowed: most_days, source or provenance; came: hours",
        ),
        ({"most_days": 0}, "most_days: out of range; allowed: 0.25 to 31; came: 0"),
        ({"most_days": "two"}, "most_days: not a number; allowed: 0.25 to 31; came: 'two'"),
        ({"source": " "}, "source: not text; allowed: text; came: ' '"),
        (
            {"provenance": "hearsay"},
            (
                "provenance: not one of the choices; allowed: read, memory or common practice; "
                "came: 'hearsay'"
            ),
        ),
    ],
)
def test_another_row_is_refused(changes: dict[str, Any], words: str) -> None:
    """With key, what was allowed and what came."""
    with pytest.raises(SettingError) as caught:
        parse_backup_days(SHIPPED | changes)
    assert str(caught.value) == f"backup.toml, {words}"


@pytest.mark.parametrize("key", ["most_days", "source", "provenance"])
def test_a_row_that_lacks_something_is_refused(key: str) -> None:
    """None of the three has a default."""
    with pytest.raises(SettingError, match=rf"^backup\.toml, {key}: missing; "):
        parse_backup_days({name: value for name, value in SHIPPED.items() if name != key})
