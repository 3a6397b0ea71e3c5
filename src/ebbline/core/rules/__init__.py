"""Rule sets as data, and the evaluator that reads their rows."""
