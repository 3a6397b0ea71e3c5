"""The record in a database: SQLite in one file, or a PostgreSQL server, by one schema."""
