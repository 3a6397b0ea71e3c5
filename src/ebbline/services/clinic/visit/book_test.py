"""Book a test, and change its appointment."""

from dataclasses import dataclass, replace
from datetime import datetime

from ebbline.core.clinic.age import age_on
from ebbline.core.clinic.dose_table import rules_for
from ebbline.core.clinic.record.people import Patient, Referral
from ebbline.core.clinic.record.staff import Adoption, Analyser
from ebbline.core.clinic.record.visit import Booking, Test
from ebbline.core.clinic.referral_table import alarm_words, order_words
from ebbline.core.clinic.safety_table import MIXES
from ebbline.core.errors import ClinicError, FieldError, list_allowed
from ebbline.services.clinic.desk import Actor, Clinic
from ebbline.services.clinic.entered import choice, moment, reason
from ebbline.services.clinic.people.register_patient import identity_of
from ebbline.services.clinic.ports import Act, Look
from ebbline.services.clinic.repeated import repeated
from ebbline.services.clinic.service.adopt import PROTOCOL, RULE_SET, in_force
from ebbline.services.clinic.sole import needed
from ebbline.services.clinic.steps import standing_in

# A test whose samples are all in: its result is known, or will be soon.
_ENDED = ("finished", "drafted", "signed", "amended")


@dataclass(frozen=True, slots=True)
class Appointment:
    """When and where: ``slot`` with its zone, ``needs`` of the visit such as an interpreter."""

    slot: datetime
    chair: str
    analyser_id: str | None
    needs: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Plan:
    """What is to be drunk and how the test is run; protocol and criterion by their ids."""

    substrate: str
    mix: str
    protocol: str
    criterion: str
    site: str


@dataclass(frozen=True, slots=True)
class Booked:
    """A test and its appointment; ``notes`` remind the person who books, and block nothing."""

    test: Test
    booking: Booking
    notes: tuple[str, ...]


def book_test(
    clinic: Clinic,
    who: Actor,
    *,
    referral_id: str,
    plan: Plan,
    appointment: Appointment,
    token: str | None,
) -> Booked:
    """Book a test.

    Parameters
    ----------
    clinic : Clinic
        Where.
    who : Actor
        Who books.
    referral_id : str
        The referral that the test is for.
    plan : Plan
        What is to be done.
    appointment : Appointment
        When and where.
    token : str or None
        What the sender calls this act.

    Returns
    -------
    Booked

    Raises
    ------
    FieldError
        If a field cannot be, or the birth date of the patient is not known.
    ClinicError
        If protocol or criterion is not adopted, the protocol is for another substrate, or the
        analyser is not in use.
    """
    mix = choice("mix", plan.mix, MIXES)
    slot = moment("slot", appointment.slot)
    with clinic.act("book", who, why="", token=token) as act:
        if before := repeated(act, Booking, token, same=lambda one: _is(one, appointment)):
            test = act.get(Test, before.test_id).entry
            return Booked(test, before, _notes(clinic, act, test))
        referral = act.get(Referral, referral_id).entry
        patient = act.get(Patient, referral.patient_id).entry
        adopted = in_force(act, what=PROTOCOL, name=plan.protocol)
        criterion = in_force(act, what=RULE_SET, name=plan.criterion)
        protocol = clinic.documents.protocol(adopted.entry.text)
        if plan.substrate not in protocol.substrates:
            raise ClinicError(
                field="substrate",
                wrong=f"the protocol {protocol.id} is not for it",
                allowed=list_allowed(protocol.substrates),
                came=plan.substrate or "nothing",
            )
        _check_slot(act, appointment)
        _check_analyser(act, appointment)
        test = act.add(
            Test(
                id=act.new_id(),
                number=act.count(Test) + 1,
                patient_id=patient.id,
                referral_id=referral.id,
                substrate=plan.substrate,
                mix=mix,
                protocol_id=adopted.entry.id,
                criterion_id=criterion.entry.id,
                state=clinic.rules.life.start,
                state_why="",
                t0=None,
                t0_defined_as=protocol.t0,
                age_years=_age(clinic, act, patient.id, slot),
                weight_kg=None,
                site=plan.site.strip(),
                invented=patient.invented,
            )
        )
        booking = act.add(_booking(act.new_id(), test, appointment))
        return Booked(test, booking, _notes(clinic, act, test))


def change_booking(
    clinic: Clinic,
    who: Actor,
    *,
    test_id: str,
    version: int,
    appointment: Appointment,
    why: str,
    token: str | None,
) -> Booking:
    """Change the appointment of a test whose patient has not arrived.

    With another time the preparation sheet no longer counts as sent: its dates have changed.

    Parameters
    ----------
    clinic : Clinic
        Where.
    who : Actor
        Who changes it.
    test_id : str
        The test.
    version : int
        The version of the booking that the person saw.
    appointment : Appointment
        When and where.
    why : str
        The reason.
    token : str or None
        What the sender calls this act.

    Returns
    -------
    Booking

    Raises
    ------
    FieldError
        If a field cannot be, or no reason is given.
    ClinicError
        If the patient has arrived, or the analyser is not in use.
    ConflictError
        If it has changed since it was seen.
    """
    slot = moment("slot", appointment.slot)
    with clinic.act("change booking", who, why=reason(why), token=token) as act:
        if before := repeated(act, Booking, token, same=lambda one: _is(one, appointment)):
            return before
        test = standing_in(act, test_id, states=(clinic.rules.life.start,))
        stands = needed(act, Booking, test_id).entry
        _check_analyser(act, appointment)
        changed = _booking(stands.id, test.entry, appointment)
        if slot == stands.slot:
            changed = replace(changed, sheet_release=stands.sheet_release)
        else:
            _check_slot(act, appointment)
            age = _age(clinic, act, test.entry.patient_id, slot)
            act.revise(replace(test.entry, age_years=age), version=test.version)
        return act.revise(changed, version=version)


def _is(booking: Booking, appointment: Appointment) -> bool:
    return (booking.slot, booking.chair, booking.analyser_id, booking.needs) == (
        appointment.slot,
        appointment.chair.strip(),
        appointment.analyser_id,
        tuple(appointment.needs),
    )


def _booking(entry_id: str, test: Test, appointment: Appointment) -> Booking:
    return Booking(
        id=entry_id,
        test_id=test.id,
        patient_id=test.patient_id,
        slot=appointment.slot,
        chair=appointment.chair.strip(),
        analyser_id=appointment.analyser_id,
        sheet_release="",
        needs=tuple(appointment.needs),
    )


def _check_slot(act: Act, appointment: Appointment) -> None:
    if appointment.slot < act.at:
        raise FieldError(
            field="slot",
            wrong="in the past",
            allowed="now or later",
            came=appointment.slot.isoformat(),
        )


def _check_analyser(act: Act, appointment: Appointment) -> None:
    if appointment.analyser_id is None:
        return
    analyser = act.get(Analyser, appointment.analyser_id).entry
    if not analyser.in_use:
        in_use = [one.entry.name for one in act.find(Analyser, {"in_use": True})]
        raise ClinicError(
            field="analyser_id",
            wrong="this analyser is not in use",
            allowed=list_allowed(in_use) or "an analyser that is in use",
            came=analyser.name,
        )


def _age(clinic: Clinic, look: Look, patient_id: str, slot: datetime) -> float:
    born = identity_of(look, patient_id).entry.born
    if born is None:
        raise FieldError(
            field="born",
            wrong="the birth date of the patient is not known, and the dose depends on the age",
            allowed="a patient with a birth date",
            came="nothing",
        )
    return age_on(born, slot.astimezone(clinic.zone).date())


def _notes(clinic: Clinic, look: Look, test: Test) -> tuple[str, ...]:
    """Return what whoever books should know."""
    table = clinic.rules.referral
    referral = look.get(Referral, test.referral_id).entry
    alarms = alarm_words(table, referral.alarm_features)
    notes = [alarms] if alarms else []
    if not referral.alarm_answered:
        notes.append(table.unasked)
    earlier = look.find(Test, {"patient_id": test.patient_id, "state": _ENDED})
    done = {one.entry.substrate for one in earlier}
    notes += order_words(table, substrate=test.substrate, done=done)
    protocol = look.get(Adoption, test.protocol_id).entry
    doses = clinic.documents.doses(protocol.text)
    if test.age_years is not None and not rules_for(
        doses, substrate=test.substrate, age_years=test.age_years
    ):
        notes.append(f"The protocol {protocol.name} has no dose for {test.age_years:g} years.")
    return tuple(notes)
