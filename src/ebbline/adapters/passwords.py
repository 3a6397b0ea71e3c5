"""Hash passwords by Argon2id, and make those that are used once."""

import secrets
from functools import cached_property

from argon2 import Parameters, PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError
from argon2.low_level import hash_secret_raw
from argon2.profiles import RFC_9106_LOW_MEMORY

ALPHABET = "23456789abcdefghjkmnpqrstvwxyz"
"""Letters and digits that nobody takes for another one: without 0 and o, 1, i and l, u beside v."""
GROUPS = 5
GROUP = 4


class Argon2Passwords:
    """Hashes passwords, and says whether one fits a hash.

    Parameters
    ----------
    parameters : Parameters
        Cost of a hash. A hash that was made at another cost still verifies.
    """

    def __init__(self, parameters: Parameters = RFC_9106_LOW_MEMORY) -> None:
        # The second recommended option of RFC 9106, section 4: Argon2id with 3 passes, 4 lanes,
        # 64 MiB, a salt of 128 and a tag of 256 bits. The first one takes 2 GiB for each login.
        self._parameters = parameters
        self._hasher = PasswordHasher.from_parameters(parameters)

    def hash(self, password: str) -> str:
        """Return the hash of a password, with its own salt and its cost in it."""
        return self._hasher.hash(password)

    def fits(self, hashed: str | None, password: str | None) -> bool:
        """Return whether a password is the one that was hashed.

        Where there is no hash or no password, as much time is spent and the answer is no: how long
        a login takes does not tell who works here.
        """
        try:
            self._hasher.verify(
                self._nobody if hashed is None else hashed, "" if password is None else password
            )
        except (VerificationError, InvalidHashError):
            return False
        return hashed is not None and password is not None

    def outdated(self, hashed: str) -> bool:
        """Return whether a hash was made at another cost than hashes are made at now."""
        return self._hasher.check_needs_rehash(hashed)

    def blind(self, text: str, *, salt: bytes) -> str:
        """Return a text as something that tells it only to whoever guesses it, slowly.

        The same text gives the same answer under the same salt.
        """
        return hash_secret_raw(
            text.encode("utf-8", "surrogatepass"),
            salt,
            time_cost=self._parameters.time_cost,
            memory_cost=self._parameters.memory_cost,
            parallelism=self._parameters.parallelism,
            hash_len=32,
            type=self._parameters.type,
        ).hex()

    def one_time(self) -> str:
        """Return a new password to be used once, easy to read from paper.

        5 groups of 4 from an alphabet of 30: 20 · log2(30) = 98 bits, more than any guessing finds.
        """
        return "-".join(
            "".join(secrets.choice(ALPHABET) for _ in range(GROUP)) for _ in range(GROUPS)
        )

    def token(self) -> str:
        """Return a new random token of 256 bits."""
        return secrets.token_urlsafe(32)

    @cached_property
    def _nobody(self) -> str:
        """The hash of a password that nobody knows."""
        return self._hasher.hash(secrets.token_urlsafe(32))
