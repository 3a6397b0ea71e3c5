"""Who gets in: waits after wrong passwords, how long sessions last, and proofs for signing."""

from dataclasses import dataclass
from datetime import datetime

from ebbline.core.clinic.access_table import ProofLimits, SessionLimits, Throttle
from ebbline.core.errors import AccessError


@dataclass(frozen=True, slots=True)
class Tried:
    """Wrong passwords in a row under one login, and when the last one was given, in UTC."""

    failures: int
    last_at: datetime


@dataclass(frozen=True, slots=True)
class PasswordProof:
    """That a user gave the right password at a moment, in UTC. It says nothing about another user.

    It is handed on inside the program and never kept or sent.
    """

    user_id: str
    at: datetime


def next_try(tried: Tried | None, throttle: Throttle, *, now: datetime) -> tuple[Tried, float]:
    """Return what to keep before a password is looked at, and how long it is too early for it.

    A try is wrong until it is found right: counted first, many tries at once are no more than one
    after the other.

    Parameters
    ----------
    tried : Tried or None
        Wrong passwords so far.
    throttle : Throttle
        The waits.
    now : datetime
        The time.

    Returns
    -------
    tuple of Tried and float
        The wrong passwords with this one, and 0; or those so far, and the wait in seconds. It is
        never more than the longest one, even if the clock was set back: then it counts from now.
    """
    if tried is None or (now - tried.last_at).total_seconds() >= throttle.forget_s:
        return Tried(1, now), 0.0
    last_at = min(tried.last_at, now)
    due = [one.wait_s for one in throttle.waits if one.failures <= tried.failures]
    left = due[-1] - (now - last_at).total_seconds() if due else 0.0
    if left > 0.0:
        return Tried(tried.failures, last_at), left
    return Tried(tried.failures + 1, now), 0.0


def too_early(wait_s: float) -> AccessError:
    """Return the refusal of a try that came too early.

    Parameters
    ----------
    wait_s : float
        How long to wait until the next one, s.

    Returns
    -------
    AccessError
    """
    return AccessError(
        field="login",
        wrong="too many wrong passwords in a row",
        allowed=f"another try in {_duration(wait_s)}",
        came="a try before that",
    )


def check_session(
    limits: SessionLimits,
    *,
    begun_at: datetime,
    seen_at: datetime,
    ended_at: datetime | None,
    now: datetime,
) -> bool:
    """Refuse a session that has ended; return whether to note that somebody works in it.

    Parameters
    ----------
    limits : SessionLimits
        How long sessions last.
    begun_at, seen_at : datetime
        When it began, and when it was last noted that somebody worked in it.
    ended_at : datetime or None
        When it was ended, None where it was not.
    now : datetime
        The time.

    Returns
    -------
    bool

    Raises
    ------
    AccessError
        In other words for a session that was ended, that nobody worked in, and that lasted its
        full time.
    """
    if ended_at is not None:
        raise AccessError(
            field="session",
            wrong="this session was ended",
            allowed="a new login",
            came="a session that was ended by a logout, a new password or a manager",
        )
    idle = (now - seen_at).total_seconds()
    if idle >= limits.idle_s:
        raise AccessError(
            field="session",
            wrong="nobody has worked in this session for too long",
            allowed=f"less than {_duration(limits.idle_s)}, or a new login",
            came=_duration(idle),
        )
    lasted = (now - begun_at).total_seconds()
    if lasted >= limits.most_s:
        raise AccessError(
            field="session",
            wrong="this session has lasted its full time",
            allowed=f"less than {_duration(limits.most_s)}, or a new login",
            came=_duration(lasted),
        )
    # Noted too where the clock was set back: otherwise the session would stay open for longer.
    return idle < 0.0 or idle >= limits.seen_every_s


def check_proof(proof: PasswordProof, user_id: str, *, now: datetime, limits: ProofLimits) -> None:
    """Refuse to sign on a proof that is another's or too old.

    Parameters
    ----------
    proof : PasswordProof
        That the password was given.
    user_id : str
        Who signs.
    now : datetime
        The time.
    limits : ProofLimits
        How long a proof lasts.

    Raises
    ------
    AccessError
        If it is of another user, too old, or of a time that has not come.
    """
    if proof.user_id != user_id:
        raise AccessError(
            field="password",
            wrong="somebody else gave the password",
            allowed="the password of the person who signs",
            came="that of another person",
        )
    age = (now - proof.at).total_seconds()
    if not 0.0 <= age <= limits.life_s:
        raise AccessError(
            field="password",
            wrong="the password was not given just now",
            allowed=f"at most {_duration(limits.life_s)} before signing",
            came=f"{_duration(age)} before" if age > 0.0 else "a time after signing",
        )


def _duration(seconds: float) -> str:
    """Return a duration in words, rounded up so that nobody comes too early."""
    whole = -int(-seconds // 1)
    if whole < 60:
        return f"{whole} s"
    minutes = -(-whole // 60)
    return f"{minutes} min" if minutes < 120 else f"{minutes // 60} h {minutes % 60} min"
