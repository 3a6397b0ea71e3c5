"""Colours of a chart. The same roles on every ground; gases differ by line and marker as well."""

from dataclasses import dataclass

FONT = "Atkinson Hyperlegible Next"

# Indigo and green of Paul Tol's "muted" colour-blind-safe scheme (Tol P., Colour schemes, SRON
# technical note SRON/EPS/TN/09-002; not checked against the note).
INDIGO = "#332288"
GREEN = "#117733"


@dataclass(frozen=True, slots=True)
class Theme:
    """Colours by role, each as ``#rrggbb``.

    ``paper`` is the ground, ``ink`` the text, ``quiet`` the text that may be passed over,
    ``hairline`` the grid, ``field`` the decision window, ``bar`` a symptom score, and ``h2`` and
    ``ch4`` the two gases.
    """

    paper: str
    ink: str
    quiet: str
    hairline: str
    field: str
    bar: str
    h2: str
    ch4: str


SCREEN = Theme(
    paper="#f7f6f2",
    ink="#16202b",
    quiet="#5b6774",
    hairline="#d5dbe0",
    field="#eceae3",
    bar="#7a8793",
    h2=INDIGO,
    ch4=GREEN,
)
"""Ink on pale paper, for the bench."""

PRINT = Theme(
    paper="#ffffff",
    ink="#000000",
    quiet="#4d4d4d",
    hairline="#d0d0d0",
    field="#f0f0f0",
    bar="#8c8c8c",
    h2=INDIGO,
    ch4=GREEN,
)
"""Black on white, readable in greyscale."""
