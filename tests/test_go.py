"""The set-up script: what it installs when, and what it says when it cannot."""

import ast
import importlib.util
import os
import shutil
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from types import ModuleType

import pytest

TOP = Path(__file__).resolve().parents[1]
STEPS = ["make_venv", "install_packages", "install_project"]


@pytest.fixture
def go(tmp_path: Path) -> ModuleType:
    """Return go.py as loaded from a small project of its own."""
    shutil.copy(TOP / "go.py", tmp_path)
    (tmp_path / "requirements").mkdir()
    (tmp_path / "requirements" / "development.lock").write_text(
        f"# a package that is nowhere\nebbline-absent==1.0 --hash=sha256:{'0' * 64}\n"
    )
    (tmp_path / "pyproject.toml").write_text("[project]\nname = 'ebbline'\n")
    return load(tmp_path)


def load(folder: Path) -> ModuleType:
    """Import the go.py of a folder, as Python does when it runs it."""
    spec = importlib.util.spec_from_file_location("go_copy", folder / "go.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture
def done(go: ModuleType, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Replace each step by one that only notes its name, and return the notes."""
    return note_steps(go, monkeypatch)


def note_steps(go: ModuleType, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Replace each step of the set-up by one that notes its name."""
    notes: list[str] = []

    def make_venv() -> None:
        notes.append("make_venv")
        go.SCRIPTS.mkdir(parents=True, exist_ok=True)
        go.venv_python().touch()

    monkeypatch.setattr(go, "make_venv", make_venv)
    monkeypatch.setattr(go, "install_packages", lambda: notes.append("install_packages"))
    monkeypatch.setattr(go, "install_project", lambda: notes.append("install_project"))
    return notes


def one_sentence(capsys: pytest.CaptureFixture[str]) -> str:
    """Return what was said on stderr after checking that it is one line of go.py's own."""
    said = capsys.readouterr().err
    assert said.startswith("go.py: ")
    assert said.endswith(".\n")
    assert said.count("\n") == 1
    return said


# What it does when


def test_the_first_call_does_every_step_and_says_which(
    go: ModuleType, done: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    """A new folder gets an environment, the packages and ebbline itself, in this order."""
    assert go.main(["setup"]) == 0
    assert done == STEPS
    said = capsys.readouterr().out.splitlines()
    assert said[0].startswith("set-up 1 of 3: make .venv with Python 3.")
    assert said[1] == "set-up 2 of 3: install 1 pinned packages (once; some minutes)"
    assert said[2:] == ["set-up 3 of 3: install ebbline itself", "ready: python3 go.py run"]


def test_the_second_call_starts_at_once(go: ModuleType, done: list[str]) -> None:
    """A finished environment is recognised by its stamp, and nothing is installed again."""
    go.set_up()
    done.clear()
    start = time.perf_counter()
    go.set_up()
    assert time.perf_counter() - start < 0.3
    assert done == []


def test_a_changed_lock_starts_from_an_empty_environment(go: ModuleType, done: list[str]) -> None:
    """No package of an older lock stays behind."""
    go.set_up()
    done.clear()
    go.LOCK.write_text("another==2.0 --hash=sha256:" + "1" * 64)
    go.set_up()
    assert done == STEPS


def test_another_python_starts_from_an_empty_environment(
    go: ModuleType, done: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Packages installed for one Python do not serve another."""
    go.set_up()
    done.clear()
    monkeypatch.setattr(sys, "version", "3.99.0 (another)")
    go.set_up()
    assert done == STEPS


def test_a_changed_pyproject_installs_only_ebbline_again(go: ModuleType, done: list[str]) -> None:
    """The packages are the lock's business, so they stay."""
    go.set_up()
    done.clear()
    (go.ROOT / "pyproject.toml").write_text("[project]\nname = 'ebbline'\nversion = '2'\n")
    go.set_up()
    assert done == ["install_project"]


def test_a_moved_project_starts_from_an_empty_environment(
    go: ModuleType, done: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The scripts in a virtual environment name its folder, so a moved one is made anew."""
    go.set_up()
    moved = tmp_path.with_name("moved")
    tmp_path.rename(moved)
    elsewhere = load(moved)
    notes = note_steps(elsewhere, monkeypatch)
    elsewhere.set_up()
    assert notes == STEPS


def test_a_lost_python_starts_from_an_empty_environment(go: ModuleType, done: list[str]) -> None:
    """An environment whose Python was removed is made anew although its stamp fits."""
    go.set_up()
    done.clear()
    go.venv_python().unlink()
    go.set_up()
    assert done == STEPS


def test_a_set_up_that_was_stopped_begins_anew(
    go: ModuleType,
    done: list[str],
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """A half-made environment carries no stamp, even if a finished one was there before."""
    go.set_up()
    go.LOCK.write_text("another==2.0 --hash=sha256:" + "1" * 64)

    def stop() -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as stopped:
        stopped.setattr(go, "install_packages", stop)
        assert go.main(["setup"]) == 130
    assert one_sentence(capsys) == "go.py: stopped before the end; run this again.\n"
    done.clear()
    go.set_up()
    assert done == STEPS


def test_a_half_written_stamp_counts_as_none(go: ModuleType, done: list[str]) -> None:
    """A stamp that cannot be read says nothing about the environment."""
    go.set_up()
    done.clear()
    go.STAMP.write_text('{"stamp": 1,')
    go.set_up()
    assert done == STEPS


# What it runs


def test_run_without_a_file_shows_the_demonstration(
    go: ModuleType, done: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The demonstration needs no file."""
    monkeypatch.setattr(go, "hand_over", lambda command: command)
    assert go.main(["run"]) == [str(go.venv_python()), "-m", "ebbline", "demo"]


def test_run_with_files_interprets_them(
    go: ModuleType, done: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The files are handed on as they were typed, and the reports go to the folder reports."""
    monkeypatch.setattr(go, "hand_over", lambda command: command)
    words = go.main(["run", "a.csv", "b.csv"])[3:]
    assert words == ["interpret", "a.csv", "b.csv", "--pdf", "reports"]


def test_the_exit_code_of_what_runs_is_passed_on(tmp_path: Path) -> None:
    """A script that calls go.py can tell what ebbline said; the folder it is in stays."""
    program = "import os; print(os.getcwd()); raise SystemExit(7)"
    ended = subprocess.run(
        [
            sys.executable,
            "-c",
            f"import sys, go; sys.exit(go.hand_over([sys.executable, '-c', {program!r}]))",
        ],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(TOP)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert (ended.returncode, Path(ended.stdout.strip())) == (7, tmp_path)


def test_the_checks_run_in_order_and_pytest_gets_the_arguments(go: ModuleType) -> None:
    """What follows the word test belongs to pytest alone."""
    checks = dict(go.checks(["-k", "curve"]))
    assert list(checks) == ["pytest", "ruff check", "ruff format", "mypy", "import rules"]
    assert checks["pytest"][1:] == ["-m", "pytest", "-k", "curve"]
    assert not any("curve" in command for name, command in checks.items() if name != "pytest")


def test_a_failed_check_does_not_keep_the_others_from_running(
    go: ModuleType, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    """Every check is shown and summed up, and one that failed fails the whole."""
    outcomes = {"first": "raise SystemExit(3)", "second": "print('the second ran')"}
    commands = [(name, [sys.executable, "-c", code]) for name, code in outcomes.items()]
    monkeypatch.setattr(go, "checks", lambda arguments: commands)
    assert go.run_checks([]) == 1
    said = capfd.readouterr().out
    assert "the second ran" in said
    first, second = said.splitlines()[-2:]
    assert first.split()[:2] == ["first", "FAILED"]
    assert second.split()[:2] == ["second", "passed"]


def test_checks_that_all_pass_end_with_zero(
    go: ModuleType, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    """Nothing failed, so the whole did not."""
    monkeypatch.setattr(go, "checks", lambda arguments: [("only", [sys.executable, "-c", ""])])
    assert go.run_checks([]) == 0
    assert "FAILED" not in capfd.readouterr().out


# What it says when it cannot


@pytest.mark.parametrize("words", [[], ["build"], ["setup", "now"]])
def test_a_missing_or_wrong_word_shows_the_usage(
    go: ModuleType, done: list[str], words: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    """Nothing is installed for a command that does not exist."""
    assert go.main(words) == 2
    assert capsys.readouterr().err.startswith("usage: python3 go.py run [FILE...]")
    assert done == []


def test_help_is_not_an_error(go: ModuleType, capsys: pytest.CaptureFixture[str]) -> None:
    """Whoever asks for the usage gets it on stdout."""
    assert go.main(["--help"]) == 0
    assert "go.py test" in capsys.readouterr().out


def test_a_python_that_is_too_old_is_told_so(
    go: ModuleType, done: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    """The sentence names the Python that is needed and the one that came."""
    assert go.main(["run"], version=(3, 10, 13)) == 1
    assert "needs Python 3.11 or later and this is Python 3.10.13" in one_sentence(capsys)
    assert done == []


def test_an_old_python_can_read_the_script() -> None:
    """Otherwise it would stop at a syntax error before it could be told that it is too old."""
    tree = ast.parse((TOP / "go.py").read_text(encoding="utf-8"), feature_version=(3, 6))
    notes = [
        note
        for node in ast.walk(tree)
        if isinstance(node, ast.FunctionDef)
        for note in [node.returns, *(argument.annotation for argument in node.args.args)]
    ]
    # Python 3.6 evaluates an annotation, and knows neither list[str] nor int | None.
    assert [
        ast.unparse(note) for note in notes if isinstance(note, ast.Subscript | ast.BinOp)
    ] == []


@pytest.mark.parametrize("module", ["venv", "ensurepip"])
def test_a_python_without_venv_is_told_what_to_install(
    go: ModuleType,
    module: str,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Debian ships Python without these modules; the sentence names the package that has them."""
    find_spec: Callable[[str], object] = importlib.util.find_spec
    monkeypatch.setattr(
        importlib.util, "find_spec", lambda name: None if name == module else find_spec(name)
    )
    assert go.main(["setup"]) == 1
    said = one_sentence(capsys)
    assert f"lacks the module {module}" in said
    assert "'apt-get install python3." in said


@pytest.mark.parametrize(
    ("output", "sentence"),
    [
        ("The virtual environment was not created: ensurepip is not available", "-venv' as root"),
        ("Error: [Errno 28] No space", "could not make"),
    ],
)
def test_an_environment_that_cannot_be_made_is_explained(
    go: ModuleType,
    output: str,
    sentence: str,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """What Python's own tool says in many lines is said in one."""
    failed = subprocess.CompletedProcess([], 1, stdout=output)
    monkeypatch.setattr(subprocess, "run", lambda *words, **settings: failed)
    assert go.main(["setup"]) == 1
    assert sentence in one_sentence(capsys)


def test_the_python_inside_the_environment_cannot_make_it_anew(
    go: ModuleType, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """It would delete itself."""
    monkeypatch.setattr(sys, "prefix", str(go.VENV))
    assert go.main(["setup"]) == 1
    assert "run it with the computer's own Python" in one_sentence(capsys)


def test_a_missing_lock_is_named(go: ModuleType, capsys: pytest.CaptureFixture[str]) -> None:
    """A project that was copied in part says which file it misses."""
    go.LOCK.unlink()
    assert go.main(["setup"]) == 1
    assert "development.lock" in one_sentence(capsys)


def test_without_a_network_the_sentence_says_so(
    go: ModuleType, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The real pip fails at a closed port of this machine, and its many lines become one."""
    for name in [name for name in os.environ if name.upper().startswith("PIP_")]:
        monkeypatch.delenv(name)
    monkeypatch.setenv("PIP_CONFIG_FILE", os.devnull)
    monkeypatch.setenv("PIP_INDEX_URL", "http://127.0.0.1:9/simple")
    monkeypatch.setenv("NO_PROXY", "127.0.0.1")
    monkeypatch.setattr(go, "make_venv", go.VENV.mkdir)
    monkeypatch.setattr(go, "venv_python", lambda: Path(sys.executable))
    assert go.main(["setup"]) == 1
    assert "connect this computer to the internet" in one_sentence(capsys)
    assert "ebbline-absent" in go.LOG.read_text(encoding="utf-8")
    assert not go.STAMP.exists()


def test_the_packages_are_named_as_they_come(
    go: ModuleType, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A long set-up shows that it goes on, without pip's own many lines."""
    said_by_pip = (
        "Collecting numpy==2.4.6 (from -r a)\\n  Using cached\\nInstalling collected packages:"
    )
    popen = subprocess.Popen
    monkeypatch.setattr(
        subprocess,
        "Popen",
        lambda command, **settings: popen(
            [sys.executable, "-c", f"print('{said_by_pip}')"], **settings
        ),
    )
    go.VENV.mkdir()
    go.install_packages()
    assert capsys.readouterr().out.split("\n") == [
        "    numpy 2.4.6",
        "    putting them in place",
        "",
    ]


@pytest.mark.parametrize(
    ("pip_said", "sentence"),
    [
        ("WARNING: Retrying after NewConnectionError\nERROR: No matching", "the internet"),
        ("ERROR: THESE PACKAGES DO NOT MATCH THE HASHES FROM", "is not the one in the lock"),
        ("ERROR: No matching distribution found for numba==1", "use Python 3.11, 3.12 or 3.13"),
        ("OSError: [Errno 28] No space left on device", "free about 2 GB"),
        ("SomeError: all is lost\nhint: see above", "pip stopped with 'SomeError: all is lost'"),
        ("", "pip stopped with 'no word'"),
    ],
)
def test_what_pip_says_becomes_one_sentence(go: ModuleType, pip_said: str, sentence: str) -> None:
    """Each known failure has its own remedy, and any other names the log."""
    said = go.explain(pip_said)
    assert sentence in said
    assert "\n" not in said
