"""No password and no token is anywhere in the record, in its history or in what is printed."""

from pathlib import Path

import pytest
from sqlalchemy import inspect, text

from ebbline.adapters.sql.record import SqlRecord
from ebbline.core.errors import EbblineError
from ebbline.services.clinic.access.change_password import change_password
from ebbline.services.clinic.access.confirm_password import confirm_password
from ebbline.services.clinic.access.first_start import first_manager
from ebbline.services.clinic.access.log_in import log_out, sessions_of, who_is
from ebbline.services.clinic.access.manage_users import add_user, deactivate_user, reinstate_user
from ebbline.services.clinic.access.reset_password import rescue_manager, reset_password
from tests.records import Clock
from tests.services.clinic.doors import come_in, make_door, passwords_of

CHOSEN = "sea holly and thrift"
CHANGED = "bladderwrack at noon"
MISTYPED = "sea holly and thirft"
IN_THE_WRONG_FIELD = "dulse-and-laver-bread"


def everything(record: SqlRecord) -> str:
    """Return every cell of every table, and the bytes of the files where there are files."""
    found = []
    with record.reading() as connection:
        for table in inspect(connection).get_table_names():
            rows = connection.execute(text(f'SELECT * FROM "{table}"'))
            found += [f"{table}: {tuple(row)!r}" for row in rows]
    assert any(one.startswith("credential: ") for one in found)
    if record.url.get_backend_name() == "sqlite":
        path = Path(str(record.url.database))
        for file in path.parent.glob(f"{path.name}*"):
            found.append(file.read_bytes().decode("latin-1"))
        assert "ben.shore" in found[-1] + found[-2] + found[-3]
    return "\n".join(found)


def test_no_secret_is_kept_or_printed(record: SqlRecord, clock: Clock) -> None:
    """After everything that can be done with passwords; logins and names are there."""
    door = make_door(record, clock)
    first = first_manager(door, login="quay", name="R. Quay")
    assert first.password is not None
    started = come_in(door, "quay", first.password)
    here = change_password(door, started.token, old=first.password, new=CHOSEN)
    who = who_is(door, here.token)
    shown = [first, started, here]
    for login, password in (("quay", MISTYPED), (IN_THE_WRONG_FIELD, CHOSEN), ("quay", CHANGED)):
        with pytest.raises(EbblineError) as caught:
            come_in(door, login, password)
        shown.append(caught.value)
    here = change_password(door, here.token, old=CHOSEN, new=CHANGED)
    shown += [here, confirm_password(door, who, CHANGED)]
    ben = add_user(door, who, login="ben.shore", name="Ben Shore", roles=["bench"], token="t1")
    again = reset_password(door, who, ben.user_id, why="forgot it", token="t2")
    deactivate_user(door, who, ben.user_id, version=1, why="leaves", token="t3")
    back = reinstate_user(door, who, ben.user_id, version=2, why="is back", token="t4")
    assert back.password is not None
    other = come_in(door, "ben.shore", back.password)
    rescued = rescue_manager(door, login="quay", why="forgot it")
    log_out(door, other.token)
    shown += [ben, again, back, other, rescued, *sessions_of(door, other.who), passwords_of(door)]
    with door.access.look() as rows:
        shown.append(rows.credential(who.user_id))

    made = [one.password for one in (first, ben, again, back, rescued)]
    secrets = [CHOSEN, CHANGED, MISTYPED, IN_THE_WRONG_FIELD, *made]
    secrets += [one.token for one in (started, here, other)]
    assert len(set(secrets)) == 12
    kept, printed = everything(record), "\n".join(f"{one!r} {one}" for one in shown)
    assert "ben.shore" in kept
    assert "ben.shore" in printed
    for secret in secrets:
        assert secret is not None
        assert secret not in kept
        assert secret not in printed
    assert "$argon2" not in printed
