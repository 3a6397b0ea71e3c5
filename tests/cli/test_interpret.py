"""``ebbline interpret``: what goes in, what comes out, and what is refused whole."""

import json
from pathlib import Path

import jsonschema
import pytest
from pypdf import PdfReader

from ebbline.adapters.files.library import DATA
from ebbline.cli.interpret import files_and_rules, report_names
from ebbline.core.errors import InputError
from tests.cli.conftest import Run

SCHEMA = json.loads((DATA / "schema" / "interpretation.v1.json").read_text(encoding="utf-8"))


def test_the_schema_is_a_schema() -> None:
    """It follows the draft that it names."""
    jsonschema.Draft202012Validator.check_schema(SCHEMA)


def test_every_invented_test_gives_one_valid_document_a_line_in_order(run: Run) -> None:
    """Keys, kinds and choices are those of the published schema."""
    files = sorted((DATA / "clinic").glob("*.csv"))
    answer = run("interpret", *files, "--json")
    assert answer.code == 0
    documents = [json.loads(line) for line in answer.out.splitlines()]
    assert [document["test"]["file"] for document in documents] == [str(file) for file in files]
    for document in documents:
        jsonschema.validate(document, SCHEMA, cls=jsonschema.Draft202012Validator)
        assert document["test"]["invented"] is True


def test_flags_override_the_head_of_the_file(run: Run, lactose: Path) -> None:
    """Substrate, dose, noise, tolerance and baseline rule."""
    answer = run(
        "interpret", lactose, "--json", "--substrate", "fructose", "--dose-g", "12.5",
        "--noise-ppm", "0.5", "--noise-fraction", "0.02", "--gain-fraction", "0",
        "--minute-tolerance", "3", "--baseline", "lowest",
    )  # fmt: skip
    document = json.loads(answer.out)
    assert document["test"]["substrate"] == "fructose"
    assert document["test"]["dose_g"] == 12.5
    settings = document["settings"]
    assert (settings["noise_ppm"], settings["noise_fraction"]) == (0.5, 0.02)
    assert (settings["gain_fraction"], settings["minute_tolerance"]) == (0.0, 3.0)
    assert settings["baseline"] == "lowest"
    assert settings["noise_source"].startswith("given for this test")


def test_only_the_rule_sets_asked_for_are_shown_in_their_order(run: Run, lactose: Path) -> None:
    """And the first one that may be adopted is the criterion."""
    answer = run("interpret", lactose, "--json", "--rules", "rome-2009", "hovde-farup-2009")
    shown = json.loads(answer.out)["rule_sets"]
    assert [one["id"] for one in shown] == ["rome-2009", "hovde-farup-2009"]
    assert [one["adopted"] for one in shown] == [False, True]


def test_a_criterion_with_rows_from_memory_is_refused(run: Run, lactose: Path) -> None:
    """Until a named person confirms them."""
    answer = run("interpret", lactose, "--criterion", "rome-2009")
    assert answer.code == 3
    assert answer.out == ""
    assert "not checked against the paper" in answer.err
    assert "memory in h2-rise-lactose, h2-rise-glucose" in answer.err


def test_one_refused_file_answers_for_none(run: Run, lactose: Path, tmp_path: Path) -> None:
    """The good file before it is not answered either, and no report is written."""
    bad = tmp_path / "bad.csv"
    bad.write_text("minute,h2_ppm\n0,5\n30,x\n", encoding="utf-8")
    answer = run("interpret", lactose, bad, "--substrate", "lactose", "--pdf", tmp_path / "out")
    assert answer.code == 2
    assert answer.out == ""
    assert "row 3, column h2_ppm" in answer.err
    assert not (tmp_path / "out").exists()


def test_a_test_without_fasting_reading_is_refused_when_a_rise_is_asked_for(
    run: Run, tmp_path: Path
) -> None:
    """With a rule set that asks for levels only it is taken."""
    late = tmp_path / "late.csv"
    late.write_text("minute,h2_ppm,ch4_ppm\n30,5,2\n90,6,12\n", encoding="utf-8")
    answer = run("interpret", late, "--substrate", "lactose")
    assert answer.code == 2
    assert "no reading at minute 0 or before" in answer.err
    levels = tmp_path / "levels.toml"
    levels.write_text(
        'id = "levels"\nversion = "1"\ntitle = "Levels"\nsource = "invented"\n[[statement]]\n'
        'id = "ch4"\nquestion = "methanogen-overgrowth"\nsubstrates = ["lactose"]\ngas = "ch4"\n'
        'measure = "level"\ncomparison = "at least"\nthreshold_ppm = 10\nneeds_minutes = 90\n'
        'source = "invented"\nprovenance = "read"\n',
        encoding="utf-8",
    )
    answer = run("interpret", late, "--substrate", "lactose", "--json", "--rules", levels)
    assert json.loads(answer.out)["findings"][0]["finding"] == "positive"


def test_a_rule_set_that_covers_nothing_is_refused(run: Run, lactose: Path) -> None:
    """Glucose rules for a lactose test."""
    answer = run("interpret", lactose, "--rules", "kerlin-wong-1988")
    assert answer.code == 2
    assert "no rule set asked for covers lactose" in answer.err


def test_reports_are_written_beside_the_answer(run: Run, lactose: Path, tmp_path: Path) -> None:
    """One for each file, in a folder that is made, named after the file."""
    folder = tmp_path / "new" / "reports"
    answer = run("interpret", lactose, "--pdf", folder)
    assert answer.code == 0
    assert f"Report: {folder / 'lactose.pdf'}" in answer.out
    assert len(PdfReader(folder / "lactose.pdf").pages) >= 1


def test_json_stays_one_document_a_line_when_reports_are_written(
    run: Run, lactose: Path, tmp_path: Path
) -> None:
    """Nothing else is printed."""
    answer = run("interpret", lactose, lactose, "--json", "--pdf", tmp_path)
    assert [json.loads(line)["schema"] for line in answer.out.splitlines()] == [
        "ebbline.interpretation.v1"
    ] * 2


def test_files_of_one_name_get_reports_of_two_names() -> None:
    """No report overwrites another of the same run."""
    names = report_names(["a/one.csv", "b/one.csv", "two.csv"])
    assert names == ["one.pdf", "one-2.pdf", "two.pdf"]


def test_a_folder_that_cannot_be_made_is_said(run: Run, lactose: Path) -> None:
    """A file stands where the folder should be."""
    answer = run("interpret", lactose, "--pdf", lactose)
    assert answer.code == 1
    assert "a folder that can be written" in answer.err


def test_files_may_stand_behind_the_rule_sets() -> None:
    """Words behind ``--rules`` from the first file on are files."""
    assert files_and_rules([], ["rome-2009", "own.toml", "a.csv", "b.csv"]) == (
        ["a.csv", "b.csv"],
        ("rome-2009", "own.toml"),
    )
    assert files_and_rules(["a.csv"], ["rome-2009"]) == (["a.csv"], ("rome-2009",))
    with pytest.raises(InputError, match="no curve file; allowed: one or more names of CSV files"):
        files_and_rules([], ["rome-2009"])
