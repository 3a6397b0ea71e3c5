"""Files and a runner for the command line's tests."""

from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import pytest

from ebbline.cli.main import main

LACTOSE = """\
# invented: yes
# substrate: lactose
# dose_g: 25
minute,h2_ppm,ch4_ppm
0,5,3
30,9,6
60,27,7
90,47,6
120,76,8
150,96,8
180,59,6
"""


class Answer(NamedTuple):
    """What a command printed and ended with."""

    code: int
    out: str
    err: str


Run = Callable[..., Answer]


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Run:
    """Run one command and return its exit code and what it printed."""

    def call(*words: str | Path) -> Answer:
        try:
            code = main([str(word) for word in words])
        except SystemExit as ended:
            code = int(ended.code or 0)
        captured = capsys.readouterr()
        return Answer(code, captured.out, captured.err)

    return call


@pytest.fixture
def lactose(tmp_path: Path) -> Path:
    """Return an invented lactose test as a curve file."""
    path = tmp_path / "lactose.csv"
    path.write_text(LACTOSE, encoding="utf-8")
    return path
