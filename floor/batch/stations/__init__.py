"""Stations: which may be taken, how much room they have, disturbed, out of service."""

__all__ = ["capacity", "choice", "commands", "out_of_service", "setup_status"]
