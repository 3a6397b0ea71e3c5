"""Typst, kept warm: one compiler for the process, the vendored font, and no system fonts."""

import json
from collections.abc import Mapping
from datetime import UTC, datetime
from functools import cache
from importlib import resources
from threading import Lock
from typing import Any, Literal

import typst

from ebbline.adapters.chart.render import font_directory
from ebbline.adapters.pdf.letters import letters_without_glyph, spell_out, without_controls
from ebbline.core.errors import ReportError

# PDF/A-4 needs PDF 2.0, which PDF/UA-1 does not allow; of the others 2a is the one with structure
# and without attached files.
STANDARDS: "list[typst.PDFStandard]" = ["ua-1", "a-2a"]

_lock = Lock()


Template = Literal["report.typ", "sheet.typ"]


@cache
def _template(name: Template) -> bytes:
    return (resources.files("ebbline.adapters.pdf") / name).read_bytes()


@cache
def _compiler() -> typst.Compiler:
    # Typst's own fonts stand in for letters that the vendored font lacks, the same everywhere.
    fonts = typst.Fonts(
        include_system_fonts=False,
        include_embedded_fonts=True,
        font_paths=[str(font_directory())],
    )
    # It is told with each call what to set; this is only what it starts with.
    return typst.Compiler(_template("report.typ"), font_paths=fonts)


def typeset(
    content: Mapping[str, Any],
    *,
    template: Template,
    chart_svg: str,
    paper: str,
    created: datetime,
) -> bytes:
    """Return the pages as PDF.

    Parameters
    ----------
    content : mapping
        Plain data. The template reads it as JSON, so nothing in it can become markup. A letter
        that no font here holds is printed as its Unicode number, such as ``U+674E``.
    template : {"report.typ", "sheet.typ"}
        The pages.
    chart_svg : str
        The chart; empty for pages without one.
    paper : str
        A paper size that Typst knows.
    created : datetime
        Date of the document, in UTC. The same arguments give the same bytes.

    Returns
    -------
    bytes
        PDF/UA-1 and PDF/A-2a as the typesetter understands them.

    Raises
    ------
    ReportError
        If the pages cannot be set.
    """
    content = without_controls(content)
    shown: frozenset[str] = frozenset()
    while True:
        inputs = {
            "content": json.dumps(spell_out(content, shown), ensure_ascii=False),
            "chart": spell_out(chart_svg, shown),
            "paper": paper,
        }
        try:
            return _compile(template, inputs, created)
        except typst.TypstError as error:
            missing = letters_without_glyph(error.message) - shown
            if not missing:
                raise ReportError(
                    "the report cannot be set; allowed: text that can be printed; came: "
                    f"{error.message}"
                ) from error
            shown |= missing


def _compile(template: Template, inputs: dict[str, str], created: datetime) -> bytes:
    # A compiler holds its inputs between calls, so one report is set at a time.
    with _lock:
        pages = _compiler().compile(
            input=_template(template),
            format="pdf",
            sys_inputs=inputs,
            pdf_standards=STANDARDS,
            timestamp=created.astimezone(UTC),
        )
    assert isinstance(pages, bytes)
    return pages
