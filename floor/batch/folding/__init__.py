"""One small function for each kind of entry; importing a module here puts its kinds into the table."""
