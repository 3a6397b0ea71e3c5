"""How much room a report needs, so that a short one stays on one page and a long one breaks well.

Laying the pages out twice to know would take twice the time. These are estimates from the widths
of the texts; where they are wrong a page has some white space more or breaks elsewhere, and
nothing is lost.
"""

from collections.abc import Iterable, Mapping
from typing import Any

from ebbline.adapters.chart.place import text_width

# Sizes of paper, points: (width, height).
_PAPER = {"a4": (595.3, 841.9), "us-letter": (612.0, 792.0)}
_MARGIN_X = 85.0
_MARGIN_Y = 65.3
# Line heights of the template's type sizes, points.
_SMALL, _FINE, _BODY = 7.3, 6.7, 8.4
# Everything that is always there: letterhead, headings, measures and signatures.
_FIXED = 183.0
# A heading with its room, a line of a table of the record, a line of the foot of a page.
_SECTION, _CELL, _FOOTER = 17.5, 7.4, 8.0
# What the lines to sign on take, which a report of the record does not have.
_WRITTEN = 26.0
# Below this the letters in the chart would be smaller than those of the tables.
_LEAST_CHART = 0.66
# How far an estimate may be off, as a share of the chart.
_SAFETY = 0.03
_DOUBT = 0.15


def layout(content: Mapping[str, Any], *, aspect: float, paper: str) -> dict[str, Any]:
    """Return how the pages are laid out.

    Parameters
    ----------
    content : mapping
        From `ebbline.adapters.pdf.content.report_content`.
    aspect : float
        Width over height of the chart.
    paper : {"a4", "us-letter"}
        Size of the pages.

    Returns
    -------
    dict
        ``chart_aspect``; ``fit``, which is ``easy`` or ``tight`` for one page, or ``long``;
        ``least_chart``, the smallest share of the full size that a tight chart may shrink to;
        ``footer_lines``, how many lines of the foot of each page tell the status.
    """
    page_width, page_height = _PAPER[paper]
    width = page_width - _MARGIN_X
    full = width / aspect
    status = _footer_lines(content, width)
    room = page_height - _MARGIN_Y - _FOOTER * status - height_without_chart(content, width)
    share = room / full
    fit = "long"
    if share >= _LEAST_CHART + _SAFETY:
        fit = "easy" if share > 1.0 + _DOUBT else "tight"
    return {
        "chart_aspect": aspect,
        "fit": fit,
        "least_chart": _LEAST_CHART,
        "footer_lines": status,
    }


def height_without_chart(content: Mapping[str, Any], width: float) -> float:
    """Return about how high a report is apart from its chart, points.

    Parameters
    ----------
    content : mapping
        From `ebbline.adapters.pdf.content.report_content`.
    width : float
        Width of the text, points.

    Returns
    -------
    float
    """
    small = 6.7
    lines = _lines([row[-1] for row in content["samples"]["rows"]], 0.2 * width, small)
    for group in content["comparisons"]:
        because = [
            row["because"] + ("" if row["checked"] else "; not checked against the paper")
            for row in group["rows"]
        ]
        lines += 2 + _lines(because, 0.56 * width, small)
    beside = max(
        _lines(content["symptoms"], 0.38 * width, small),
        _lines([*content["caveats"], content["transit"]], 0.57 * width, small),
    )
    lines += beside + len(content["measures"]["rows"])
    lines += _lines([" ".join(content["cautions"])], width, small)
    identity = max(
        sum(_identity_lines(line, width / 3 - 10.0) for line in column)
        for column in content["identity"]
    )
    return (
        _FIXED
        + _SMALL * lines
        + _FINE * _lines([content["methods"]], width, 6.1)
        + _SMALL * _lines(content["disagreements"], width, small)
        + _BODY * identity
        + 12.0 * len(content["adopted"])
        + 14.0 * len(content["findings"])
        + _record_height(content["record"], content["status"], width)
    )


def _record_height(record: Mapping[str, Any] | None, status: str, width: float) -> float:
    """Return how high that is which only a report of the record says, points."""
    if record is None:
        return 0.0
    left = [
        [item, f"{answer}: {decision}" if decision else answer]
        for item, answer, decision in record["prepared"]
    ]
    prepared = sum(max(_lines([cell], 0.24 * width, 6.7) for cell in row) for row in left)
    happened = 1 + len(record["baselines"])
    happened += sum(_identity_lines(line, 0.46 * width) for line in record["conduct"])
    height = _SECTION + 9.0 - _WRITTEN + _CELL * max(prepared, happened)
    if record["comment"]:
        height += _SECTION + _SMALL * _lines([record["comment"]], width, 6.7)
    if record["contact"]:
        height += _SMALL * _lines([record["contact"]], width, 6.7)
    height += _FINE * _lines([record["chain"], *record["versions"]], width, 6.1)
    return height + _SECTION + _BODY * _lines([status], width, 7.6)


def _footer_lines(content: Mapping[str, Any], width: float) -> int:
    """Return how many lines of the foot of each page tell the status of a report of the record."""
    return 0 if content["record"] is None else _lines([content["status"]], width, 6.7)


def _identity_lines(fields: list[dict[str, str]], width: float) -> int:
    """Return how many lines the fields that stand side by side take."""
    return max(
        _lines([f"{one['label']}  {one['value']}"], width / len(fields), 7.6) for one in fields
    )


def _lines(texts: Iterable[str], width: float, size: float) -> int:
    """Return how many lines texts take, one at least for each."""
    return sum(1 + int(text_width(text, size) // width) for text in texts)
