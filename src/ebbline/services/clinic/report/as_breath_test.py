"""A test of the record as the core takes it: every try, the decided baseline, and all facts."""

from collections.abc import Mapping
from dataclasses import replace

from ebbline.core.clinic.record.bench import BaselineDecision, SampleTry, Symptoms
from ebbline.core.clinic.record.entry import Kept
from ebbline.core.clinic.record.visit import Dose, Test
from ebbline.core.curve.breath_test import BreathTest, Status, Try
from ebbline.core.curve.protocol import Protocol
from ebbline.services.clinic.bench.baselines import counted
from ebbline.services.clinic.bench.minutes import clock_of, minute_of_try
from ebbline.services.clinic.bench.place_sample import protocol_of, tries_of
from ebbline.services.clinic.desk import Clinic
from ebbline.services.clinic.needs import missing_minutes
from ebbline.services.clinic.ports import Look
from ebbline.services.clinic.report.facts_of_test import facts_of_test, name_of
from ebbline.services.clinic.service.settings_on_record import settings_on_record

_STATUS: dict[str, Status] = {"ok": "ok", "repeat": "repeat", "missed": "missed"}
NOT_USED = "fasting sample that the baseline does not use"
"""The note of a fasting sample that was good, and that somebody decided not to count."""


def as_breath_test(clinic: Clinic, look: Look, test: Test) -> BreathTest:
    """Return a test with all that is recorded of it.

    Fasting samples that the decided baseline does not use are kept as tries that do not count. A
    planned sample of a stopped test that nobody came to is missed.

    Parameters
    ----------
    clinic : Clinic
        Rules, documents and time zone.
    look : Look
        The record.
    test : Test
        The test.

    Returns
    -------
    BreathTest
        Its facts name the baseline rule that was decided; minutes are counted past any jump of the
        computer's clock.
    """
    return breath_test_by(clinic, look, test, decision=decided_baseline(look, test))


def breath_test_by(
    clinic: Clinic, look: Look, test: Test, *, decision: BaselineDecision | None
) -> BreathTest:
    """Return a test as `as_breath_test` does, by any decision on its baseline.

    Parameters
    ----------
    clinic : Clinic
        Rules, documents and time zone.
    look : Look
        The record.
    test : Test
        The test.
    decision : BaselineDecision or None
        The decision; None for the rule of the service, or of the protocol, over all samples.

    Returns
    -------
    BreathTest
    """
    kept = tries_of(look, test.id)
    protocol = protocol_of(clinic, look, test)
    used = _used(kept, decision)
    scored = _scores(look, test)
    tries = [
        *_tries(look, test, kept, used, scored),
        *_not_taken(clinic, look, test, kept, scored),
    ]
    entries = tuple(one.entry for one in kept)
    facts = facts_of_test(clinic, look, test, entries)
    facts["baseline"] = decision.rule if decision is not None else _usual(look, protocol)
    facts |= _baseline_facts(clinic, look, entries, used, decision)
    doses = look.find(Dose, {"test_id": test.id})
    return BreathTest(
        file=f"test {test.number}",
        substrate=test.substrate,
        dose_g=doses[-1].entry.prepared_g if doses else None,
        weight_kg=test.weight_kg,
        age_years=test.age_years,
        protocol=f"{protocol.id}, release {protocol.release}",
        tries=tuple(sorted(tries, key=lambda one: one.minute)),
        facts=facts,
    )


def decided_baseline(look: Look, test: Test) -> BaselineDecision | None:
    """Return the decision that a test's baseline is made by, None where nobody decided yet.

    Parameters
    ----------
    look : Look
        The record.
    test : Test
        The test.

    Returns
    -------
    BaselineDecision or None
    """
    found = look.find(BaselineDecision, {"test_id": test.id, "choice": "go"})
    return found[-1].entry if found else None


def _usual(look: Look, protocol: Protocol) -> str:
    """Return the baseline rule where nobody decided: that of the service, else of the protocol."""
    return str(settings_on_record(look).get("baseline", protocol.baseline))


def _used(kept: tuple[Kept[SampleTry], ...], decision: BaselineDecision | None) -> tuple[str, ...]:
    """Return the ids of the fasting samples that make the baseline, in order of time."""
    good = [one.entry.id for one in kept if one.entry.label and one.entry.status == "ok"]
    chosen = good if decision is None else [one for one in good if one in decision.uses]
    return tuple(chosen)


def _scores(look: Look, test: Test) -> dict[float | None, Mapping[str, float]]:
    """Return the symptom scores by planned minute."""
    return {
        one.entry.planned_minute: one.entry.scores
        for one in look.find(Symptoms, {"test_id": test.id})
        if one.entry.planned_minute is not None
    }


def _tries(
    look: Look,
    test: Test,
    kept: tuple[Kept[SampleTry], ...],
    used: tuple[str, ...],
    scored: Mapping[float | None, Mapping[str, float]],
) -> list[Try]:
    clock = clock_of(look, test)
    last = {one.entry.planned_minute: one.entry.id for one in kept}
    last |= {one.entry.planned_minute: one.entry.id for one in kept if _counts(one.entry, used)}
    tries = []
    for one in kept:
        entry = one.entry
        minute = entry.planned_minute if entry.status == "missed" else None
        if minute is None:
            minute = minute_of_try(look, clock, one)
        if minute is None:
            # Stopped before the drink: there is no minute 0, and all samples are fasting ones.
            minute = (entry.at - kept[-1].entry.at).total_seconds() / 60.0
        made = _try(entry, minute)
        if last[entry.planned_minute] == entry.id and entry.planned_minute in scored:
            made = replace(made, symptoms=dict(scored[entry.planned_minute]))
        if entry.label and entry.status == "ok":
            if entry.id not in used:
                note = "; ".join(filter(None, (NOT_USED, entry.note)))
                made = replace(made, status="repeat", note=note)
            elif entry.id != used[-1]:
                # Tries at one planned minute are one sample: only the last would count.
                made = replace(made, planned_minute=None)
        tries.append(made)
    return tries


def _counts(entry: SampleTry, used: tuple[str, ...]) -> bool:
    return entry.status == "ok" and (not entry.label or entry.id in used)


def _try(entry: SampleTry, minute: float) -> Try:
    return Try(
        minute=minute,
        planned_minute=entry.planned_minute,
        status=_STATUS[entry.status],
        h2_ppm=entry.h2_ppm,
        ch4_ppm=entry.ch4_ppm,
        o2_pct=entry.o2_pct,
        co2_pct=entry.co2_pct,
        note=entry.note,
        symptoms={},
        row=0,
    )


def _not_taken(
    clinic: Clinic,
    look: Look,
    test: Test,
    kept: tuple[Kept[SampleTry], ...],
    scored: Mapping[float | None, Mapping[str, float]],
) -> list[Try]:
    """Return the planned samples that nobody came to, once the test has ended."""
    if test.state in ("booked", "arrived", "cleared", "dosed", "sampling"):
        return []
    tried = {one.entry.planned_minute for one in kept}
    return [
        Try(
            minute=minute,
            planned_minute=minute,
            status="missed",
            h2_ppm=None,
            ch4_ppm=None,
            o2_pct=None,
            co2_pct=None,
            note="not taken",
            symptoms=dict(scored.get(minute, {})),
            row=0,
        )
        for minute in missing_minutes(clinic, look, test)
        if minute not in tried
    ]


def _baseline_facts(
    clinic: Clinic,
    look: Look,
    tries: tuple[SampleTry, ...],
    used: tuple[str, ...],
    decision: BaselineDecision | None,
) -> dict[str, str]:
    """Return the fasting samples line by line, and which of them the baseline is made of."""
    lines = []
    labels = {}
    for one in tries:
        if not one.label or one.status != "ok":
            continue
        h2_ppm, ch4_ppm = counted(one)
        values = f"H2 {h2_ppm:g} ppm" + ("" if ch4_ppm is None else f", CH4 {ch4_ppm:g} ppm")
        labels[one.id] = one.label
        use = "used" if one.id in used else "not used"
        lines.append("\t".join((one.label, f"{one.at.astimezone(clinic.zone):%H:%M}", values, use)))
    facts = {"baselines": "\n".join(lines)} if lines else {}
    if decision is None or not used:
        return facts
    words = [f"{decision.rule} of {', '.join(labels[one] for one in used)}"]
    words += [f"past a limit: {limit}" for limit in decision.over_limit]
    if decision.why:
        words.append(f"reason: {' '.join(decision.why.split())}")
    words.append(f"decided by {name_of(look, decision.by)}")
    return {**facts, "baseline_used": "; ".join(words)}
