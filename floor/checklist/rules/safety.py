"""Safety: a booth is clear before anybody breathes in it; warnings if a checklist allows bypassing a check."""

from __future__ import annotations

from collections.abc import Iterator

from floor.checklist.findings import Finding
from floor.checklist.gates import Cured
from floor.checklist.model import Checklist
from floor.checklist.operation import Do
from floor.checklist.rules.names import iterate_steps

GRAVE = ("DANGER", "WARNING")
"""Signal words for hazards that can kill or seriously injure (ANSI Z535.4)."""


def check_safety_steps(checklist: Checklist) -> Iterator[Finding]:
    for path, _, step in iterate_steps(checklist):
        if not isinstance(step, Do) or not step.skip:
            continue
        words = {checklist.cautions[name].word for name in step.cautions if name in checklist.cautions}
        for word in [word for word in GRAVE if word in words][:1]:
            right = "write `skip = false`, or move the caution to the step that it is about"
            yield Finding(path, f"a step under a {word} may be skipped with a reason", right)


def check_booth_cleared(checklist: Checklist) -> Iterator[Finding]:
    """Nobody is in a booth without air before its clearance time is over (HSE, COSHH essentials MR2, from memory)."""
    booths = {station.id for station in checklist.stations if station.kind == "booth"}
    for i, operation in enumerate(checklist.operations):
        clocks = {one.id for one in operation.clocks if any(window.earliest is not None for window in one.windows)}
        waited = {step.clock for step in operation.steps if isinstance(step, Cured) and step.at in ("cycle", "after")}
        if not booths.isdisjoint(operation.stations) and clocks.isdisjoint(waited):
            wrong = "no gate waits until the booth is clear"
            right = 'add a clock with `earliest`, and `gate = "cured"` on it; 30 min until a smoke trial says less'
            yield Finding(("operations", i), wrong, right)


RULES = (check_booth_cleared,)
ADVISED = (check_safety_steps,)
