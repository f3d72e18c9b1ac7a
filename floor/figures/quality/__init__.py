"""Quality figures: intervals, control charts, capability, sampling, where scrap comes from, wear, reasons.

Pure, on the standard library. What can occur in a record never raises: where there is no number, a `Missing` stands in
its place. Misuse raises `ImpossibleFigure`. Modules are named here as other rooms start to use them.
"""

__all__ = [
    "capability",
    "chart_constants",
    "comparison",
    "control_charts",
    "describe_values",
    "detection",
    "drift",
    "factor_effects",
    "intervals",
    "looks",
    "missing",
    "pareto",
    "patterns",
    "run_rules",
    "sampling_places",
    "sampling_plans",
    "share_by_load",
    "spread",
    "suspects",
]
