"""The same engine over tables of tests, compiled."""
