"""``ebbline record``: passwords, and who works with it, on both databases."""

from datetime import timedelta

import pytest

from ebbline.adapters.sql.access import SqlAccess
from ebbline.adapters.sql.record import SqlRecord
from ebbline.bootstrap import door_of, utc_now
from ebbline.cli.record_named import VARIABLE
from ebbline.core.clinic.record.staff import CompetenceProof, User
from ebbline.services.clinic.access.access_ports import Door
from ebbline.services.clinic.access.first_start import first_manager
from ebbline.services.clinic.access.log_in import log_in
from tests.cli.conftest import Run

CHOSEN = "tide pool seven"
OTHER = "tide pool eleven"


@pytest.fixture
def asked() -> list[str]:
    """What was asked for at the prompts, in order."""
    return []


@pytest.fixture
def typed(asked: list[str], monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """What is typed where a password is asked for, in order."""
    answers: list[str] = []

    def answer(question: str) -> str:
        asked.append(question)
        return answers.pop(0)

    monkeypatch.setattr("ebbline.cli.record_named.getpass", answer)
    monkeypatch.delenv(VARIABLE, raising=False)
    return answers


@pytest.fixture
def door(record: SqlRecord) -> Door:
    """The door of the record, by the computer's clock, as the command has it."""
    return door_of(record)


@pytest.fixture
def once(door: Door) -> str:
    """The one-time password of R. Quay, login quay, the only person and manager."""
    given = first_manager(door, login="quay", name="R. Quay")
    assert given.password is not None
    return given.password


@pytest.fixture
def manager(run: Run, address: str, once: str, typed: list[str], asked: list[str]) -> str:
    """The login of R. Quay, who has chosen a password."""
    typed += [once, CHOSEN, CHOSEN]
    assert run("record", "password", "quay", "--record", address).code == 0
    asked.clear()
    return "quay"


def head(record: SqlRecord) -> tuple[int, str]:
    """Return number and hash of the last act."""
    with record.look() as look:
        return look.head()


def open_sessions(record: SqlRecord, login: str) -> int:
    """Return how many sessions of somebody were not ended."""
    with record.look() as look:
        (user,) = look.find(User, {"login": login})
    with SqlAccess(record, now=utc_now).look() as rows:
        return len(rows.sessions(user.entry.id))


def test_somebody_chooses_a_password(
    run: Run,
    address: str,
    record: SqlRecord,
    door: Door,
    once: str,
    typed: list[str],
    asked: list[str],
) -> None:
    """The new one is asked for twice and never shown; no session stays open."""
    typed += [once, CHOSEN, CHOSEN]
    done = run("record", "password", "quay", "--record", address)
    assert (done.code, done.out, done.err) == (0, "The password of quay was changed.\n", "")
    assert asked == [
        "Password until now, or the one for one login: ",
        "New password: ",
        "New password again: ",
    ]
    assert open_sessions(record, "quay") == 0
    assert not log_in(door, login="quay", password=CHOSEN, place="trial").must_change


@pytest.mark.parametrize(
    ("answers", "code", "words"),
    [
        (
            ("{once}", CHOSEN, OTHER),
            2,
            (
                "password: the two differ, nothing was changed; allowed: the same one twice; "
                "came: two passwords"
            ),
        ),
        (("wrong password",), 6, "login: login and password do not belong together; "),
        (("{once}", "short", "short"), 2, "password: "),
        (("{once}", "{once}", "{once}"), 2, "password: this is the old password; "),
    ],
)
def test_a_slip_of_the_pen_changes_no_password(
    run: Run,
    address: str,
    record: SqlRecord,
    door: Door,
    once: str,
    typed: list[str],
    answers: tuple[str, ...],
    code: int,
    words: str,
) -> None:
    """Two that differ, a wrong old one, one that may not be chosen; no session stays open."""
    typed += [answer.format(once=once) for answer in answers]
    done = run("record", "password", "quay", "--record", address)
    assert done.code == code
    assert done.err.startswith(f"ebbline: {words}")
    assert typed == []
    assert open_sessions(record, "quay") == 0
    assert log_in(door, login="quay", password=once, place="trial").must_change


def test_no_password_is_taken_but_from_the_keyboard(
    run: Run, address: str, once: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """There is no word or option for one, and an input that has ended is refused."""
    assert run("record", "password", "quay", CHOSEN, "--record", address).code == 2
    assert run("record", "password", "quay", "--password", "x", "--record", address).code == 2

    def ended(question: str) -> str:
        raise EOFError

    monkeypatch.setattr("ebbline.cli.record_named.getpass", ended)
    done = run("record", "password", "quay", "--record", address)
    assert done.code == 2
    assert done.err == (
        "ebbline: password: nothing was typed; allowed: a password, typed at the keyboard; "
        "came: the end of the input\n"
    )


def test_a_lone_manager_is_rescued(
    run: Run, address: str, door: Door, manager: str, record: SqlRecord
) -> None:
    """With a password for one login; the reason stays in the history, done by nobody's login."""
    done = run("record", "rescue", "QUAY", "--why", "forgot it on leave", "--record", address)
    assert done.code == 0
    login, password = done.out.splitlines()
    assert login == "Login: quay"
    _, words, given = password.partition("Password for one login, shown only now: ")
    assert words
    assert log_in(door, login=manager, password=given, place="trial").must_change
    with record.look() as look:
        (act,) = look.acts([look.head()[0]])
    assert (act.act, act.by, act.why) == ("manage users", "", "forgot it on leave")


def test_nobody_else_is_rescued(run: Run, address: str, manager: str, record: SqlRecord) -> None:
    """Nor without a reason; nothing is recorded."""
    before = head(record)
    other = run("record", "rescue", "tide", "--why", "forgot it", "--record", address)
    assert other.code == 6
    assert other.err == (
        "ebbline: login: this is not the login of an active manager; allowed: quay; came: tide\n"
    )
    bare = run("record", "rescue", manager, "--why", " ", "--record", address)
    assert bare.code == 2
    assert bare.err == "ebbline: why: no reason is given; allowed: words; came: nothing\n"
    assert run("record", "rescue", manager, "--record", address).code == 2
    assert head(record) == before


def test_a_manager_adds_somebody(
    run: Run, address: str, door: Door, manager: str, typed: list[str], asked: list[str]
) -> None:
    """With every role that is named; their first password is shown once and works for one login."""
    typed.append(CHOSEN)
    words = ("record", "add-person", "Tide", "--name", "M. Tide", "--by", manager)
    done = run(*words, "--role", "reviewer", "bench", "--record", address)
    assert asked == ["Password of quay: "]
    assert done.code == 0
    login, password = done.out.splitlines()
    assert login == "Login: tide"
    given = password.removeprefix("Password for one login, shown only now: ")
    assert log_in(door, login="tide", password=given, place="trial").must_change
    with door.clinic.record.look() as look:
        (user,) = look.find(User, {"login": "tide"})
    assert (user.entry.name, user.entry.roles) == ("M. Tide", ("bench", "reviewer"))


def test_a_role_may_be_named_again_and_again(
    run: Run, address: str, door: Door, manager: str, typed: list[str]
) -> None:
    """None of them is lost."""
    typed.append(CHOSEN)
    words = ("record", "add-person", "wave", "--name", "S. Wave", "--by", manager)
    assert run(*words, "--role", "bench", "--role", "auditor", "--record", address).code == 0
    with door.clinic.record.look() as look:
        (user,) = look.find(User, {"login": "wave"})
    assert user.entry.roles == ("bench", "auditor")


def test_somebody_who_cannot_be_added_is_refused(
    run: Run, address: str, manager: str, record: SqlRecord, typed: list[str]
) -> None:
    """A role that is none, a login that is taken, a wrong password: nothing is recorded."""
    before = head(record)
    for login, role, password, code, refused in (
        ("tide", "captain", CHOSEN, 2, "roles: these cannot be somebody's roles; "),
        ("quay", "bench", CHOSEN, 2, "login: this login is taken; "),
        ("tide", "bench", "wrong password", 6, "login: login and password do not belong "),
    ):
        typed.append(password)
        words = ("record", "add-person", login, "--name", "M. Tide", "--role", role)
        done = run(*words, "--by", manager, "--record", address)
        assert done.code == code
        assert done.err.startswith(f"ebbline: {refused}")
        assert done.out == ""
    assert head(record) == before


def test_only_a_manager_adds_people(
    run: Run, address: str, manager: str, record: SqlRecord, typed: list[str]
) -> None:
    """Somebody at the bench is refused."""
    typed.append(CHOSEN)
    words = ("record", "add-person", "tide", "--name", "M. Tide", "--role", "bench")
    given = run(*words, "--by", manager, "--record", address).out.split()[-1]
    typed += [given, OTHER, OTHER]
    run("record", "password", "tide", "--record", address)
    before = head(record)
    typed.append(OTHER)
    words = ("record", "add-person", "wave", "--name", "S. Wave", "--role", "manager")
    done = run(*words, "--by", "tide", "--record", address)
    assert done.code == 6
    assert head(record) == before


def test_the_people_are_listed(run: Run, address: str, record: SqlRecord) -> None:
    """By login, with roles, whether they may log in, and until when a competence was shown."""
    today = utc_now().date()
    with record.act("manage users", by="", why="", token=None) as act:
        act.add(User(act.new_id(), "wave", "S. Wave", ("bench",), False))
        tide = act.add(User(act.new_id(), "tide", "M. Tide", ("bench", "reviewer"), True))
        for from_day, until_day in (
            (today - timedelta(days=400), today - timedelta(days=35)),
            (today - timedelta(days=35), today + timedelta(days=330)),
        ):
            act.add(CompetenceProof(act.new_id(), tide.id, "bench", from_day, until_day, "watched"))
    before = head(record)
    done = run("record", "people", "--record", address)
    assert done.code == 0
    shown = f"valid until {today + timedelta(days=330)}"
    # The columns are as wide as their widest cell, two spaces apart.
    assert done.out.splitlines() == [
        "login  name     roles            may log in  competence, bench       competence, review",
        f"tide   M. Tide  bench, reviewer  yes         {shown}  none recorded",
        "wave   S. Wave  bench            no          none recorded           none recorded",
    ]
    assert head(record) == before


def test_a_record_without_people_has_a_list_of_nobody(run: Run, address: str) -> None:
    """Its titles stand alone."""
    done = run("record", "people", "--record", address)
    assert done.out == ("login  name  roles  may log in  competence, bench  competence, review\n")
