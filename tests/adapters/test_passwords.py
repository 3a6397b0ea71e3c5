import math
import re
from dataclasses import replace

import pytest
from argon2 import PasswordHasher, extract_parameters
from argon2.low_level import Type
from argon2.profiles import CHEAPEST
from cryptography.hazmat.primitives.kdf.argon2 import Argon2id
from hypothesis import given
from hypothesis import strategies as st

from ebbline.adapters.passwords import ALPHABET, GROUP, GROUPS, Argon2Passwords
from ebbline.core.clinic.access_table import PasswordPolicy
from ebbline.core.clinic.passwords import new_password

CHEAP = Argon2Passwords(CHEAPEST)
POLICY = PasswordPolicy(least_length=10, most_length=1000, common=frozenset())
SALT = bytes(range(16))


def test_the_other_library_gives_the_vector_of_the_standard() -> None:
    """RFC 9106, section 5.3: the tag of Argon2id over known input."""
    derived = Argon2id(
        salt=b"\x02" * 16,
        length=32,
        iterations=3,
        lanes=4,
        memory_cost=32,
        ad=b"\x04" * 12,
        secret=b"\x03" * 8,
    ).derive(b"\x01" * 32)
    assert derived.hex() == "0d640df58d78766c08c037a34a8b53c9d01ef0452d75b65eb52520e96b01e659"


def test_a_hash_is_what_the_other_library_computes() -> None:
    """OpenSSL's Argon2id, which gives the standard's vector, reads and verifies our hash."""
    Argon2id.verify_phc_encoded(b"kelp gull nine", Argon2Passwords().hash("kelp gull nine"))


def test_a_blind_text_is_what_the_other_library_computes() -> None:
    """The same salt and cost give the same tag by OpenSSL."""
    derived = Argon2id(salt=SALT, length=32, iterations=3, lanes=4, memory_cost=65536).derive(
        b"ben.shore"
    )
    assert Argon2Passwords().blind("ben.shore", salt=SALT) == derived.hex()


def test_a_hash_costs_what_the_standard_recommends() -> None:
    """RFC 9106, section 4, second option: 3 passes, 4 lanes, 64 MiB, salt 128 and tag 256 bits."""
    cost = extract_parameters(Argon2Passwords().hash("kelp gull nine"))
    assert cost.type is Type.ID
    assert (cost.time_cost, cost.parallelism, cost.memory_cost) == (3, 4, 2**16)
    assert (cost.salt_len * 8, cost.hash_len * 8) == (128, 256)


def test_a_password_fits_its_own_hash_and_no_other() -> None:
    """And two hashes of one password differ, by their salts."""
    hashed = CHEAP.hash("kelp gull nine")
    assert CHEAP.fits(hashed, "kelp gull nine")
    assert not CHEAP.fits(hashed, "kelp gull ten")
    assert hashed != CHEAP.hash("kelp gull nine")


@pytest.mark.parametrize("hashed", ["", "not a hash", "$argon2id$v=19$m=8,t=1,p=1$AAAA$"])
def test_nothing_fits_what_is_no_hash(hashed: str) -> None:
    """A damaged row lets nobody in."""
    assert not CHEAP.fits(hashed, "kelp gull nine")


def test_a_stranger_takes_as_much_work_as_a_colleague(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without a hash or without a password, one of the same cost is looked at."""
    seen: list[str] = []
    verify = PasswordHasher.verify

    def noted(hasher: PasswordHasher, hashed: str, password: str) -> object:
        seen.append(hashed)
        return verify(hasher, hashed, password)

    monkeypatch.setattr(PasswordHasher, "verify", noted)
    passwords = Argon2Passwords(replace(CHEAPEST, memory_cost=16))
    hashed = passwords.hash("kelp gull nine")
    assert passwords.fits(hashed, "kelp gull nine")
    assert not passwords.fits(None, "kelp gull nine")
    assert not passwords.fits(hashed, None)
    assert not passwords.fits(None, None)
    assert not passwords.fits(None, "")
    assert not passwords.fits(passwords.hash(""), None)
    assert len(seen) == 6
    assert [extract_parameters(one) for one in seen] == [extract_parameters(hashed)] * 6


def test_a_hash_of_another_cost_fits_and_is_outdated() -> None:
    """So that it can be made anew at the next login."""
    dearer = Argon2Passwords(replace(CHEAPEST, time_cost=2))
    hashed = CHEAP.hash("kelp gull nine")
    assert dearer.fits(hashed, "kelp gull nine")
    assert dearer.outdated(hashed)
    assert not CHEAP.outdated(hashed)


@given(st.text(), st.text())
def test_a_blind_text_is_the_same_only_for_the_same_text(one: str, other: str) -> None:
    """Also for what no database would take."""
    assert (CHEAP.blind(one, salt=SALT) == CHEAP.blind(other, salt=SALT)) == (one == other)
    assert CHEAP.blind(one + "\ud800\x00", salt=SALT) != CHEAP.blind(one, salt=SALT)


def test_a_one_time_password_has_98_bits() -> None:
    """20 letters out of 30: log2(30^20) = 98.1, and 80 are asked for."""
    assert len(set(ALPHABET)) == 30
    assert math.log2(len(set(ALPHABET)) ** (GROUP * GROUPS)) == pytest.approx(98.138, abs=0.001)


def test_a_one_time_password_is_easy_to_read_and_always_another() -> None:
    """No letter in it is taken for another one, and it may be chosen by the rules of passwords."""
    made = [CHEAP.one_time() for _ in range(200)]
    assert len(set(made)) == 200
    assert all(
        re.fullmatch(r"([2-9a-hjkmnp-tv-z]{4}-){4}[2-9a-hjkmnp-tv-z]{4}", one) for one in made
    )
    assert set("".join(made)) == set(ALPHABET) | {"-"}
    assert not set("0o1ilu") & set(ALPHABET)
    assert [new_password(one, POLICY, words=()) for one in made] == made


def test_a_token_has_256_bits() -> None:
    """43 letters of 6 bits, of which the last 2 bits are empty, and never the same twice."""
    made = {CHEAP.token() for _ in range(200)}
    assert len(made) == 200
    assert {len(one) for one in made} == {43}
