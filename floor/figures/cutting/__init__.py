"""The tool card: what a tool does at a speed and feed, and what does not fit the tool, the work or the machine.

All figures are floats in the base units of the checklist: mm, degrees, rpm, mm/min, m/min, W, N·m, mm³/min.
"""

__all__ = ["card", "geometry", "materials", "mechanics", "misfits"]
