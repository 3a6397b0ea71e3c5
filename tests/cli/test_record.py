"""``ebbline record``: from a new record to its backup, export and erasure, on both databases."""

import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from ebbline.adapters.sql.engine import record_url
from ebbline.adapters.sql.migrate import bring_up
from ebbline.adapters.sql.record import SqlRecord
from ebbline.adapters.sql.tables import META
from ebbline.bootstrap import door_of, local_zone
from ebbline.cli.record_named import VARIABLE
from ebbline.core.clinic.record.people import Identity, Patient
from ebbline.core.clinic.record.staff import User
from ebbline.services.clinic.access.access_ports import Credential
from tests.adapters.sql.harbour import invented, tamper
from tests.cli.conftest import Run
from tests.records import Clock

PASSWORD = "kelp gull nine"

Opened = Callable[[str], SqlRecord]


@pytest.fixture(autouse=True)
def no_variable(monkeypatch: pytest.MonkeyPatch) -> None:
    """No record of this machine is touched."""
    monkeypatch.delenv(VARIABLE, raising=False)


@pytest.fixture
def typed(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """What is typed at the prompts, in order; also for passwords."""
    answers: list[str] = []
    monkeypatch.setattr("builtins.input", lambda question: answers.pop(0))
    monkeypatch.setattr("ebbline.cli.record_named.getpass", lambda question: answers.pop(0))
    return answers


@pytest.fixture
def clinic(record: SqlRecord, address: str) -> str:
    """A record with a manager, Mara Quay, and a patient, Ben Shore, record number HC-1."""
    door = door_of(record)
    hashed = door.passwords.hash(PASSWORD)
    with record.act("manage users", by="", why="", token=None) as act:
        user = act.add(User(act.new_id(), "mara", "Mara Quay", ("manager",), True))
        patient = act.add(Patient(act.new_id(), "male", "en", True))
        identity = invented(Identity, act.new_id(), {"patient": patient.id}, "Shore")
        act.add(replace(identity, given_name="Ben", record_no="HC-1"))
    with door.access.write() as rows:
        rows.set_credential(Credential(user.id, hashed, False, door.access.now()))
    return address


def head_of(run: Run, address: str) -> str:
    """Return the head as it is printed."""
    return run("record", "head", "--record", address).out.strip()


def test_a_record_must_be_named(run: Run) -> None:
    """By the option or the variable; the error says both."""
    answer = run("record", "head")
    assert answer.code == 2
    assert answer.err == (
        "ebbline: record: none is named; allowed: --record WHERE or the variable EBBLINE_RECORD; "
        "came: neither\n"
    )


def test_the_variable_names_a_record(
    run: Run, clinic: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where the option is not given."""
    monkeypatch.setenv(VARIABLE, clinic)
    assert run("record", "head").out.strip() == head_of(run, clinic)


def test_a_record_that_is_not_there_is_refused(run: Run, tmp_path: Path) -> None:
    """And no file is made by looking."""
    path = tmp_path / "none.ebbline"
    for action in ("head", "verify", "check", "upgrade"):
        answer = run("record", action, "--record", path)
        assert answer.code == 5
        assert answer.err.startswith("ebbline: record: there is no such file; allowed: the file")
    assert list(tmp_path.iterdir()) == []


def test_a_new_record_has_a_manager_with_a_password_for_once(
    run: Run, empty_address: str, typed: list[str]
) -> None:
    """It verifies, and may not be made again."""
    typed += ["Harbour Clinic", "Mara", "Mara Quay"]
    made = run("record", "create", "--record", empty_address, "--invented")
    assert made.code == 0
    _, login, password = made.out.splitlines()
    assert login == "Login: mara"
    assert password.startswith("Password for the first login, shown only now: ")
    assert run("record", "verify", "--record", empty_address).code == 0
    again = run(
        "record", "create", "--record", empty_address,
        "--service", "x", "--login", "ada", "--name", "Ada Haven",
    )  # fmt: skip
    assert again.code == 5
    assert "allowed: a new file" in again.err
    typed.append(password.rpartition(" ")[2])
    export = run(
        "record", "export", "--record", empty_address, "--all", "--to", "x",
        "--by", "mara", "--why", "trial",
    )  # fmt: skip
    assert export.code == 6
    assert export.err.startswith("ebbline: password: this password may be used only once; ")


def test_a_record_whose_manager_is_refused_is_not_made(
    run: Run, tmp_path: Path, typed: list[str]
) -> None:
    """The file is gone again; a name that is missing is refused before."""
    path = tmp_path / "new.ebbline"
    words = ("record", "create", "--record", path, "--service", "Harbour Clinic", "--name", "M")
    refused = run(*words, "--login", "m")
    assert refused.code == 2
    assert list(tmp_path.iterdir()) == []
    typed.append("  ")
    missing = run(*words)
    assert missing.code == 2
    assert missing.err == (
        "ebbline: Login of the first manager: it is missing; allowed: a name; came: nothing\n"
    )
    assert list(tmp_path.iterdir()) == []


def test_an_input_that_has_come_to_its_end_is_nothing(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As where a job calls the command and nobody is at the keyboard."""

    def at_its_end(question: str) -> str:
        raise EOFError

    monkeypatch.setattr("builtins.input", at_its_end)
    answer = run("record", "create", "--record", str(tmp_path / "a.ebbline"), "--invented")
    assert answer.code == 2
    assert answer.err == (
        "ebbline: Name of the service: it is missing; allowed: a name; came: nothing\n"
    )
    assert list(tmp_path.iterdir()) == []


def test_verifying_says_what_was_found(run: Run, clinic: str) -> None:
    """And what it cannot show without a head from outside."""
    head = head_of(run, clinic)
    answer = run("record", "verify", "--record", clinic)
    assert answer.code == 0
    assert answer.out == (
        f"Verified: 1 acts, 6 rows, 0 of them erased.\nHead: {head}\n"
        "Without --head this does not show whether acts at the end were cut off, or the whole "
        "record written anew.\n"
    )
    assert run("record", "verify", "--record", clinic, "--head", head).out.endswith(f"{head}\n")


def test_a_fault_ends_with_5(run: Run, clinic: str, record: SqlRecord) -> None:
    """It is named, with what to do."""
    tamper(record, "UPDATE patient SET sex = 'female'")
    answer = run("record", "verify", "--record", clinic)
    assert answer.code == 5
    assert answer.out.startswith("DOES NOT VERIFY at row 1: patient ")
    assert "Good up to there: 0 acts" in answer.out
    checked = run("record", "check", "--record", clinic)
    assert checked.code == 5
    assert "BAD  chain" in checked.out
    assert checked.out.endswith("need a look.\n")


def test_a_head_that_is_not_the_records_ends_with_5(run: Run, clinic: str) -> None:
    """Cut off, or written anew."""
    cut = run("record", "verify", "--record", clinic, "--head", f"9:{'a' * 64}")
    assert cut.code == 5
    assert "row 2 is missing: the record ends before row 9, which was kept" in cut.out
    anew = run("record", "verify", "--record", clinic, "--head", f"1:{'a' * 64}")
    assert anew.code == 5
    assert "row 1 has another hash than the one that was kept" in anew.out
    wrong = run("record", "verify", "--record", clinic, "--head", "12")
    assert wrong.code == 2
    assert "allowed: SEQ:HASH, as 'ebbline record head' prints it" in wrong.err


def test_a_backup_is_restored_by_two_commands(
    run: Run, clinic: str, empty_address: str, tmp_path: Path
) -> None:
    """Into either kind; the head is that of before the backup was noted."""
    head = head_of(run, clinic)
    file = tmp_path / "one.backup"
    made = run("record", "backup", "--record", clinic, file)
    assert made.code == 0
    assert made.out.startswith(f"Backup: {file}, ")
    assert "the hashes of passwords. Keep it where only the service can read it." in made.out
    assert head_of(run, clinic).startswith("2:")
    back = run("record", "restore", "--record", empty_address, file)
    assert back.code == 0
    assert "Verified: 1 acts, 6 rows, up to row 1." in back.out
    assert head_of(run, empty_address) == head
    over = run("record", "restore", "--record", empty_address, file)
    assert over.code == 5
    assert "a record is never put over something" in over.err
    file.write_bytes(file.read_bytes()[:-9])
    cut = run("record", "restore", "--record", tmp_path / "new.ebbline", file)
    assert cut.code == 5
    assert "it is no backup, or was cut off" in cut.err


def test_a_restored_record_that_does_not_verify_ends_with_5(
    run: Run, clinic: str, record: SqlRecord, tmp_path: Path
) -> None:
    """It is there, and the fault is named."""
    tamper(record, "UPDATE patient SET sex = 'female'")
    file = tmp_path / "one.backup"
    run("record", "backup", "--record", clinic, file)
    answer = run("record", "restore", "--record", tmp_path / "new.ebbline", file)
    assert answer.code == 5
    assert "It is restored as it was, and does not verify: patient " in answer.out


def test_a_patient_is_exported_by_somebody_with_a_password(
    run: Run, clinic: str, tmp_path: Path, typed: list[str]
) -> None:
    """The history then names who and why; a wrong password writes nothing."""
    words = (
        "record", "export", "--record", clinic, "--patient", "HC-1", "--by", "mara",
        "--why", "asked for by the patient",
    )  # fmt: skip
    typed.append("wrong password")
    wrong = run(*words, "--to", tmp_path / "out")
    assert wrong.code == 6
    assert not (tmp_path / "out").exists()
    typed.append(PASSWORD)
    done = run(*words, "--to", tmp_path / "out")
    assert done.code == 0
    assert done.out == (
        f"Export: {tmp_path / 'out'}, 2 rows\n"
        "Nothing guards these files any more. Local codes on patient data apply to every copy.\n"
    )
    assert "Shore" in (tmp_path / "out" / "identity.csv").read_text(encoding="utf-8")
    history = (tmp_path / "out" / "history.csv").read_text(encoding="utf-8")
    assert "asked for by the patient" in history
    typed.append(PASSWORD)
    run(*words, "--to", tmp_path / "bare", "--without-identity")
    assert "Shore" not in (tmp_path / "bare" / "identity.csv").read_text(encoding="utf-8")


def test_one_patient_or_all_has_to_be_said(run: Run, clinic: str) -> None:
    """Neither and both are refused."""
    words = ("record", "export", "--record", clinic, "--to", "x", "--by", "mara", "--why", "x")
    assert run(*words).code == 2
    assert run(*words, "--all", "--patient", "HC-1").code == 2


def test_an_erasure_asks_again(
    run: Run, clinic: str, record: SqlRecord, tmp_path: Path, typed: list[str]
) -> None:
    """Nothing is erased by another answer; afterwards the record verifies without the name."""
    words = (
        "record", "erase", "--record", clinic, "--patient", "HC-1", "--by", "mara",
        "--ground", "request of 27 November", "--ordered-by", "data protection office",
    )  # fmt: skip
    typed += [PASSWORD, "HC-2"]
    other = run(*words)
    assert other.code == 2
    assert other.err == (
        "ebbline: patient: nothing was erased; allowed: HC-1 once more; came: HC-2\n"
    )
    assert "It cannot be undone." in other.out
    assert "Backups, exports, printed reports" in other.out
    typed += [PASSWORD, "HC-1"]
    done = run(*words)
    assert done.code == 0
    assert done.out.splitlines()[-1].endswith(", 1 rows emptied")
    assert "1 of them erased" in run("record", "verify", "--record", clinic).out
    with record.look() as look:
        (identity,) = look.find(Identity, {})
    assert identity.entry.family_name == ""


def test_what_still_holds_the_words_is_said(
    run: Run, clinic: str, typed: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """With what to do about it."""
    monkeypatch.setattr(
        "ebbline.adapters.sql.erase.SqlEraser.clean", lambda eraser: "somebody reads"
    )
    typed += [PASSWORD, "HC-1"]
    done = run(
        "record", "erase", "--record", clinic, "--patient", "HC-1", "--by", "mara",
        "--ground", "request of 27 November", "--ordered-by", "data protection office",
    )  # fmt: skip
    assert done.out.splitlines()[-1] == (
        "The old words may still stand in the files of the database: somebody reads. Stop "
        "whatever uses the record and call the same command again, with the patient's id."
    )


def test_an_older_record_is_backed_up_and_brought_up(
    run: Run, empty_address: str, tmp_path: Path
) -> None:
    """Beside a file; on a server a place for the backup is asked for. Once is enough."""
    old = SqlRecord(record_url(empty_address), now=Clock(), zone="UTC", wait_s=5.0)
    with old.writing() as connection:
        bring_up(connection, to="0001")
        told = {"id": "0ld", "service": "Harbour Clinic", "invented": "true"}
        connection.execute(META.insert(), [{"name": n, "value": v} for n, v in told.items()])
    old.close()
    refused = run("record", "verify", "--record", empty_address)
    assert refused.code == 5
    assert "to which 'ebbline record upgrade' brings it; came: 0001" in refused.err
    words: tuple[str | Path, ...] = ("record", "upgrade", "--record", empty_address)
    beside = Path(f"{empty_address}.before-0002.backup")
    if empty_address.startswith("postgresql"):
        unnamed = run(*words)
        assert unnamed.code == 2
        assert unnamed.err == (
            "ebbline: backup: a record on a server has no folder; allowed: --backup FILE; "
            "came: nothing\n"
        )
        beside = tmp_path / "old.backup"
        words = (*words, "--backup", beside)
    done = run(*words)
    assert done.code == 0
    assert done.out.startswith(f"Backup: {beside}, SHA-256 ")
    assert done.out.endswith("Brought up to schema 0002.\n")
    assert beside.exists()
    assert run("record", "verify", "--record", empty_address).code == 0
    again = run(*words)
    assert again.code == 0
    assert again.out.endswith("schema 0002, that of this release. Nothing was done.\n")


def test_other_commands_start_without_the_database_library() -> None:
    """Help, too: it would make every start slower."""
    code = (
        "import sys; from ebbline.cli.main import main\n"
        "try: main(['record', '--help'])\n"
        "except SystemExit: pass\n"
        "main(['rules'])\n"
        "print(sorted({'sqlalchemy', 'alembic', 'psycopg', 'argon2'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"


@pytest.mark.parametrize(
    ("zone", "due"), [("Europe/London", "Europe/London"), (":Asia/Tokyo", "Asia/Tokyo")]
)
def test_the_time_zone_is_that_of_the_computer(
    zone: str, due: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By the variable TZ where it is set; a name that is none is UTC."""
    monkeypatch.setenv("TZ", zone)
    assert local_zone() == due
    monkeypatch.setenv("TZ", "harbour time")
    assert local_zone() == "UTC"
