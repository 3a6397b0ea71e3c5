from xml.etree import ElementTree as ET

import pytest

from ebbline.adapters.chart.curve_chart import curve_chart
from ebbline.adapters.chart.describe import describe_chart
from ebbline.adapters.chart.render import font_directory, to_svg
from ebbline.adapters.chart.theme import PRINT
from ebbline.core.errors import ReportError
from ebbline.core.rules.interpretation import Interpretation

SVG = "{http://www.w3.org/2000/svg}"


def test_the_picture_is_xml_with_a_title_and_a_description(glucose: Interpretation) -> None:
    """Both are the first children, where assistive technology looks for them."""
    root = ET.fromstring(to_svg(curve_chart(glucose, theme=PRINT)))
    assert root.tag == f"{SVG}svg"
    assert root.get("role") == "img"
    assert [child.tag for child in root][:2] == [f"{SVG}title", f"{SVG}desc"]
    assert root[0].text == "Invented data. Breath gases after glucose 75 g in 250 ml"
    assert root[1].text == describe_chart(glucose)


def test_markup_in_a_description_stays_text(glucose: Interpretation) -> None:
    """Whatever a substrate is called, the picture stays well formed."""
    spec = curve_chart(glucose, theme=PRINT)
    hostile = '</desc><script>alert("x")</script> & \\1 \\g<0>'
    spec["usermeta"]["title"] = hostile
    spec["description"] = hostile
    root = ET.fromstring(to_svg(spec))
    assert root[0].text == root[1].text == hostile
    assert root.findall(f".//{SVG}script") == []


def test_labels_are_set_in_the_vendored_font(lactose: Interpretation) -> None:
    """Text stays text, with the font named and true subscripts."""
    svg = to_svg(curve_chart(lactose, theme=PRINT))
    assert 'font-family="Atkinson Hyperlegible Next"' in svg
    assert ">H₂</text>" in svg
    assert ">CH₄</text>" in svg


def test_the_same_chart_gives_the_same_bytes(lactose: Interpretation) -> None:
    """Nothing of the time or the process goes into the picture."""
    spec = curve_chart(lactose, theme=PRINT)
    assert to_svg(spec) == to_svg(spec)


def test_the_fonts_come_with_their_licence() -> None:
    """The open font licence asks for its text beside the files."""
    names = {file.name for file in font_directory().iterdir()}
    assert {f"AtkinsonHyperlegibleNext-{w}.ttf" for w in ("Regular", "SemiBold", "Bold")} <= names
    assert "SIL OPEN FONT LICENSE" in (font_directory() / "OFL.txt").read_text(encoding="utf-8")


def test_a_specification_that_cannot_be_drawn_is_refused_in_our_words(
    lactose: Interpretation,
) -> None:
    """The message says what was wrong, what is allowed and what came."""
    spec = {**curve_chart(lactose, theme=PRINT), "layer": [{"mark": "nothing"}]}
    with pytest.raises(
        ReportError, match=r"^the chart cannot be drawn; allowed: a Vega-Lite 6\.1 .*; came: .+"
    ):
        to_svg(spec)
