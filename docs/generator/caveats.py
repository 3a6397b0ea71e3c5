"""docs/reference/caveats.md: each caveat and caution with the condition that calls it."""

import tomllib
from typing import Any

from docs.generator import markdown
from docs.generator.markdown import DATA, code, table
from ebbline.core.rules.phrases import UNCHECKED

_RISES = "Malabsorption or overgrowth"
_FLAT = f"{_RISES}, not positive; H2 never rises by more than {{flat_rise_ppm}} ppm over baseline"

CONDITIONS = {
    "methane_not_measured": f"{_FLAT}; methane was not measured.",
    "non_producer": f"{_FLAT}; methane was measured and stays below {{methane_producer_ppm}} ppm.",
    "lactulose_flat": f"{_FLAT}; the sugar is lactulose.",
    "lactulose_early": "Overgrowth, positive, after lactulose; the first crossing is at "
    "{lactulose_early_minute} min or before.",
    "sugar_early": "Malabsorption, positive; the first crossing is at {sugar_early_minute} min or "
    "before.",
    "mouth": f"{_RISES}; an H2 sample after the drink and by {{mouth_minute}} min rises by "
    "{mouth_rise_ppm} ppm or more over baseline, and the next sample keeps less than half of that "
    "rise.",
    "high_fasting": f"{_RISES}; fasting H2 is {{high_fasting_h2_ppm}} ppm or more.",
    "surgery": "The sugar is glucose and the head of the file says `surgery: yes`.",
    "young_child": "Malabsorption after fructose; the patient is under {young_child_years} years.",
    "methane_dip": "A statement of the finding uses methane, and methane after the drink falls "
    "{methane_dip_ppm} ppm or more below its fasting value.",
    "rinse_once": "The head of the file says `rinse: baseline`.",
    "normalised": "Raw values in place of normalised ones would give another finding.",
    "children_only": "The rule set was written for children and the patient is {adult_years} years "
    "or older.",
    "adults_only": "The rule set was written for adults and the patient is under {adult_years} "
    "years.",
    "dose": "The dose is known and outside the doses of the row, and the patient is not known to "
    "be under {adult_years} years.",
    "late": "The sample that decides was taken after `by_minute` and counts only through the "
    "tolerance.",
    "borderline": "The chance of a statement lies between {borderline_chance} and "
    "1 − {borderline_chance}.",
    "unchecked": "A row of the finding is from memory and nobody has confirmed it.",
}

_INTRO = """\
A caveat stands beside a finding and says what a reader must know before relying on it. It never
changes the finding. A caution stands on every report, or on every report of a test with one of the
sugars that it names. The words are in `src/ebbline/data/wording.toml`; the limits are
[settings](settings.md#limits-of-caveats). What stands in braces is filled in.

Caveats are given for each finding of each rule set. The last six ask about the rule set; a finding
on symptoms is asked these only."""


def page() -> str:
    """Return the page.

    Raises
    ------
    ValueError
        If a caveat has no condition here, or a condition no caveat.
    """
    wording: dict[str, Any] = tomllib.loads((DATA / "wording.toml").read_text(encoding="utf-8"))
    texts = wording["caveat"] | {"unchecked": f"{UNCHECKED}: {{rows}}."}
    odd = set(CONDITIONS) ^ set(texts)
    if odd:
        raise ValueError(f"caveats and conditions differ; in one of the two only: {sorted(odd)}")
    limits = {name: f"{value:g}" for name, value in wording["limit"].items()}
    rows = [
        (code(name), condition.format_map(limits), texts[name])
        for name, condition in CONDITIONS.items()
    ]
    cautions = [
        (", ".join(row.get("substrates", ())) or "every test", row["text"])
        for row in wording["caution"]
    ]
    parts = ["## Caveats", table(("caveat", "condition", "text"), rows)]
    parts += ["## Cautions", table(("shown for", "text"), cautions)]
    return markdown.page("Caveats and cautions", _INTRO, *parts)
