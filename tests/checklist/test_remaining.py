"""How much of a run is left when one of its clocks starts: least and most."""

from __future__ import annotations

import pytest

from floor.checklist.operation import Clock, Do, Operation, Window
from floor.checklist.run_time_left import compute_remaining

BEFORE, CYCLE, AFTER = 100.0, 10.0, 1.0


@pytest.mark.parametrize(("starts", "least", "most"), [
    ("start", 11, 11), ("end", 1, 1), ("release", 0, 0),
    ("step made ready", 11, 111), ("step loaded", 11, 11), ("step in cycle", 1, 11), ("step after", 0, 1),
])  # fmt: skip
def test_what_remains_is_all_that_may_come_after_the_event(starts: str, least: float, most: float) -> None:
    """A loading step is ticked at the end of loading; where in its phase another step comes is unknown."""
    steps = (
        Do(do="Make ready", id="made ready", at="setup"), Do(do="Load", id="loaded"),
        Do(do="Watch", id="in cycle", at="cycle"), Do(do="Unload", id="after", at="after"),
    )  # fmt: skip
    operation = Operation(op=10, title="Coat", station="booth", carrier="tray", steps=steps)
    clock = Clock(id="dry", starts=starts, windows=(Window(),), source="Invented")

    assert compute_remaining(operation, clock, BEFORE, CYCLE, AFTER) == (least, most)
