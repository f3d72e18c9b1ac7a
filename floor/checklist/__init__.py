"""The checklist: its file, its model, and what is wrong with it."""

__all__ = [
    "basis",
    "blank_layout",
    "expected_yields",
    "findings",
    "frozen",
    "gates",
    "line_numbers",
    "loading",
    "model",
    "rules",
    "schema",
    "supplies",
    "supply_left",
    "units",
]
