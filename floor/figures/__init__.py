"""Calculations on plain numbers."""

__all__ = [
    "calendar",
    "errors",
    "forecast",
    "key_figures",
    "layout",
    "material",
    "overtime",
    "route",
    "schedule",
    "soak",
    "start_estimate",
    "start_quantity",
    "top_up",
    "workdays",
    "yields",
]
