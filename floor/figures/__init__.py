"""Calculations on plain numbers."""

__all__ = [
    "cutting",
    "calendar",
    "drying",
    "errors",
    "forecast",
    "key_figures",
    "layout",
    "material",
    "offset_statistics",
    "overtime",
    "route_yields",
    "schedule",
    "soak",
    "start_at_estimated_yields",
    "start_at_known_yields",
    "temperature",
    "top_up",
    "units",
    "workdays",
    "yields",
]
