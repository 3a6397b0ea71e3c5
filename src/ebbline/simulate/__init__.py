"""Virtual tests with known truth, for tests, documentation and trying things out. Public."""
