"""Pieces counted, held, scrapped, sent to rework, left over; what nobody is shown before it is counted."""

__all__ = ["blind_count", "commands", "decide_surplus", "holds", "op_yields", "surplus"]
