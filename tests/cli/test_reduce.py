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


def test_each_trace_is_drawn_where_pictures_are_asked_for(run: Run, tmp_path: Path) -> None:
    """One SVG a trace, named after it, that says what it shows and that it is invented."""
    folder = tmp_path / "pictures"
    answer = run("reduce", BLOW, BREATHED_IN, "--profile", STREAM, "--pictures", folder)
    assert answer.code == 0
    names = ["harbour-blow.svg", "harbour-breathed-in.svg"]
    assert sorted(path.name for path in folder.iterdir()) == names
    for name in names:
        text = (folder / name).read_text(encoding="utf-8")
        assert text.startswith("<svg")
        assert "Invented data" in text
        assert f"Picture: {folder / name}" in answer.out


def test_a_bundled_profile_goes_by_its_name_unless_there_is_such_a_file(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """So that a first breath needs no path, and nobody's own file is passed over."""
    monkeypatch.chdir(tmp_path)
    assert run("reduce", BLOW, "--profile", "harbour-stream").code == 0
    Path("harbour-stream").write_text("not a profile", encoding="utf-8")
    refused = run("reduce", BLOW, "--profile", "harbour-stream")
    assert refused.code == 2
    assert "harbour-stream: is not TOML" in refused.err


def test_a_blow_with_flow_is_described_by_volume(run: Run) -> None:
    """Dead space and slope of phase III, in words and in the document."""
    answer = run("reduce", BLOW, "--profile", STREAM)
    assert " L breathed out; dead space 0." in answer.out
    document = json.loads(run("reduce", BLOW, "--profile", STREAM, "--json").out)
    volumes = document["blow"]["volumes"]
    assert 0.1 < volumes["fowler_l"] < 0.3
    assert 0.0 < volumes["bohr_share"] < 0.2
    assert document["blow"]["no_volumes"] == ""
    bag = json.loads(run("reduce", BAG, "--profile", CHAMBER, "--json").out)
    assert bag["blow"] is None
