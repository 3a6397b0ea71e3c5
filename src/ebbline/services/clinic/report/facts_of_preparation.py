"""What a report says about how the patient prepared, from the record."""

from datetime import datetime, timedelta

from ebbline.core.clinic.preparation import JudgedItem
from ebbline.core.clinic.record.visit import Booking, Preparation, Test
from ebbline.services.clinic.desk import Clinic
from ebbline.services.clinic.ports import Look
from ebbline.services.clinic.visit.preparing import judged_items, planned_items

_FACT_OF_ITEM = {
    "diet": "preparation",
    "antibiotics": "antibiotics",
    "bowel-cleansing": "bowel_preparation",
}
_FAST = "fast"


def facts_of_preparation(clinic: Clinic, look: Look, test: Test) -> dict[str, str]:
    """Return the facts about the preparation of a test.

    Parameters
    ----------
    clinic : Clinic
        Rules and time zone.
    look : Look
        The record.
    test : Test
        The test.

    Returns
    -------
    dict of str to str
        ``preparation_items`` has a line an item: what was asked, the answer, and the decision where
        it was not kept, with tabs between; ``fasting_h`` is the time from the last meal to minute
        0, or to the appointment while there is none.
    """
    found = look.find(Preparation, {"test_id": test.id})
    if not found:
        return {}
    preparation = found[-1].entry
    judged = {one.id: one for one in judged_items(clinic, look, test, preparation)}
    asked = {
        one.item.id: one.asks or one.tells
        for one in planned_items(clinic, look, test, guidance=preparation.guidance)
    }
    lines = [
        "\t".join(" ".join(cell.split()) for cell in (asked[name], one.words, decided))
        for name, one in judged.items()
        for decided in [_decision(preparation, one)]
    ]
    facts = {fact: judged[item].words for item, fact in _FACT_OF_ITEM.items() if item in judged}
    return {
        **facts,
        "preparation_items": "\n".join(lines),
        "fasting_h": _fasted(clinic, look, test, preparation),
    }


def _decision(preparation: Preparation, one: JudgedItem) -> str:
    decision = preparation.decisions.get(one.id)
    if decision is None:
        return "no decision" if one.needs_decision else ""
    choice = "went ahead" if decision.get("go_ahead") else "not to go ahead"
    why = preparation.reasons.get(one.id, "")
    return f"{choice}, {decision.get('by', '')}: {why}".rstrip(": ")


def _fasted(clinic: Clinic, look: Look, test: Test, preparation: Preparation) -> str:
    """Return the hours from the last meal, where its time of day was told."""
    told = preparation.answers.get(_FAST, {}).get("on") or ""
    if "T" not in told:
        return ""
    last = datetime.fromisoformat(told)
    last = last if last.tzinfo else last.replace(tzinfo=clinic.zone)
    booking = look.find(Booking, {"test_id": test.id})[-1].entry
    return f"{((test.t0 or booking.slot) - last) / timedelta(hours=1):.1f}"
