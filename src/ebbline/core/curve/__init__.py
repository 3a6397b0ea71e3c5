"""One test: its readings over time, and what is measured on them."""
