"""The command line: one command a file, over the same services as every other entrance."""
