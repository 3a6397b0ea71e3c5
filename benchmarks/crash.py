"""Kill the clinic at random points, many times, and look whether anything was lost.

``python -m benchmarks.crash [TRIALS [SEED]]`` tries on SQLite and on PostgreSQL. The clinic's
process is killed with SIGKILL; every third time the database server is killed with it. After each
kill the record is read: every act that was answered must be there, nothing half done, the chain
must verify, and the minutes of running tests must be right.
"""

import json
import os
import random
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from benchmarks.crash_clinic import open_clinic
from ebbline.adapters.sql.create import create_tables
from ebbline.adapters.sql.record import SqlRecord
from ebbline.adapters.sql.verify import verify
from ebbline.core.clinic.record.visit import Test
from ebbline.services.clinic.bench.minutes import clock_of
from tests.server import Server

TOP = Path(__file__).resolve().parents[1]
TRIALS_IN_A_RECORD = 50
"""After so many kills a new record is begun, or most of the time would go into verifying."""


@dataclass(slots=True)
class Tally:
    """What came of the kills."""

    trials: int = 0
    answered: int = 0
    done_unanswered: int = 0
    lost: int = 0
    broken: int = 0
    timers: int = 0
    worst_timer_s: float = 0.0

    @property
    def clean(self) -> bool:
        """Whether nothing was lost, nothing half done, and every timer right."""
        return self.lost == 0 and self.broken == 0 and self.worst_timer_s < 1.0

    def words(self, name: str) -> str:
        """Return the tally as one line of a table."""
        return (
            f"| {name} | {self.trials} | {self.answered} | {self.done_unanswered} | {self.lost} | "
            f"{self.broken} | {self.timers} | {self.worst_timer_s:.3f} s |"
        )


_HEADS = (
    "database", "kills", "acts answered", "done, answer cut off", "lost",
    "chain broken or half done", "running timers looked at", "worst timer",
)  # fmt: skip
HEAD = f"| {' | '.join(_HEADS)} |\n|{' --- |' * len(_HEADS)}"


class Clinic:
    """A process that plays rounds of the scripted clinic until it is killed."""

    def __init__(self, address: str) -> None:
        now = datetime.now(UTC)
        # In the middle of its own day, so that no appointment falls on the next one.
        hours = 12 - now.hour
        self.hours = float(hours)
        slot = (now + timedelta(minutes=20)).isoformat()
        self._process = subprocess.Popen(
            [sys.executable, "-m", "benchmarks.crash_clinic", address, slot, str(hours)],
            cwd=TOP,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            bufsize=1,
        )
        assert self._line() == "ready"

    def _line(self) -> str:
        assert self._process.stdout is not None
        return self._process.stdout.readline().strip()

    def round(self, number: int, *, kill_after: int, wait_s: float) -> Iterator[dict[str, str]]:
        """Play a round and yield what was answered; kill it some time after so many acts."""
        assert self._process.stdin is not None
        self._process.stdin.write(f"{number}\n")
        process, answered = 0, 0
        early: list[dict[str, str]] = []
        while True:
            line = self._line()
            if line.startswith("pid "):
                process = int(line[4:])
                yield from early
            elif line.startswith("end "):
                return
            else:
                told = json.loads(line)
                answered += 1
                if process:
                    yield told
                else:
                    early.append(told)
            if process and answered >= kill_after:
                time.sleep(wait_s)
                # A round that came to its end just now is no kill: its process is gone.
                with suppress(ProcessLookupError):
                    os.kill(process, signal.SIGKILL)
                kill_after = sys.maxsize

    def close(self) -> None:
        """Let the process end."""
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.close()
        self._process.wait()
        self._process.stdout.close()


def run(address_of_new: "NewRecord", *, trials: int, seed: int) -> Tally:
    """Kill so many times and return what came of it.

    Parameters
    ----------
    address_of_new : callable
        Makes a new record and returns its address.
    trials, seed : int
        How many kills, and what is drawn.

    Returns
    -------
    Tally
    """
    rng = random.Random(seed)
    tally = Tally()
    while tally.trials < trials:
        address = address_of_new()
        _kill_in_one_record(
            address,
            address_of_new.server,
            rng,
            tally,
            min(TRIALS_IN_A_RECORD, trials - tally.trials),
        )
    return tally


def _kill_in_one_record(
    address: str, server: Server | None, rng: random.Random, tally: Tally, trials: int
) -> None:
    record = open_clinic(address, 0.0).record
    assert isinstance(record, SqlRecord)
    create_tables(record, service="Harbour Clinic (invented)", invented=True)
    clinic = Clinic(address)
    answered: dict[str, dict[str, str]] = {}
    begun: dict[str, datetime] = {}
    round_no, before = 1, 0
    for _ in range(trials):
        kill_after = before + rng.randrange(1, 30)
        told_in_round = 0
        for told in clinic.round(round_no, kill_after=kill_after, wait_s=rng.uniform(0.0, 0.03)):
            told_in_round += 1
            if told["token"] not in answered and told["t0"]:
                # The clock of whoever watches, not that of the one who is killed.
                begun[told["test"]] = datetime.now(UTC)
            answered[told["token"]] = told
        tally.trials += 1
        if server is not None and tally.trials % 3 == 0:
            server.kill()
            server.start()
        # A round goes on where it was; one that came to its end is followed by the next.
        finished = told_in_round and told_in_round < kill_after
        before = 0 if finished else told_in_round
        round_no += int(bool(finished))
        _look(record, answered, begun, tally)
    tally.answered += len(answered)
    clinic.close()
    record.close()


def _look(
    record: SqlRecord, answered: dict[str, dict[str, str]], begun: dict[str, datetime], tally: Tally
) -> None:
    """Hold the record against what was answered."""
    verdict = verify(record, head=None, progress=lambda _done, _of: None)
    tally.broken += int(verdict.fault is not None)
    with record.look() as look:
        tally.lost += sum(look.done(token) is None for token in answered)
        tokens = {one for one in _tokens(look) if one.startswith("round ")}
        tally.done_unanswered += len(tokens - set(answered))
        for test_id, at in begun.items():
            test = look.get(Test, test_id).entry
            now = datetime.now(UTC)
            minute = clock_of(look, test).minute(now, seq=None)
            assert minute is not None
            tally.timers += 1
            off_s = abs(minute * 60.0 - (now - at).total_seconds())
            tally.worst_timer_s = max(tally.worst_timer_s, off_s)


def _tokens(look: object) -> Iterator[str]:
    for act in look.acts_after(0):  # type: ignore[attr-defined]
        token = json.loads(act.body)["token"]
        if token is not None:
            yield token


class NewRecord:
    """Makes addresses of new records: files in a folder, or databases on a server."""

    def __init__(self, folder: Path, server: Server | None) -> None:
        self._folder = folder
        self.server = server
        self._number = 0

    def __call__(self) -> str:
        """Return the next address."""
        self._number += 1
        if self.server is not None:
            return self.server.new_database()
        return str(self._folder / f"clinic{self._number}.ebbline")


def main(words: list[str]) -> int:
    """Kill on both databases, print the table, and return 0 where nothing was lost."""
    trials, seed = (int(words[0]) if words else 500), (int(words[1]) if len(words) > 1 else 1)
    clean = True
    print(HEAD, flush=True)
    with tempfile.TemporaryDirectory(prefix="ebb") as folder:
        tally = run(NewRecord(Path(folder), None), trials=trials, seed=seed)
        print(tally.words("SQLite"), flush=True)
        clean &= tally.clean
    with tempfile.TemporaryDirectory(prefix="ebb") as folder:
        server = Server(Path(folder), safe=True)
        server.start()
        tally = run(NewRecord(Path(folder), server), trials=trials, seed=seed)
        print(tally.words("PostgreSQL"), flush=True)
        clean &= tally.clean
        server.discard()
    return 0 if clean else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
