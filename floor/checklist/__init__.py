"""The checklist: its file, its model, and what is wrong with it."""

__all__ = [
    "step_references",
    "blank_layout",
    "control_settings",
    "equipment",
    "expected_program",
    "expected_yields",
    "findings",
    "frozen",
    "gates",
    "line_numbers",
    "loading",
    "model",
    "operation",
    "reason_letters",
    "rules",
    "schema",
    "material_required",
    "run_time_left",
    "tool_card",
    "units",
]
