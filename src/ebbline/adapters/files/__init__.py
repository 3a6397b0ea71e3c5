"""Files that come in: the curve file of a recorded test, the trace file of one breath or bag."""
