"""The clinic's own rows, read once: safety, preparation, doses, the life of a test, roles."""

from collections.abc import Mapping
from dataclasses import dataclass

from ebbline.core.clinic.baseline_table import BaselineTable
from ebbline.core.clinic.bench_table import BenchTable
from ebbline.core.clinic.early_stop import StopTable
from ebbline.core.clinic.life import Life
from ebbline.core.clinic.preparation_table import PreparationTable
from ebbline.core.clinic.referral_table import ReferralTable
from ebbline.core.clinic.roles import RoleTable
from ebbline.core.clinic.safety_table import SafetyTable
from ebbline.core.clinic.service_settings import SettingRow
from ebbline.core.clinic.weight import WeightTable


@dataclass(frozen=True, slots=True)
class ClinicRules:
    """Everything under data/ that the clinic works by, parsed and checked.

    ``plain`` is what each substrate is called in plain words.
    """

    safety: SafetyTable
    preparation: PreparationTable
    weights: WeightTable
    life: Life
    baselines: BaselineTable
    stops: StopTable
    roles: RoleTable
    bench: BenchTable
    due_within_days: int
    referral: ReferralTable
    settings: Mapping[str, SettingRow]
    plain: Mapping[str, str]
