"""One exhalation: dilution, the reading and its uncertainty."""
