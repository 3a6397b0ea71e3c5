"""Read the rows that the clinic works by."""

from ebbline.adapters.files.library import data_table
from ebbline.core.clinic.baseline_table import parse_baseline
from ebbline.core.clinic.bench_table import parse_bench
from ebbline.core.clinic.competence import parse_due_within_days
from ebbline.core.clinic.early_stop import parse_early_stop
from ebbline.core.clinic.life import parse_life
from ebbline.core.clinic.preparation_table import parse_preparation
from ebbline.core.clinic.referral_table import parse_referral
from ebbline.core.clinic.roles import parse_roles
from ebbline.core.clinic.safety_table import parse_safety
from ebbline.core.clinic.service_settings import parse_service_settings
from ebbline.core.clinic.weight import parse_weights
from ebbline.services.clinic.rules import ClinicRules
from ebbline.services.library import Library


def load_clinic_rules(library: Library) -> ClinicRules:
    """Return the clinic's rows under data/, parsed and checked.

    Parameters
    ----------
    library : Library
        Substrates and rule sets that the rows may name.

    Returns
    -------
    ClinicRules

    Raises
    ------
    SettingError
        If a file was edited into something that cannot be read.
    """
    substrates = library.substrates
    life = data_table("test_life")
    roles = data_table("roles")
    return ClinicRules(
        safety=parse_safety(data_table("safety"), substrates=substrates),
        preparation=parse_preparation(
            data_table("preparation"),
            substrates=substrates,
            guidances=tuple(rule_set.id for rule_set in library.rule_sets),
        ),
        weights=parse_weights(data_table("weights")),
        life=parse_life(life),
        baselines=parse_baseline(life),
        stops=parse_early_stop(life, substrates=substrates),
        roles=parse_roles(roles),
        bench=parse_bench(data_table("bench")),
        due_within_days=parse_due_within_days(roles),
        referral=parse_referral(data_table("referral"), substrates=substrates),
        settings=parse_service_settings(data_table("service_settings")),
        plain={name: row["plain"] for name, row in data_table("substrates").items()},
    )
