"""Use cases, one verb a file. They know the core and the ports, no file and no library."""
