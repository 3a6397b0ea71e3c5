"""docs/reference/clinic-rules.md, from the rows that the clinic works by."""

from typing import Any

from docs.generator import markdown
from docs.generator.markdown import code, codes, table
from ebbline.adapters.files.library import data_table
from ebbline.core.clinic.life import life_diagram, parse_life

_INTRO = """\
Rows under `src/ebbline/data`. A service may edit them; local codes and licensed practice come
first. Where a row says *memory*, nobody has checked it against the paper; *common practice* has no
source."""

_COUNTED_BACK = (
    "`preparation.toml`. Counted back from the appointment; weeks and days on the calendar, hours "
    "as they pass."
)


def page() -> str:
    """Return the page."""
    life = data_table("test_life")
    return markdown.page(
        "Rules of the clinic",
        _INTRO,
        *_safety(data_table("safety")),
        *_preparation(data_table("preparation")),
        *_doses(data_table("doses")),
        "## The life of a test",
        "`test_life.toml`. A test takes a step only when all that it needs is there.",
        life_diagram(parse_life(life)),
        table(
            ("from", "to", "needs"),
            [
                (", ".join(one["from"]), one["to"], "; ".join(_needs(one, life)))
                for one in life["step"]
            ],
        ),
        *_roles(data_table("roles")),
    )


def _needs(step: dict[str, Any], life: dict[str, Any]) -> list[str]:
    says = {one["id"]: one["says"] for one in life["need"]}
    return [says[name] for name in step["needs"]]


def _safety(rows: dict[str, Any]) -> list[str]:
    questions = [(code(q["id"]), q["asks"], ", ".join(q["answers"])) for q in rows["question"]]
    bars = [
        (
            bar["question"],
            ", ".join(bar["answers"]),
            ", ".join(bar["substrates"]) if isinstance(bar["substrates"], list) else "all",
            bar["drink"],
            bar["needs"] + (f" by {bar['by']}" if "by" in bar else ""),
            bar["says"],
            f"{bar['source']} ({bar['provenance']})",
        )
        for bar in rows["bar"]
    ]
    return [
        "## Safety before any drink",
        f"`safety.toml`. {rows['caution']}",
        table(("question", "asked in these words", "answers"), questions),
        "A bar is closed by its answers. An unknown answer, or none, never counts as no.",
        table(("question", "answers", "substrates", "drink", "needs", "says", "source"), bars),
    ]


def _preparation(rows: dict[str, Any]) -> list[str]:
    items = [
        (
            code(item["id"]),
            item["tells"],
            ", ".join(
                f"{name} {value}".replace("_", " ") for name, value in item["before"].items()
            ),
            ", ".join(item.get("substrates", ["all"])),
            ", ".join(item["guidance"]),
            f"{item['source']} ({item['provenance']})",
        )
        for item in rows["item"]
    ]
    return [
        "## Preparation",
        _COUNTED_BACK,
        table(("item", "tells", "before", "substrates", "guidance", "source"), items),
    ]


def _doses(rows: dict[str, Any]) -> list[str]:
    rules = [
        (
            code(rule["id"]),
            rule["who"],
            _amount(rule),
            f"{rule['volume_ml']} ml" if "volume_ml" in rule else f"{rule['concentration_pct']} %",
            f"{rule['source']} ({rule['provenance']})",
        )
        for rule in rows["rule"]
    ]
    return [
        "## Doses",
        "`doses.toml`. A person chooses; none is a default. Published doses for children differ.",
        table(("rule", "for", "dose", "drink", "source"), rules),
    ]


def _amount(rule: dict[str, Any]) -> str:
    if "dose_g" in rule:
        return f"{rule['dose_g']} g"
    return f"{rule['g_per_kg']} g/kg, at most {rule['cap_g']} g"


def _roles(rows: dict[str, Any]) -> list[str]:
    acts = [(code(act["id"]), codes(act["roles"]), act["needs_competence"]) for act in rows["act"]]
    return [
        "## Who may do what",
        "`roles.toml`. A competence that has lapsed is warned of and recorded.",
        table(("act", "roles", "competence"), acts),
    ]
