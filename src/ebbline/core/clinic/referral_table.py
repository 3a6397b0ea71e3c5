"""Rows about a referral: alarm features to ask the referrer for, and which test comes first."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Any

from ebbline.core.clinic.cells import PROVENANCES, Cells
from ebbline.core.errors import FieldError, list_allowed

FILE = "referral.toml"


@dataclass(frozen=True, slots=True)
class Alarm:
    """One alarm feature: ``asks`` is the question to the referrer, ``says`` names it."""

    id: str
    asks: str
    says: str
    source: str
    provenance: str


@dataclass(frozen=True, slots=True)
class Order:
    """An order of tests: those with ``later`` are better done once one of ``first`` is known."""

    first: tuple[str, ...]
    later: tuple[str, ...]
    says: str
    source: str
    provenance: str


@dataclass(frozen=True, slots=True)
class ReferralTable:
    """What data/referral.toml holds; ``caution`` goes with every alarm feature."""

    caution: str
    unasked: str
    alarms: tuple[Alarm, ...]
    orders: tuple[Order, ...]


def parse_referral(table: Mapping[str, Any], *, substrates: tuple[str, ...]) -> ReferralTable:
    """Return the rows of data/referral.toml.

    Parameters
    ----------
    table : mapping
        What the TOML file holds.
    substrates : tuple of str
        Ids of the substrates that a test may use.

    Returns
    -------
    ReferralTable

    Raises
    ------
    SettingError
        If a row cannot be used.
    """
    top = Cells(table, file=FILE, path="")
    top.only(("caution", "unasked", "alarm", "order"))
    alarms: dict[str, Alarm] = {}
    for row in top.rows("alarm"):
        row.only(("id", "asks", "says", "source", "provenance"))
        name = row.text("id")
        if name in alarms:
            raise row.error("id", "given twice", "an id that no other row has", name)
        alarms[name] = Alarm(
            id=name,
            asks=row.text("asks"),
            says=row.text("says"),
            source=row.text("source"),
            provenance=row.choice("provenance", PROVENANCES),
        )
    return ReferralTable(
        caution=top.text("caution"),
        unasked=top.text("unasked"),
        alarms=tuple(alarms.values()),
        orders=tuple(_order(row, substrates) for row in top.rows("order")),
    )


def check_alarms(table: ReferralTable, features: Collection[str]) -> tuple[str, ...]:
    """Return the ids of alarm features in the order of the rows.

    Parameters
    ----------
    table : ReferralTable
        Rows.
    features : collection of str
        Ids of the features that the referrer names.

    Returns
    -------
    tuple of str

    Raises
    ------
    FieldError
        If one is not known.
    """
    known = [one.id for one in table.alarms]
    for name in features:
        if name not in known:
            raise FieldError(
                field="alarm_features",
                wrong="not known",
                allowed=list_allowed(known),
                came=name or "nothing",
            )
    return tuple(name for name in known if name in features)


def alarm_words(table: ReferralTable, features: Collection[str]) -> str:
    """Return what is to be done about alarm features, in words; empty where there are none.

    Parameters
    ----------
    table : ReferralTable
        Rows.
    features : collection of str
        Ids of the features.

    Returns
    -------
    str
    """
    named = [one.says for one in table.alarms if one.id in features]
    return f"Alarm features: {', '.join(named)}. {table.caution}" if named else ""


def order_words(table: ReferralTable, *, substrate: str, done: Collection[str]) -> tuple[str, ...]:
    """Return which test is better done first, in words; nothing where it was done.

    Parameters
    ----------
    table : ReferralTable
        Rows.
    substrate : str
        What is to be drunk.
    done : collection of str
        Substrates of the patient's tests on record that ended.

    Returns
    -------
    tuple of str
    """
    return tuple(
        row.says
        for row in table.orders
        if substrate in row.later and not set(row.first) & set(done)
    )


def _order(row: Cells, substrates: tuple[str, ...]) -> Order:
    row.only(("first", "later", "says", "source", "provenance"))
    order = Order(
        first=row.choices("first", substrates),
        later=row.choices("later", substrates),
        says=row.text("says"),
        source=row.text("source"),
        provenance=row.choice("provenance", PROVENANCES),
    )
    both = [one for one in order.later if one in order.first]
    if both:
        raise row.error(
            "later", "also among the first", "substrates that are not first", list_allowed(both)
        )
    return order
