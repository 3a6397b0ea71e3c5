"""``ebbline reduce``: traces to readings, and what is refused whole."""

import json
from pathlib import Path

import jsonschema
import pytest

from ebbline.adapters.files.library import DATA
from tests.cli.conftest import Run

SCHEMA = json.loads((DATA / "schema" / "reduction.v1.json").read_text(encoding="utf-8"))
STREAM = DATA / "profiles" / "harbour-stream.toml"
CHAMBER = DATA / "profiles" / "harbour-chamber.toml"
BLOW, BAG, BREATHED_IN = (
    DATA / "traces" / f"harbour-{name}.csv" for name in ("blow", "bag", "breathed-in")
)


@pytest.mark.parametrize(
    ("trace", "profile", "quality"),
    [(BLOW, STREAM, "accepted"), (BAG, CHAMBER, "accepted"), (BREATHED_IN, STREAM, "refused")],
)
def test_each_bundled_trace_gives_a_valid_document(
    run: Run, trace: Path, profile: Path, quality: str
) -> None:
    """Of the quality that it was made for, marked invented."""
    answer = run("reduce", trace, "--profile", profile, "--json")
    assert answer.code == 0
    document = json.loads(answer.out)
    jsonschema.validate(document, SCHEMA, cls=jsonschema.Draft202012Validator)
    assert document["quality"] == quality
    assert document["trace"]["invented"] is True
    assert document["trace"]["file"] == str(trace)


def test_a_second_inhalation_is_refused_in_words(run: Run) -> None:
    """And nothing of it counts."""
    answer = run("reduce", BREATHED_IN, "--profile", STREAM)
    assert answer.code == 0
    assert "INVENTED DATA" in answer.out
    assert "Refused." in answer.out
    assert "Room air came in the middle of the blow." in answer.out


def test_several_traces_give_one_document_a_line_in_order(run: Run) -> None:
    """Whatever came of each."""
    answer = run("reduce", BREATHED_IN, BLOW, "--profile", STREAM, "--json")
    documents = [json.loads(line) for line in answer.out.splitlines()]
    assert [one["trace"]["file"] for one in documents] == [str(BREATHED_IN), str(BLOW)]


def test_flags_override_the_head_of_the_file(run: Run) -> None:
    """Warm-up, reference, kind and start."""
    answer = run(
        "reduce", BLOW, "--profile", STREAM, "--json", "--on-for", "3", "--reference", "co2 5.5"
    )
    document = json.loads(answer.out)
    assert document["trace"]["on_for_min"] == 3.0
    assert [reason["code"] for reason in document["reasons"]] == ["still_warming"]
    first = document["settings"]["dilution"]["markers"][0]
    assert (first["gas"], first["alveolar_pct"]) == ("co2", 5.5)
    bag = json.loads(run("reduce", BLOW, "--profile", CHAMBER, "--json", "--bag").out)
    assert bag["method"] == "bag"


def test_blow_and_bag_at_once_is_refused(run: Run) -> None:
    """It is one or the other."""
    answer = run("reduce", BLOW, "--profile", STREAM, "--blow", "--bag")
    assert answer.code == 2
    assert "not allowed with" in answer.err


def test_one_refused_file_answers_for_none(run: Run, tmp_path: Path) -> None:
    """The good trace before it is not answered either."""
    bad = tmp_path / "bad.csv"
    bad.write_text("time_s,h2_ppm\n0,5\n0.1,x\n", encoding="utf-8")
    answer = run("reduce", BLOW, bad, "--profile", STREAM)
    assert (answer.code, answer.out) == (2, "")
    assert "row 3, column h2_ppm" in answer.err


def test_a_profile_that_is_not_there_is_refused(run: Run, tmp_path: Path) -> None:
    """By its name."""
    answer = run("reduce", BLOW, "--profile", tmp_path / "none.toml")
    assert (answer.code, answer.out) == (2, "")
    assert "none.toml" in answer.err


@pytest.mark.parametrize("width", [80, 200])
def test_no_line_is_wider_than_the_terminal(
    run: Run, monkeypatch: pytest.MonkeyPatch, width: int
) -> None:
    """And never wider than can be read."""
    monkeypatch.setenv("COLUMNS", str(width))
    for trace, profile in ((BLOW, STREAM), (BAG, CHAMBER), (BREATHED_IN, STREAM)):
        lines = run("reduce", trace, "--profile", profile).out.splitlines()
        assert max(len(line.rstrip()) for line in lines) <= min(width, 110)
