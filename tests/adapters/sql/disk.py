"""Disks that are full and files that may not be written, for real and only as long as a test."""

import os
import resource
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

_NOBODY = 65534


def may_mount() -> bool:
    """Whether this machine lets the tests mount a disk in memory."""
    if os.geteuid() != 0:
        return False
    with tempfile.TemporaryDirectory() as folder:
        tried = subprocess.run(
            ["mount", "-t", "tmpfs", "-o", "size=1m", "tmpfs", folder],
            check=False,
            capture_output=True,
        )
        if tried.returncode == 0:
            subprocess.run(["umount", folder], check=True)
        return tried.returncode == 0


@contextmanager
def small_disk(folder: Path, *, mebibytes: int) -> Iterator[None]:
    """Make a folder a small disk in memory."""
    size = f"size={mebibytes}m"
    subprocess.run(["mount", "-t", "tmpfs", "-o", size, "tmpfs", str(folder)], check=True)
    try:
        yield
    finally:
        subprocess.run(["umount", "--lazy", str(folder)], check=True)


def enlarge(folder: Path, *, mebibytes: int) -> None:
    """Give a small disk more room."""
    options = f"remount,size={mebibytes}m"
    subprocess.run(["mount", "-o", options, str(folder)], check=True)


@contextmanager
def small_files(*, size: int) -> Iterator[None]:
    """Let this program write no file beyond a size, in bytes."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


@contextmanager
def small_files_of(pid: int, *, size: int) -> Iterator[None]:
    """Let another program write no file beyond a size, in bytes."""
    # As the account that the program runs by: another one may not, not even root in a container.
    owner = Path(f"/proc/{pid}").stat().st_uid if os.geteuid() == 0 else None

    def limit(to: str) -> None:
        subprocess.run(["prlimit", "--pid", str(pid), f"--fsize={to}:"], user=owner, check=True)

    limit(str(size))
    try:
        yield
    finally:
        limit("unlimited")


@contextmanager
def ordinary_folder() -> Iterator[Path]:
    """Make a folder, and be somebody to whom the permissions of files apply: not root."""
    with tempfile.TemporaryDirectory(prefix="ebb") as name:
        folder = Path(name)
        root = os.geteuid() == 0
        if root:
            os.chown(folder, _NOBODY, -1)
            os.seteuid(_NOBODY)
        try:
            yield folder
        finally:
            if root:
                os.seteuid(0)
            folder.chmod(0o755)
