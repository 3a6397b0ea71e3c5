"""Everything that a report says about a test in words, from the record."""

from datetime import datetime, timedelta

from ebbline.core.clinic.record.bench import SampleTry, TestEvent
from ebbline.core.clinic.record.people import Identity, Patient, Referral
from ebbline.core.clinic.record.staff import Adoption, Analyser, AnalyserCheck, User
from ebbline.core.clinic.record.visit import Booking, Dose, Test
from ebbline.services.clinic.bench.minutes import clock_of
from ebbline.services.clinic.desk import Clinic
from ebbline.services.clinic.ports import Look
from ebbline.services.clinic.report.facts_of_preparation import facts_of_preparation
from ebbline.services.clinic.service.settings_on_record import computed_by, settings_on_record

_RINSED_BEFORE = timedelta(minutes=30)


def facts_of_test(
    clinic: Clinic, look: Look, test: Test, tries: tuple[SampleTry, ...]
) -> dict[str, str]:
    """Return the facts of a test by the keys of the curve file, and those that a record adds.

    Parameters
    ----------
    clinic : Clinic
        Rules and time zone.
    look : Look
        The record.
    test : Test
        The test.
    tries : tuple of SampleTry
        Its tries in order of time.

    Returns
    -------
    dict of str to str
        What is not known is left out.
    """
    settings = settings_on_record(look)
    facts = {
        **computed_by(settings),
        "service": str(settings.get("service", "")),
        "invented": "yes" if test.invented else "no",
        **_patient(look, test),
        **_time_and_place(clinic, look, test),
        **_people_and_analyser(clinic, look, test, tries),
        **_drink(look, test),
        **facts_of_preparation(clinic, look, test),
        "events": _events(clinic, look, test),
        "rinse": _rinse(look, test, tries),
        "criterion": look.get(Adoption, test.criterion_id).entry.name,
    }
    if tries and all(one.way == "blow" for one in tries if one.way):
        facts["sample_age"] = "not stored"
    return {key: value for key, value in facts.items() if value}


def name_of(look: Look, user_id: str) -> str:
    """Return the printed name of a user.

    Parameters
    ----------
    look : Look
        The record.
    user_id : str
        The user; empty for the system.

    Returns
    -------
    str
    """
    return look.get(User, user_id).entry.name if user_id else "the system"


def _patient(look: Look, test: Test) -> dict[str, str]:
    who = look.find(Identity, {"patient_id": test.patient_id})[-1].entry
    referral = look.get(Referral, test.referral_id).entry
    return {
        "patient": f"{who.given_name} {who.family_name}".strip(),
        "born": "" if who.born is None else who.born.isoformat(),
        "sex": look.get(Patient, test.patient_id).entry.sex,
        "record_no": who.record_no,
        "national_no": who.national_no,
        "referrer": referral.referrer,
        "copy_to": referral.copy_to,
        "requested": referral.requested_on.isoformat(),
        "indication": referral.indication,
        "medicines": referral.medicines,
        "surgery": referral.surgery,
        "surgery_words": referral.surgery_words,
        "earlier_tests": referral.earlier_tests,
    }


def _time_and_place(clinic: Clinic, look: Look, test: Test) -> dict[str, str]:
    booking = look.find(Booking, {"test_id": test.id})
    begun = test.t0 or (booking[-1].entry.slot if booking else None)
    return {
        "date": "" if begun is None else f"{begun.astimezone(clinic.zone):%Y-%m-%d}",
        "started": "" if test.t0 is None else f"{test.t0.astimezone(clinic.zone):%H:%M}",
        "t0_defined_as": test.t0_defined_as,
        "site": test.site,
    }


def _people_and_analyser(
    clinic: Clinic, look: Look, test: Test, tries: tuple[SampleTry, ...]
) -> dict[str, str]:
    operators = dict.fromkeys(one.operator for one in tries)
    analysers = dict.fromkeys(one.analyser_id for one in tries if one.analyser_id)
    used = [look.get(Analyser, one).entry for one in analysers]
    calibrations = dict.fromkeys(one.calibration_id for one in tries if one.calibration_id)
    checks = [look.get(AnalyserCheck, one).entry for one in calibrations]
    return {
        "operator": ", ".join(name_of(look, one) for one in operators),
        "analyser": "; ".join(f"{one.name}, serial no. {one.serial}" for one in used),
        "method": "; ".join(dict.fromkeys(one.method for one in used)),
        "calibrated": "; ".join(
            f"{one.at.astimezone(clinic.zone):%Y-%m-%d %H:%M}, {_passed(one)}" for one in checks
        ),
        "check_gas": "; ".join(dict.fromkeys(one.gas for one in checks if one.gas)),
        "check_today": _check_today(clinic, look, test, list(analysers)),
    }


def _check_today(clinic: Clinic, look: Look, test: Test, analysers: list[str]) -> str:
    """Return the checks of the analysers on the day of the test, and who made them."""
    if test.t0 is None or not analysers:
        return ""
    day = test.t0.astimezone(clinic.zone).date()
    told = []
    for one in look.find(AnalyserCheck, {"analyser_id": analysers, "what": "check"}):
        at = one.entry.at.astimezone(clinic.zone)
        if at.date() == day:
            by = name_of(look, look.acts([one.seq])[0].by)
            told.append(f"{_passed(one.entry)} at {at:%H:%M}, by {by}")
    return "; ".join(told)


def _passed(check: AnalyserCheck) -> str:
    return "passed" if check.passed else "not passed"


def _drink(look: Look, test: Test) -> dict[str, str]:
    doses = look.find(Dose, {"test_id": test.id})
    if not doses:
        return {}
    dose = doses[-1].entry
    return {
        "lot": dose.lot,
        "expiry": dose.expiry.isoformat(),
        "volume_ml": f"{dose.volume_ml:g}",
        "dose_arithmetic": dose.arithmetic,
        "drunk": dose.drunk,
    }


def _events(clinic: Clinic, look: Look, test: Test) -> str:
    clock = clock_of(look, test)
    lines = []
    for one in sorted(look.find(TestEvent, {"test_id": test.id}), key=lambda one: one.entry.at):
        event = one.entry
        minute = clock.minute(event.at, seq=one.seq)
        words = [f"{event.at.astimezone(clinic.zone):%H:%M}"]
        if minute is not None:
            words.append(f"minute {minute:.0f}")
        words.append(event.what)
        if event.lost_fraction is not None:
            words.append(f"{100.0 * event.lost_fraction:.0f} % of the drink lost")
        if event.note:
            words.append(" ".join(event.note.split()))
        lines.append(", ".join(words))
    return "\n".join(lines)


def _rinse(look: Look, test: Test, tries: tuple[SampleTry, ...]) -> str:
    """Return when the mouth was rinsed, as far as rinses are recorded."""
    rinses = [one.entry.at for one in look.find(TestEvent, {"test_id": test.id, "what": "rinsed"})]
    if not rinses or test.t0 is None:
        return ""
    t0 = test.t0
    later = [one.at for one in tries if one.status == "ok" and one.at > t0]
    if all(at <= t0 for at in rinses):
        return "baseline"
    return "every" if all(_soon_after(at, rinses) for at in later) else "unknown"


def _soon_after(at: datetime, rinses: list[datetime]) -> bool:
    return any(timedelta(0) <= at - rinse <= _RINSED_BEFORE for rinse in rinses)
