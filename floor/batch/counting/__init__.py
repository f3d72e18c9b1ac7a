"""Pieces counted, held, scrapped, sent to rework or surplus; and figures hidden until they are counted."""

__all__ = [
    "blind_count",
    "commands",
    "conformance",
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
