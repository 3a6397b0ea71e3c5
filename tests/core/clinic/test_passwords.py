import tomllib
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ebbline.adapters.files.library import DATA
from ebbline.core.clinic.access_table import parse_access
from ebbline.core.clinic.passwords import fold_login, fold_password, new_login, new_password
from ebbline.core.errors import FieldError

POLICY = parse_access(tomllib.loads((DATA / "access.toml").read_text(encoding="utf-8"))).password
WORDS = ("ben.shore", "Ben Shore", "Harbour Clinic")
ADVICE = "several words that do not belong together are easy to remember"


def refusal(password: str) -> str:
    """Return the words with which a password is refused."""
    with pytest.raises(FieldError) as caught:
        new_password(password, POLICY, words=WORDS)
    return str(caught.value)


@given(st.text())
def test_the_one_form_of_a_login_stays_as_it_is(login: str) -> None:
    """Folding it once more changes nothing, so that what is kept is found again."""
    folded = fold_login(login)
    assert fold_login(folded) == folded


@pytest.mark.parametrize(
    ("typed", "folded"),
    [
        ("  Ben.Shore ", "ben.shore"),
        # Unicode Standard Annex 15, figure 6: full width letters and ligatures have plain forms.
        ("ｂｅｎ", "ben"),
        ("ﬁnn", "finn"),
        # Unicode's CaseFolding.txt: 00DF folds to ss.
        ("Strauß", "strauss"),
        ("A\u030asa", "åsa"),
    ],
)
def test_logins_that_look_alike_are_one(typed: str, folded: str) -> None:
    """White space, case, width and composed letters make no difference."""
    assert new_login(typed) == folded


@pytest.mark.parametrize(
    ("login", "came"),
    [
        ("", "''"),
        ("a", "'a'"),
        ("ben shore", "'ben shore'"),
        ("ben\x00", "'ben\\x00'"),
        ("ben\ud800", "'ben\\ud800'"),
        ("b" * 41, "41 characters"),
    ],
)
def test_what_cannot_be_a_login_is_refused(login: str, came: str) -> None:
    """Naming what was allowed."""
    with pytest.raises(FieldError) as caught:
        new_login(login)
    assert str(caught.value) == (
        f"login: this cannot be a login; allowed: 2 to 40 letters, digits and . - _ @; came: {came}"
    )


@pytest.mark.parametrize(
    "password",
    [
        "kelp gull nine",
        "only small letters here",
        "лодка и маяк",
        "🐚🦀🐟🌊🐚🐙🦑🐠🐬🐳",
        "29471 83650 11",
        " white space counts ",
        "x" * 500 + "y" * 500,
        "mypassword is my own",
        "shoreline and harbour wall",
    ],
)
def test_length_is_all_that_is_asked_for(password: str) -> None:
    """NIST SP 800-63B, 5.1.1.2: no rules of composition, and every character is accepted."""
    assert new_password(password, POLICY, words=WORDS) == unicodedata.normalize("NFKC", password)


@pytest.mark.parametrize(
    ("password", "words"),
    [
        ("", "too short; allowed: 10 to 1000 characters; came: 0 characters"),
        ("kelp gull", "too short; allowed: 10 to 1000 characters; came: 9 characters"),
        ("kg" + "x" * 999, "too long; allowed: 10 to 1000 characters; came: 1001 characters"),
        ("x" * 10_000_000, "too long; allowed: 10 to 1000 characters; came: 10000000 characters"),
        (
            "kelp gull \ud800",
            (
                "it cannot be kept as it is; allowed: characters that Unicode defines; "
                "came: another character"
            ),
        ),
        (
            # The last code point of plane 0 is no character (Unicode Standard, section 23.7).
            "kelp gull \uffff",
            (
                "it cannot be kept as it is; allowed: characters that Unicode defines; "
                "came: another character"
            ),
        ),
    ],
)
def test_what_is_too_short_or_cannot_be_kept_is_refused(password: str, words: str) -> None:
    """Without repeating the password."""
    assert refusal(password) == f"password: {words}"


@pytest.mark.parametrize(
    "password",
    ["1q2w3e4r5t", "1Q2W3E4R5T", "qwertyuiop", "Password2026", "!!!password", "P a s s w o r d"],
)
def test_commonly_used_passwords_are_refused(password: str) -> None:
    """NIST SP 800-63B, 5.1.1.2: with digits, signs and capitals among the letters too."""
    assert refusal(password) == (
        "password: everybody tries this one first; "
        f"allowed: {ADVICE}; came: a commonly used password"
    )


@pytest.mark.parametrize(
    "password",
    [
        "aaaaaaaaaa", "gullgullgull", "gullgullgu", "klmnopqrst", "tsrqponmlk", "345678901234",
        "432109876543",
    ],
)  # fmt: skip
def test_repetitions_and_sequences_are_refused(password: str) -> None:
    """NIST SP 800-63B (2017), 5.1.1.2, names both among what a list should hold."""
    assert refusal(password) == (
        "password: everybody tries this one first; "
        f"allowed: {ADVICE}; came: a repetition or a sequence"
    )


@pytest.mark.parametrize(
    "password",
    ["ben.shore.2026", "BenShore12", "shore123456", "Harbour!2026", "harbourclinic", "Ben-Shore-7"],
)
def test_the_own_name_is_refused(password: str) -> None:
    """NIST SP 800-63B, 5.1.1.2: the login, the service, and what is made of them."""
    assert refusal(password) == (
        "password: it is easily guessed; "
        f"allowed: {ADVICE}; came: a name of the person or the service"
    )


def test_a_password_typed_in_another_form_is_the_same() -> None:
    """NIST SP 800-63B, 5.1.1.2: it is normalised (NFKC) before it is hashed."""
    composed, decomposed = "caf\u00e9 by the quay", "cafe\u0301 by the quay"
    assert fold_password(composed, POLICY) == fold_password(decomposed, POLICY) == composed


def test_upper_and_lower_case_of_a_password_differ() -> None:
    """Only logins are folded."""
    assert fold_password("Kelp Gull Nine", POLICY) != fold_password("kelp gull nine", POLICY)


@given(st.text(max_size=60))
def test_a_password_is_accepted_in_its_one_form_or_refused_without_repeating_it(
    password: str,
) -> None:
    """Short ones may be among the words by chance."""
    words = ""
    try:
        folded = new_password(password, POLICY, words=WORDS)
        assert len(folded) >= POLICY.least_length
        assert fold_password(folded, POLICY) == folded
    except FieldError as error:
        words = str(error)
    assert len(password) < 8 or password not in words
