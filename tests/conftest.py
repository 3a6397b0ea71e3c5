"""What every test shares: examples that are the same on each run, however slow the machine is."""

from hypothesis import settings

settings.register_profile("ci", derandomize=True, deadline=None, database=None)
settings.load_profile("ci")
