"""Pieces counted, held, scrapped, sent to rework or surplus; and figures hidden until they are counted."""

__all__ = [
    "blind_count",
    "commands",
    "conformance",
    "correct_count",
    "follow_up",
    "decide_surplus",
    "holds",
    "losses",
    "lying",
    "op_yields",
    "scrap",
    "struck_count",
    "surplus",
]
