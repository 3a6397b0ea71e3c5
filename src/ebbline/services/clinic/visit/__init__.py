"""One visit from the booking to minute 0, or to an early end."""
