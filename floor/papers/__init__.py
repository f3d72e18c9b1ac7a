"""Everything that leaves the screen."""

__all__ = [
    "catalog",
    "drawing",
    "gauges",
    "plan",
    "printing",
    "save",
    "search_results",
    "start_quantity",
    "status",
    "trace",
    "traveler",
    "whatif",
]
