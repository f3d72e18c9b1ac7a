"""How much of a run is left when one of its clocks starts."""

from __future__ import annotations

from floor.checklist.operation import Clock, Operation


def compute_remaining(
    operation: Operation, clock: Clock, before: float, cycle: float, after: float
) -> tuple[float, float]:
    """Least and most time from the start of a clock to the end of its run.

    A step's place within its phase is unknown; a loading step counts as the end of loading, when it is ticked.

    Args:
        before: time of the run before its cycle; the answer has the same unit.
        cycle: time of its cycle.
        after: time after the cycle.
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
