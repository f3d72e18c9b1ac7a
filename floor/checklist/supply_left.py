"""What remains of a run when one of its clocks starts."""

from __future__ import annotations

from floor.checklist.model import Clock, Operation


def compute_remaining(
    operation: Operation, clock: Clock, before: float, cycle: float, after: float
) -> tuple[float, float]:
    """Time from the start of a clock to the end of its run, at the least and at the most.

    A step's place within its phase is not known; a step of the loading counts as the end of the loading, because that
    is when it is ticked.

    Args:
        before: what the run takes until its cycle; the answer has the same unit.
        cycle: its cycle.
        after: what follows the cycle.
    """
    wanted = clock.starts.removeprefix("step ")
    known = {"start": "load", "end": "end", "release": "release"}
    at = known.get(clock.starts) or next((step.at for step in operation.steps if step.id == wanted), "load")
    match at:
        case "release":
            return 0.0, 0.0
        case "after":
            return 0.0, after
        case "end":
            return after, after
        case "cycle":
            return after, cycle + after
        case "load":
            return cycle + after, cycle + after
    return cycle + after, before + cycle + after
