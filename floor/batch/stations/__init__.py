"""Stations: which may be taken, how much room they have, disturbed, out of service."""
