"""What is taken and noticed while a test runs, and the clock that minutes are counted by."""
