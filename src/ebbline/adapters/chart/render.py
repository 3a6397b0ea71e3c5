"""Draw a chart as SVG with the vendored font."""

import re
from collections.abc import Mapping
from functools import cache
from importlib import resources
from pathlib import Path
from typing import Any
from xml.sax.saxutils import escape

import vl_convert

from ebbline.core.errors import ReportError

# The Vega-Lite that vl-convert carries and that charts are checked with.
_VEGA_LITE = "6.1"
# A place on the picture, to more digits than anybody sees: the last ones differ from processor to
# processor, and the picture shall not.
_PLACE = re.compile(r"-?\d+\.\d{4,}")


@cache
def font_directory() -> Path:
    """Return the folder of the vendored fonts."""
    folder = resources.files("ebbline") / "data" / "fonts"
    assert isinstance(folder, Path)  # ebbline is installed as files, never zipped
    return folder


@cache
def _register_fonts() -> None:
    vl_convert.register_font_directory(str(font_directory()))


def to_svg(spec: Mapping[str, Any]) -> str:
    """Return a chart as SVG, with its title and description inside for assistive technology.

    Parameters
    ----------
    spec : mapping
        From `ebbline.adapters.chart.curve_chart.curve_chart`.

    Returns
    -------
    str
        The same bytes for the same specification.

    Raises
    ------
    ReportError
        If the specification cannot be drawn.
    """
    _register_fonts()
    try:
        svg = vl_convert.vegalite_to_svg(dict(spec), vl_version=_VEGA_LITE)
    except ValueError as error:
        raise ReportError(
            f"the chart cannot be drawn; allowed: a Vega-Lite {_VEGA_LITE} specification; "
            f"came: {error}"
        ) from error
    title = escape(str(spec["usermeta"]["title"]))
    description = escape(str(spec["description"]))
    # title and desc must be the first children of the root, whose tag holds no other ">".
    root, _, rest = _PLACE.sub(_shorter, svg).partition(">")
    return f'{root} role="img"><title>{title}</title><desc>{description}</desc>{rest}'


def _shorter(place: re.Match[str]) -> str:
    return f"{float(place[0]):.3f}".rstrip("0").removesuffix(".")
