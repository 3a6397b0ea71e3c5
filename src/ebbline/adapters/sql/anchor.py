"""Where the computer's clocks last stood, kept in one row beside the record's chain."""

from sqlalchemy import delete, insert, select

from ebbline.adapters.sql.look import SqlLook
from ebbline.adapters.sql.tables import ANCHOR
from ebbline.core.clinic.clock import Anchor
from ebbline.core.clinic.record.written import read_moment, write_moment
from ebbline.services.clinic.ports import Act, Look

_ROW = 1


class SqlAnchors:
    """Keeps the clocks in the record's own database."""

    def kept(self, look: Look) -> Anchor | None:
        """Return where they stood, None where nobody has looked yet."""
        assert isinstance(look, SqlLook)
        row = look.connection.execute(select(ANCHOR)).mappings().one_or_none()
        if row is None:
            return None
        return Anchor(row["boot_id"], row["steady_s"], read_moment(row["utc"]))

    def keep(self, act: Act, anchor: Anchor) -> None:
        """Keep where they stand, in the transaction of an act."""
        assert isinstance(act, SqlLook)
        act.connection.execute(delete(ANCHOR))
        act.connection.execute(
            insert(ANCHOR).values(
                id=_ROW,
                boot_id=anchor.boot_id,
                steady_s=anchor.steady_s,
                utc=write_moment(anchor.utc),
            )
        )
