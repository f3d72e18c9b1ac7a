"""Stations: which are free, their room, disturbances, out of service."""

__all__ = ["capacity", "station_choice", "commands", "conditions", "out_of_service", "standing_setup"]
