"""Change a setting of the service; each change is a version."""

from dataclasses import replace
from typing import Any

from ebbline.core.clinic.record.staff import Setting
from ebbline.core.clinic.service_settings import check_setting
from ebbline.core.errors import FieldError
from ebbline.services.clinic.desk import Actor, Clinic
from ebbline.services.clinic.ports import Look
from ebbline.services.clinic.repeated import repeated


def change_setting(
    clinic: Clinic,
    who: Actor,
    *,
    name: str,
    value: object,
    version: int,
    why: str,
    token: str | None,
) -> Setting:
    """Change a setting.

    Parameters
    ----------
    clinic : Clinic
        Where.
    who : Actor
        Who changes it.
    name : str
        A setting of data/service_settings.toml.
    value : object
        A text, a list of texts or a number, as its row asks.
    version : int
        The version that the person saw, 0 where it was not set.
    why : str
        The reason; may be empty.
    token : str or None
        What the sender calls this act.

    Returns
    -------
    Setting

    Raises
    ------
    FieldError
        If there is no such setting, it cannot be that, or it was never set as the person saw it.
    ConflictError
        If it has changed since it was seen.
    """
    kept = {"value": check_setting(clinic.rules.settings, name=name, value=value)}

    def same(one: Setting) -> bool:
        return one.name == name and one.value == kept

    with clinic.act("change settings", who, why=why.strip(), token=token) as act:
        if before := repeated(act, Setting, token, same=same):
            return before
        found = act.find(Setting, {"name": name})
        if found:
            return act.revise(replace(found[0].entry, value=kept), version=version)
        if version != 0:
            raise FieldError(
                field="version", wrong="this setting is not set yet", allowed="0", came=str(version)
            )
        return act.add(Setting(act.new_id(), name, kept))


def setting_of(look: Look, name: str) -> Any:
    """Return the value of a setting, None where it is not set.

    Parameters
    ----------
    look : Look
        The record.
    name : str
        A setting of data/service_settings.toml.

    Returns
    -------
    str, list of str, float or None
    """
    found = look.find(Setting, {"name": name})
    return found[0].entry.value["value"] if found else None
