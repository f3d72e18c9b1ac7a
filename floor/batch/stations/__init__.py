"""Stations: which are free, their room, who may work there, disturbances, out of service."""

__all__ = [
    "capacity",
    "commands",
    "conditions",
    "out_of_service",
    "qualified_people",
    "standing_setup",
    "station_choice",
]
