"""Who the patients are, and why they were sent."""
