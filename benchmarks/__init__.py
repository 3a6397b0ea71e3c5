"""Benchmarks: each times ebbline against a named peer, in the same run, and prints the ratio.

They are no tests: nothing fails because a machine is slow. What they compute is checked, though,
and a benchmark whose two sides disagree stops. Run them with ``python -m benchmarks [NAME...]``.
"""
