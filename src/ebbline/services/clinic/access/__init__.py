"""Who may come in: passwords, sessions and the people of the service."""
