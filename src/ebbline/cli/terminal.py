"""Show an interpretation on the terminal: curve, measures, rule sets side by side, cautions."""

import textwrap
from collections.abc import Callable
from pathlib import Path

from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.table import Table
from rich.text import Text

from ebbline.adapters.pdf.methods import methods_paragraph
from ebbline.cli.plot import plot
from ebbline.core.curve.breath_test import SYMPTOMS
from ebbline.core.curve.measures import Measures
from ebbline.core.rules.interpretation import (
    FindingResult,
    Interpretation,
    InterpretedSample,
    RuleSetUsed,
    StatementResult,
)
from ebbline.core.rules.phrases import UNCHECKED, chance_text, number

WIDEST = 110
WIDTH_OF_ALL_MEASURES = 96
SERIES_NAMES = {
    "h2_ppm": "H2",
    "ch4_ppm": "CH4",
    "h2_plus_2ch4_ppm": "H2 + 2 CH4",
    "h2_plus_4ch4_ppm": "H2 + 4 CH4",
}


def show(interpretation: Interpretation) -> None:
    """Print one interpretation.

    Parameters
    ----------
    interpretation : Interpretation
        What to show.
    """
    console = Console(highlight=False, soft_wrap=False)
    width = min(console.width, WIDEST)
    console = Console(highlight=False, width=width)
    _head(console, interpretation)
    console.print(plot(interpretation, width=width), markup=False)
    _symptoms(console, interpretation)
    _notes(console, interpretation)
    console.print(_measures(interpretation, width))
    for question in dict.fromkeys(one.question for one in interpretation.findings):
        console.print(_question(interpretation, question, width))
    for sentence in interpretation.disagreements:
        _line(console, f"Rule sets differ. {sentence}", width)
    if interpretation.transit is not None:
        _line(console, _transit(interpretation), width)
    _caveats(console, interpretation, width)
    _block(console, "How it was computed", [methods_paragraph(interpretation)], width)
    _block(console, "Cautions", list(interpretation.cautions), width)


def _head(console: Console, interpretation: Interpretation) -> None:
    test = interpretation.test
    dose = "dose not given" if test.dose_g is None else f"{number(test.dose_g)} g"
    title = Text()
    if test.invented:
        title.append("INVENTED DATA", style="reverse").append("   ")
    title.append(f"{test.substrate}, {dose}", style="bold")
    title.append(f"   {Path(test.file).name}   id {interpretation.id}")
    console.print(title)
    if test.unused:
        lines = ", ".join(f"{key}: {value}" for key, value in test.unused.items())
        said = "Lines of the head that are not known and were not used"
        console.print(f"{said}: {lines}", markup=False)
    console.print()


def _symptoms(console: Console, interpretation: Interpretation) -> None:
    for name in SYMPTOMS:
        scores = [
            f"{number(sample.minute)} min {number(sample.symptoms[name])}"
            for sample in interpretation.samples
            if name in sample.symptoms
        ]
        if scores:
            console.print(f"{name}: {', '.join(scores)}", markup=False)


def _notes(console: Console, interpretation: Interpretation) -> None:
    for sample in interpretation.samples:
        if sample.quality != "accepted" or sample.notes:
            console.print(_about_sample(sample), markup=False)
    for setback in interpretation.not_counted:
        value = "" if setback.h2_ppm is None else f", H2 {number(setback.h2_ppm)} ppm"
        note = f" ({setback.note})" if setback.note else ""
        console.print(f"{number(setback.minute)} min: {setback.reason}{value}{note}", markup=False)


def _about_sample(sample: InterpretedSample) -> str:
    text = f"{number(sample.minute)} min: {sample.quality}"
    if sample.quality == "normalised":
        h2 = sample.h2_ppm
        text += f", H2 {number(h2.raw_ppm)} raw, {number(h2.value_ppm or 0.0)} normalised"
        if sample.ch4_ppm is not None and sample.ch4_ppm.value_ppm is not None:
            ch4 = sample.ch4_ppm
            text += f", CH4 {number(ch4.raw_ppm)} raw, {number(ch4.value_ppm or 0.0)} normalised"
    return f"{text}. {'. '.join(sample.notes)}".rstrip()


def _measures(interpretation: Interpretation, width: int) -> Table:
    """Return the measures; a narrow terminal leaves out what can be had from the JSON."""
    columns: dict[str, Callable[[Measures], str]] = {
        "baseline": lambda m: _cell(m.baseline),
        "peak": lambda m: _at(m.peak, m.peak_minute),
        "largest rise": lambda m: _at(m.max_rise, m.max_rise_minute),
        "over lowest": lambda m: _cell(m.max_rise_over_lowest),
        "area": lambda m: _cell(m.area_total_ppm_min),
        "net": lambda m: _cell(m.area_net_ppm_min),
        "positive": lambda m: _cell(m.area_positive_ppm_min),
    }
    if width < WIDTH_OF_ALL_MEASURES:
        del columns["over lowest"], columns["net"]
    table = Table(box=SIMPLE_HEAD, pad_edge=False)
    table.add_column("ppm, ppm·min", no_wrap=True)
    for head in columns:
        table.add_column(head, justify="right", no_wrap=True)
    for series, measures in interpretation.measures.items():
        if measures.peak is not None:
            cells = [write(measures) for write in columns.values()]
            table.add_row(SERIES_NAMES[series], *cells)
    return table


def _cell(value: float | None) -> str:
    return "" if value is None else number(value)


def _at(value: float | None, minute: float | None) -> str:
    if value is None or minute is None:
        return ""
    return f"{number(value)} at {number(minute)} min"


def _question(interpretation: Interpretation, question: str, width: int) -> Table:
    """Return what the rule sets say on one question, side by side."""
    table = Table(box=SIMPLE_HEAD, pad_edge=False, width=width)
    table.add_column(question.replace("-", " "), ratio=4)
    table.add_column("finding", min_width=13)
    table.add_column("arithmetic", ratio=7)
    table.add_column("chance", justify="right", no_wrap=True)
    used = {one.id: one for one in interpretation.rule_sets}
    findings = [one for one in interpretation.findings if one.question == question]
    for finding in sorted(findings, key=lambda one: not used[one.rule_set].adopted):
        rows = [
            row
            for row in interpretation.statements
            if (row.rule_set, row.question) == (finding.rule_set, question)
        ]
        name, word = _who(used[finding.rule_set], rows), Text(finding.finding, style="bold")
        for row in rows:
            chance = "" if row.chance is None else chance_text(row.chance)
            table.add_row(name, word, f"{row.result}: {row.because}", chance)
            name, word = "", Text("")
        if finding.finding == "invalid":
            table.add_row("", "", finding.because, "")
    return table


def _who(used: RuleSetUsed, rows: list[StatementResult]) -> str:
    if used.adopted:
        return f"{used.title} (adopted)"
    if all(row.checked for row in rows):
        return used.title
    return f"{used.title} ({UNCHECKED.lower()})"


def _transit(interpretation: Interpretation) -> str:
    transit = interpretation.transit
    if transit is None:
        return ""
    if transit.by_minute is None:
        found = f"not reached by {number(transit.after_minute)} min"
    else:
        found = f"after {number(transit.after_minute)} and by {number(transit.by_minute)} min"
    return (
        f"Orocaecal transit, {transit.definition}: {found}. "
        "Consensus papers advise against using it clinically."
    )


def _caveats(console: Console, interpretation: Interpretation, width: int) -> None:
    """Print each caveat once, with the rule sets that it belongs to."""
    titles = {used.id: used.title for used in interpretation.rule_sets}
    owners: dict[str, list[FindingResult]] = {}
    for finding in interpretation.findings:
        for caveat in finding.caveats:
            # The table of rule sets says it already.
            if caveat.startswith(UNCHECKED):
                continue
            owners.setdefault(caveat, []).append(finding)
    lines = []
    for caveat, findings in owners.items():
        if len(findings) == len(interpretation.findings):
            lines.append(caveat)
        else:
            names = dict.fromkeys(titles[finding.rule_set] for finding in findings)
            lines.append(f"{caveat} [{', '.join(names)}]")
    if lines:
        _block(console, "Caveats", lines, width)


def _block(console: Console, title: str, lines: list[str], width: int) -> None:
    console.print(Text(title, style="bold"))
    for line in lines:
        _line(console, line, width)
    console.print()


def _line(console: Console, text: str, width: int) -> None:
    wrapped = textwrap.fill(text, width, initial_indent="  ", subsequent_indent="  ")
    console.print(wrapped, markup=False)
