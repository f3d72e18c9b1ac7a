"""What must be proved before work goes on: gates, signatures, lots, set-up sheets, values out of limits."""

__all__ = [
    "commands",
    "decide_out_of_limits",
    "gauges",
    "measured_pieces",
    "entered_values",
    "judge_readings",
    "lapse_causes",
    "offset_users",
    "open_lot",
    "out_of_limits",
    "program_check",
    "program_findings",
    "room_air",
    "setup_sheet",
    "soak_outcome",
    "soak_readings",
    "suspect_gauges",
    "tool_life",
    "check_values",
    "verifiers",
]
