"""Everything that leaves the screen."""

__all__ = [
    "catalog",
    "costs",
    "drawing",
    "drifts",
    "figures_export",
    "gauges",
    "key_figures",
    "losses",
    "measured_values",
    "plan",
    "printing",
    "save",
    "search_results",
    "start_quantity",
    "status",
    "tag_codes",
    "tags",
    "trace",
    "traveler",
    "whatif",
]
