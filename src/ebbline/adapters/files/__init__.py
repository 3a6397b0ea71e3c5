"""Files that come in: the curve file of a recorded test."""
