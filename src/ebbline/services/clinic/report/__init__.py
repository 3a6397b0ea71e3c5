"""From the curve on record to the signed report, and what is read back later."""
