"""Where every use case of the clinic stands: the record, the rules, and who is at work."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import tzinfo

from ebbline.core.clinic.competence import Competence, standing
from ebbline.core.clinic.record.entry import Kept
from ebbline.core.clinic.record.staff import CompetenceProof, User
from ebbline.core.clinic.roles import may
from ebbline.core.errors import AccessError
from ebbline.services.clinic.ports import Act, Documents, Look, Record
from ebbline.services.clinic.rules import ClinicRules
from ebbline.services.library import Library

READ = "read record"


@dataclass(frozen=True, slots=True)
class Actor:
    """Who is at work: the id of a user who has logged in."""

    user_id: str


@dataclass(frozen=True, slots=True)
class Clinic:
    """Everything that a use case works with.

    ``zone`` is the clinic's time zone: records are kept in UTC, people read the clock on the wall.
    """

    record: Record
    documents: Documents
    library: Library
    rules: ClinicRules
    zone: tzinfo

    @contextmanager
    def act(self, act: str, who: Actor, *, why: str, token: str | None) -> Iterator[Act]:
        """Do one act, if this person may.

        A competence that has lapsed does not stop the work: the person is warned, and the warning
        is kept with the act.

        Parameters
        ----------
        act : str
            Id of the act in data/roles.toml.
        who : Actor
            Who does it.
        why : str
            The reason, empty where none is asked for.
        token : str or None
            What the sender calls this act, so that the same one sent twice is done once.

        Yields
        ------
        Act
        """
        with self.record.act(act, by=who.user_id, why=why, token=token) as doing:
            words = self._allow(doing, act, who)
            if words is not None and (token is None or doing.done(token) is None):
                doing.warn(words)
            yield doing

    @contextmanager
    def look(self, who: Actor) -> Iterator[Look]:
        """Read the record, if this person may.

        Parameters
        ----------
        who : Actor
            Who reads.

        Yields
        ------
        Look
        """
        with self.record.look() as looking:
            user = self.user(looking, who).entry
            may(self.rules.roles, act=READ, roles=user.roles, active=user.active)
            yield looking

    def user(self, look: Look, who: Actor) -> Kept[User]:
        """Return the user at work.

        Parameters
        ----------
        look : Look
            The record.
        who : Actor
            Who it is.

        Returns
        -------
        Kept of User

        Raises
        ------
        AccessError
            If the record holds no such user.
        """
        found = look.find(User, {"id": who.user_id})
        if not found:
            raise AccessError(
                field="user",
                wrong="there is no such user",
                allowed="somebody who has logged in",
                came=who.user_id or "nobody",
            )
        return found[0]

    def _allow(self, act: Act, name: str, who: Actor) -> str | None:
        """Refuse what the person may not do; return the warning about their competence, if any."""
        user = self.user(act, who).entry
        allowed = may(self.rules.roles, act=name, roles=user.roles, active=user.active)
        if allowed.needs_competence is None:
            return None
        proofs = [
            Competence(one.entry.task, one.entry.from_day, one.entry.until_day)
            for one in act.find(CompetenceProof, {"user_id": who.user_id})
        ]
        found = standing(
            allowed.needs_competence,
            proofs,
            on=act.at.astimezone(self.zone).date(),
            due_within_days=self.rules.due_within_days,
        )
        return None if found.valid else found.words
