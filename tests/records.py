"""What tests of the record share: a clock that they move."""

from datetime import UTC, datetime, timedelta


class Clock:
    """A clock that stands until it is moved; in UTC."""

    def __init__(self) -> None:
        self.at = datetime(2026, 11, 27, 8, 0, tzinfo=UTC)

    def __call__(self) -> datetime:
        """Return the time."""
        return self.at

    def pass_minutes(self, minutes: float) -> None:
        """Let time pass."""
        self.at += timedelta(minutes=minutes)
