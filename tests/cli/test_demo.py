"""``ebbline demo``: the invented clinic, from files to reports."""

from pathlib import Path

from pypdf import PdfReader

from ebbline.bootstrap import demo_files
from tests.cli.conftest import Run


def test_the_invented_clinic_is_interpreted_and_reported(run: Run, tmp_path: Path) -> None:
    """At least eight tests, each marked invented on screen and on every page."""
    files = demo_files()
    assert len(files) >= 8
    answer = run("demo", "--pdf", tmp_path)
    assert answer.code == 0
    assert answer.out.count("INVENTED DATA") == len(files)
    for file in files:
        reader = PdfReader(tmp_path / f"{Path(file).stem}.pdf")
        for page in reader.pages:
            assert "invented data" in page.extract_text().lower()
