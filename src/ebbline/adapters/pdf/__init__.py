"""The report of one test as a tagged PDF."""
