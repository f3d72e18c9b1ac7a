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
    "start_estimate",
    "start_quantity",
    "top_up",
    "workdays",
    "yields",
]
