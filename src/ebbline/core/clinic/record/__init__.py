"""What is recorded: the kinds of entry, how they are written down, and the chain over all acts."""
