"""Links to analysers with a text output, described by a profile and not by code."""
