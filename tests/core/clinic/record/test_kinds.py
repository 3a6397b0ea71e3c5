from dataclasses import FrozenInstanceError

import pytest

from ebbline.core.clinic.record.entry import Entry, columns_of
from ebbline.core.clinic.record.kinds import KINDS
from tests.adapters.sql.entries import plain


def test_every_kind_of_entry_is_listed() -> None:
    """None that was declared is left without a table."""
    # By name: a class with slots is made twice, and Python remembers both for a while.
    declared = {
        kind.__name__ for kind in Entry.__subclasses__() if kind.__module__.startswith("ebbline.")
    }
    assert declared == {kind.__name__ for kind in KINDS.values()}


def test_no_entry_can_be_changed_in_place() -> None:
    """A change is a new version."""
    for kind in KINDS.values():
        entry = plain(kind, "invented", there="invented")
        for one in columns_of(kind):
            with pytest.raises(FrozenInstanceError):
                setattr(entry, one.name, None)
        assert "__slots__" in vars(kind)


def test_what_is_referred_to_is_a_kind() -> None:
    """Each reference names one."""
    for kind in KINDS.values():
        for one in columns_of(kind):
            assert one.refers is None or one.refers in KINDS


def test_every_field_says_what_it_holds() -> None:
    """For the data dictionary."""
    for kind in KINDS.values():
        assert (kind.__doc__ or "").strip()
        for one in columns_of(kind):
            assert one.says.strip()


def test_what_may_be_erased_reads_as_something_empty() -> None:
    """So no number, day or moment that must be there is held apart."""
    for kind in KINDS.values():
        for one in columns_of(kind):
            if one.apart and not one.optional:
                assert one.form in ("text", "bytes", "map", "list")
