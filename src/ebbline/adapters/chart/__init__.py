"""The curve as a chart: one drawing for the report, for a file and for a screen."""
