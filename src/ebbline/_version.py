"""Version of the engine; every result carries it."""

__version__ = "0.1.0"
