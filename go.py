#!/usr/bin/env python3
"""Set ebbline up in this folder, then run it or check it.

    python3 go.py run            the demonstration: invented tests of the Harbour Clinic
    python3 go.py run FILE...    interpret curve files; the reports go to the folder reports
    python3 go.py test [ARG...]  every check: pytest (with ARG...), ruff, mypy and the import rules
    python3 go.py setup          set up only

The first call makes .venv beside this file and installs into it exactly the packages that
requirements/development.lock names, each checked against its hash. Later calls start at once.

Only Python's standard library is used. The file keeps to what Python 3.6 can parse, so that a
Python that is too old is told so; hence the quoted annotations.
"""

import hashlib
import importlib.util
import json
import os
import subprocess
import sys
import time
from pathlib import Path

OLDEST_PYTHON = (3, 11)
ROOT = Path(__file__).resolve().parent
VENV = ROOT / ".venv"
SCRIPTS = VENV / ("Scripts" if os.name == "nt" else "bin")
LOCK = ROOT / "requirements" / "development.lock"
STAMP = VENV / "ebbline-setup.json"
LOG = VENV / "ebbline-setup.log"
# Raise this when go.py itself sets up differently, so that every older .venv is made anew.
STAMP_VERSION = 1

USAGE = """\
usage: python3 go.py run [FILE...]   run the demonstration, or interpret the files
       python3 go.py test [ARG...]   run every check; ARG... goes to pytest
       python3 go.py setup           set up only"""

NO_NETWORK = (
    "NewConnectionError",
    "Failed to establish a new connection",
    "NameResolutionError",
    "name resolution",
    "Connection refused",
    "Connection reset",
    "connection broken",
    "Network is unreachable",
    "ConnectTimeoutError",
    "ReadTimeoutError",
    "Read timed out",
    "ProxyError",
    "SSLError",
)
# Signs in what pip says, and the one sentence that says what to do. The first row that fits
# counts: without a network pip ends with "No matching distribution found" as well.
REMEDIES = (
    (
        ("DO NOT MATCH THE HASHES",),
        (
            "a package that arrived is not the one in the lock, so nothing was installed; "
            "run 'python3 -m pip cache purge', then run this again"
        ),
    ),
    (
        ("No space left on device", "not enough space on the disk"),
        "the disk is full; free about 2 GB and run this again",
    ),
    (
        NO_NETWORK,
        (
            "the packages cannot be fetched because the package index does not answer; connect "
            "this computer to the internet, or set PIP_INDEX_URL to an index that it can reach, "
            "and run this again"
        ),
    ),
    (
        ("No matching distribution found", "Could not find a version"),
        (
            "a package is not ready-made for this Python or computer; use Python 3.11, 3.12 or "
            "3.13 on Linux, on macOS 15 or later with an Apple processor, or on 64-bit Windows"
        ),
    ),
)


class SetupError(Exception):
    """The set-up cannot go on; the text is one sentence that says what to do."""


def say(text: str) -> None:
    """Print one line of progress at once, in order with what the child processes print."""
    print(text, flush=True)


def check_python(version: "tuple[int, ...]") -> None:
    """Refuse a Python that is too old to run ebbline."""
    if version[:2] < OLDEST_PYTHON:
        raise SetupError(
            "ebbline needs Python {}.{} or later and this is Python {}; install a newer Python "
            "and run go.py with it, for example as 'python3.11 go.py'".format(
                *OLDEST_PYTHON, ".".join(str(number) for number in version[:3])
            )
        )


def check_venv_modules() -> None:
    """Refuse a Python without the parts that make a virtual environment, as Debian ships it."""
    for module in ("venv", "ensurepip"):
        if importlib.util.find_spec(module) is None:
            raise SetupError(no_venv_module(module))


def no_venv_module(module: str) -> str:
    """Return the sentence for a Python that cannot make a virtual environment."""
    return (
        "this Python lacks the module {}, which makes the folder .venv; install it (on Debian or "
        "Ubuntu: 'apt-get install python{}.{}-venv' as root) and run this again".format(
            module, *sys.version_info[:2]
        )
    )


def digest(path: Path) -> str:
    """Return the SHA-256 of a file."""
    return hashlib.sha256(path.read_bytes()).hexdigest()


def wanted_stamp() -> "dict[str, object]":
    """Return what a finished .venv must have been made from.

    The folder counts because the scripts in a virtual environment name it: a copied or moved
    project needs a new one.
    """
    return {
        "stamp": STAMP_VERSION,
        "folder": str(ROOT),
        "python": sys.version,
        "lock": digest(LOCK),
        "project": digest(ROOT / "pyproject.toml"),
    }


def found_stamp() -> "dict[str, object]":
    """Return what .venv was made from; nothing when it is absent, half made or broken."""
    try:
        stamp = json.loads(STAMP.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return stamp if isinstance(stamp, dict) and venv_python().exists() else {}


def venv_python() -> Path:
    """Return the Python inside .venv."""
    return SCRIPTS / ("python.exe" if os.name == "nt" else "python")


def set_up() -> None:
    """Make .venv complete, doing only what is not done yet.

    The stamp is written last and taken away first, so that a set-up that was stopped half-way
    leaves none, and the next call begins anew.
    """
    wanted, found = wanted_stamp(), found_stamp()
    if found == wanted:
        return
    # A change of pyproject.toml alone leaves the packages as they are. Any other change starts
    # from an empty folder, so that no package of an older lock stays behind.
    packages_stand = dict(found, project=None) == dict(wanted, project=None)
    steps = [("install ebbline itself", install_project)]
    if not packages_stand:
        version = ".".join(str(number) for number in sys.version_info[:3])
        packages = sum("==" in line for line in LOCK.read_text(encoding="utf-8").splitlines())
        steps = [
            ("make .venv with Python {}".format(version), make_venv),
            ("install {} pinned packages (once; some minutes)".format(packages), install_packages),
            *steps,
        ]
    if STAMP.exists():
        STAMP.unlink()
    for number, (what, do) in enumerate(steps, start=1):
        say("set-up {} of {}: {}".format(number, len(steps), what))
        do()
    unfinished = STAMP.with_suffix(".part")
    unfinished.write_text(json.dumps(wanted, indent=2), encoding="utf-8")
    unfinished.replace(STAMP)


def make_venv() -> None:
    """Make an empty .venv in place of whatever is there."""
    check_venv_modules()
    if Path(sys.prefix).resolve() == VENV:
        raise SetupError(
            "go.py runs with the Python inside .venv, which must be made anew; "
            "run it with the computer's own Python instead"
        )
    made = subprocess.run(
        [sys.executable, "-m", "venv", "--clear", str(VENV)],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        universal_newlines=True,
        check=False,
    )
    if made.returncode != 0:
        if "ensurepip" in made.stdout:
            raise SetupError(no_venv_module("ensurepip"))
        raise SetupError(
            "Python could not make {} ({}); delete that folder and run this again".format(
                VENV, telling_line(made.stdout)
            )
        )


def install_packages() -> None:
    """Install what the lock names, ready-made and with the hash that the lock names."""
    pip("--require-hashes", "--only-binary", ":all:", "-r", str(LOCK))


def install_project() -> None:
    """Install ebbline so that it runs from src; its packages are there already."""
    pip("--no-deps", "--no-build-isolation", "--editable", str(ROOT))


def pip(*arguments: str) -> None:
    """Run one pip install in .venv, show the packages as they come, and explain a failure."""
    command = [str(venv_python()), "-I", "-m", "pip", "install", "--no-input"]
    # pip names a failed connection only when it tries again, so it must.
    command += ["--disable-pip-version-check", "--progress-bar", "off", "--retries", "3"]
    # A user's own pip settings stay, but not those that would install somewhere else.
    elsewhere = ("PIP_PREFIX", "PIP_TARGET", "PIP_USER")
    environment = {name: value for name, value in os.environ.items() if name not in elsewhere}
    lines = []
    process = subprocess.Popen(
        command + list(arguments),
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        encoding="utf-8",
        errors="replace",
        env=environment,
    )
    with process, LOG.open("a", encoding="utf-8") as log:
        for line in process.stdout or ():
            log.write(line)
            lines.append(line)
            if line.startswith("Collecting "):
                say("    " + line.split()[1].replace("==", " "))
            elif line.startswith("Installing collected packages"):
                say("    putting them in place")
    if process.returncode != 0:
        raise SetupError(explain("".join(lines)))


def explain(pip_said: str) -> str:
    """Return one sentence for what pip said before it gave up."""
    for signs, remedy in REMEDIES:
        if any(sign in pip_said for sign in signs):
            return remedy
    return "pip stopped with '{}'; the whole of what it said is in {}".format(
        telling_line(pip_said), LOG
    )


def telling_line(text: str) -> str:
    """Return the last line that names an error, or failing that the last line."""
    lines = [line.strip() for line in text.splitlines() if line.strip()]
    errors = [line for line in lines if "error:" in line.lower()]
    return (errors or lines or ["no word"])[-1]


def run_program(files: "list[str]") -> int:
    """Run ebbline in the folder the user is in, so that a file name means what was typed."""
    words = ["interpret", *files, "--pdf", "reports"] if files else ["demo"]
    return hand_over([str(venv_python()), "-m", "ebbline", *words])


def hand_over(command: "list[str]") -> int:
    """Become the command, or on Windows, which cannot, wait for it and return its exit code."""
    if os.name != "nt":
        os.execv(command[0], command)
    return subprocess.call(command)


def checks(pytest_arguments: "list[str]") -> "list[tuple[str, list[str]]]":
    """Return each check's name and command, in the order in which they run."""
    python = [str(venv_python()), "-m"]
    return [
        ("pytest", [*python, "pytest", *pytest_arguments]),
        ("ruff check", [*python, "ruff", "check"]),
        ("ruff format", [*python, "ruff", "format", "--check"]),
        ("mypy", [*python, "mypy"]),
        ("import rules", [str(SCRIPTS / "lint-imports"), "--no-logo"]),
    ]


def run_checks(pytest_arguments: "list[str]") -> int:
    """Run every check, whatever the others said, and close with one line for each."""
    results = []
    for name, command in checks(pytest_arguments):
        say("\n== {}".format(name))
        start = time.monotonic()
        code = subprocess.call(command, cwd=str(ROOT))
        results.append((name, code, time.monotonic() - start))
    say("\n== summary")
    for name, code, seconds in results:
        verdict = "passed" if code == 0 else "FAILED"
        say("{:<14}{}{:>8.1f} s".format(name, verdict, seconds))
    return int(any(code != 0 for _, code, _ in results))


def act(word: str, rest: "list[str]", version: "tuple[int, ...]") -> int:
    """Set up, do what the word says and return the exit code."""
    check_python(version)
    set_up()
    if word == "run":
        return run_program(rest)
    if word == "test":
        return run_checks(rest)
    say("ready: python3 go.py run")
    return 0


def main(arguments: "list[str]", version: "tuple[int, ...]" = sys.version_info[:3]) -> int:
    """Read the words of the command, act on them, and turn a failure into one sentence."""
    word, rest = (arguments[0], arguments[1:]) if arguments else ("", [])
    if word in ("-h", "--help"):
        say(USAGE)
        return 0
    if word not in ("run", "test", "setup") or (word == "setup" and rest):
        print(USAGE, file=sys.stderr)
        return 2
    code = 1
    try:
        return act(word, rest, version)
    except SetupError as error:
        sentence = str(error)
    except OSError as error:
        sentence = "a file cannot be used ({}); put it right and run this again".format(error)
    except KeyboardInterrupt:
        sentence, code = "stopped before the end; run this again", 130
    print("go.py: {}.".format(sentence), file=sys.stderr)
    return code


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
