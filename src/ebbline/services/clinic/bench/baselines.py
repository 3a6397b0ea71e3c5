"""The fasting readings of a test, and the limits that its adopted rule set sets for them."""

from ebbline.core.clinic.baseline import Fasting, Limit
from ebbline.core.clinic.record.bench import SampleTry
from ebbline.core.clinic.record.staff import Adoption
from ebbline.core.clinic.record.visit import Test
from ebbline.core.errors import ClinicError
from ebbline.services.clinic.bench.minutes import clock_of, minute_of_try
from ebbline.services.clinic.bench.place_sample import tries_of
from ebbline.services.clinic.desk import Clinic
from ebbline.services.clinic.ports import Look


def fasting_readings(look: Look, test: Test) -> tuple[Fasting, ...]:
    """Return the fasting readings that count, with the values that count.

    Parameters
    ----------
    look : Look
        The record.
    test : Test
        The test.

    Returns
    -------
    tuple of Fasting
        Minutes from T0; while there is none, from the last of them.

    Raises
    ------
    ClinicError
        If there is none yet.
    """
    kept = [one for one in tries_of(look, test.id) if one.entry.label and one.entry.status == "ok"]
    if not kept:
        raise ClinicError(
            field="baseline",
            wrong="there is no fasting reading yet",
            allowed="one or more",
            came="none",
        )
    clock = clock_of(look, test)
    last = kept[-1].entry.at
    found = []
    for one in kept:
        minute = minute_of_try(look, clock, one)
        if minute is None:
            minute = (one.entry.at - last).total_seconds() / 60.0
        h2_ppm, ch4_ppm = counted(one.entry)
        found.append(Fasting(sample=one.entry.id, minute=minute, h2_ppm=h2_ppm, ch4_ppm=ch4_ppm))
    return tuple(found)


def counted(one: SampleTry) -> tuple[float, float | None]:
    """Return hydrogen and methane of a reading as they count, ppm.

    Parameters
    ----------
    one : SampleTry
        A try that is ok.

    Returns
    -------
    float, float or None
        Normalised where the sample was scaled, raw otherwise.
    """
    if one.quality == "normalised" and one.h2_normalised_ppm is not None:
        return one.h2_normalised_ppm, one.ch4_normalised_ppm
    assert one.h2_ppm is not None  # Every try that is ok has a value.
    return one.h2_ppm, one.ch4_ppm


def baseline_limits(clinic: Clinic, look: Look, test: Test) -> tuple[Limit, ...]:
    """Return what the adopted rule set asks of a baseline.

    Parameters
    ----------
    clinic : Clinic
        Reads its text.
    look : Look
        The record.
    test : Test
        The test.

    Returns
    -------
    tuple of Limit
        None where it asks nothing for this substrate.
    """
    rule_set = clinic.documents.rule_set(look.get(Adoption, test.criterion_id).entry.text)
    return tuple(
        Limit(
            gas=row.gas,
            comparison=row.comparison,
            threshold_ppm=row.threshold,
            says=row.says,
            source=f"{rule_set.source}; {row.source}",
        )
        for row in rule_set.validity
        if test.substrate in row.substrates
    )
