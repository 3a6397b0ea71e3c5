"""Which logins and passwords may be chosen, and the one form in which each is kept."""

import unicodedata
from collections.abc import Iterable
from itertools import pairwise

from ebbline.core.clinic.access_table import PasswordPolicy
from ebbline.core.errors import FieldError

_LOGIN = (2, 40)
# A part of a name that is shorter than this is in many words by chance.
_PART = 4


def fold_login(login: str) -> str:
    """Return the one form of a login that is compared and kept.

    Parameters
    ----------
    login : str
        As it was typed.

    Returns
    -------
    str
        Without white space around it, in Unicode's form NFKC, with upper and lower case alike.
    """
    folded = login
    # Each of the two can undo the other, so both are done twice (Unicode Standard, section 3.13).
    for _ in range(2):
        folded = unicodedata.normalize("NFKC", folded).casefold()
    return unicodedata.normalize("NFKC", folded).strip()


def new_login(login: str) -> str:
    """Return a login that somebody may be given, in its one form.

    Parameters
    ----------
    login : str
        As it was typed.

    Returns
    -------
    str

    Raises
    ------
    FieldError
        If it is too short or too long, or holds anything but letters, digits and ``. - _ @``.
    """
    folded = fold_login(login)
    least, most = _LOGIN
    if not least <= len(folded) <= most or not all(
        letter.isalnum() or letter in ".-_@" for letter in folded
    ):
        raise FieldError(
            field="login",
            wrong="this cannot be a login",
            allowed=f"{least} to {most} letters, digits and . - _ @",
            came=f"{len(folded)} characters" if len(folded) > most else repr(folded),
        )
    return folded


def fold_password(password: str, policy: PasswordPolicy) -> str | None:
    """Return the one form of a password that is hashed.

    Parameters
    ----------
    password : str
        As it was typed.
    policy : PasswordPolicy
        How long it may be.

    Returns
    -------
    str or None
        In Unicode's form NFKC, so that every keyboard gives the same (NIST SP 800-63B, section
        5.1.1.2). None for what can be nobody's password: it is too long, or holds a character that
        Unicode does not define and a later version may turn into another.
    """
    # What is far too long is not even normalised.
    if len(password) > 4 * policy.most_length:
        return None
    folded = unicodedata.normalize("NFKC", password)
    if len(folded) > policy.most_length:
        return None
    if any(unicodedata.category(letter) in ("Cn", "Cs") for letter in folded):
        return None
    return folded


def new_password(password: str, policy: PasswordPolicy, *, words: Iterable[str]) -> str:
    """Return a password that somebody may choose, in its one form.

    Length counts and nothing else is asked for: no digits, no signs. Refused is what is guessed
    first: passwords commonly used, repetitions and sequences, and the person's or the service's
    own name. Those made of letters are refused with digits and signs among them too.

    Parameters
    ----------
    password : str
        As it was typed.
    policy : PasswordPolicy
        Lengths and common passwords.
    words : iterable of str
        The login, the name and the name of the service.

    Returns
    -------
    str

    Raises
    ------
    FieldError
        Saying what is wrong, and never the password.
    """
    allowed = f"{policy.least_length} to {policy.most_length} characters"
    folded = fold_password(password, policy)
    if folded is None:
        # The lengths of two forms may differ: the one that was typed is the one that people count.
        if len(password) > policy.most_length:
            raise _refused("too long", allowed, f"{len(password)} characters")
        raise _refused(
            "it cannot be kept as it is", "characters that Unicode defines", "another character"
        )
    if len(folded) < policy.least_length:
        raise _refused("too short", allowed, f"{len(folded)} characters")
    advice = "several words that do not belong together are easy to remember"
    lower = folded.casefold()
    bare = _letters(lower)
    if lower in policy.common or (bare and bare in policy.common):
        raise _refused("everybody tries this one first", advice, "a commonly used password")
    if _is_guessed(lower):
        raise _refused("everybody tries this one first", advice, "a repetition or a sequence")
    if bare and bare in _own_words(words):
        raise _refused("it is easily guessed", advice, "a name of the person or the service")
    return folded


def _refused(wrong: str, allowed: str, came: str) -> FieldError:
    return FieldError(field="password", wrong=wrong, allowed=allowed, came=came)


def _letters(text: str) -> str:
    return "".join(letter for letter in text if letter.isalpha())


def _is_guessed(text: str) -> bool:
    """Whether a text is one piece repeated, or runs through the alphabet or the digits."""
    half = len(text) // 2
    if any(text[size:] == text[:-size] for size in range(1, half + 1)):
        return True
    steps = {ord(after) - ord(before) for before, after in pairwise(text)}
    # After 9 comes 0.
    return any(steps <= {step, -9 * step} for step in (1, -1)) and text.isalnum()


def _own_words(words: Iterable[str]) -> set[str]:
    found: set[str] = set()
    for word in words:
        lower = unicodedata.normalize("NFKC", word).casefold()
        parts = "".join(c if c.isalpha() else " " for c in lower).split()
        found |= {part for part in parts if len(part) >= _PART}
        found.add("".join(parts))
    return found - {""}
