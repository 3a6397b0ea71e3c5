"""The rules of the clinic: safety, preparation, dose, the life of a test, and what is recorded."""
