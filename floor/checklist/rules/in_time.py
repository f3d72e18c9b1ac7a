"""Gates stand where they still can prove something: before the cut, with a sample that a load has."""

from __future__ import annotations

from collections.abc import Iterator

from floor.checklist.findings import Finding
from floor.checklist.gates import ByPlan, EveryNth, Measured, Probed, ProgramLoaded, ToolLoaded, WorkHeld
from floor.checklist.line_numbers import Path
from floor.checklist.model import Checklist
from floor.checklist.rules.names import iterate_steps
from floor.figures.quality.sampling_plans import AQLS

BEFORE_THE_CUT = {
    Probed: ("where the work sits", "load"),
    ToolLoaded: ("that the tool is there", "setup"),
    ProgramLoaded: ("which program runs", "setup"),
    WorkHeld: ("that the work is held", "load"),
}
"""Kind of gate → what it proves, and where it usually stands."""


USUAL_AQLS = 0.4, 6.5
"""Between them lie those that drawings of parts ask for (common practice, no source)."""


def check_proved_in_time(checklist: Checklist) -> Iterator[Finding]:
    for path, _, step in iterate_steps(checklist):
        what, at = BEFORE_THE_CUT.get(type(step), ("", ""))
        if what and step.at == "after":
            yield Finding((*path, "at"), f"proves {what} once the cut is over", f'use `at = "{at}"`, before the cut')


def check_samples(checklist: Checklist) -> Iterator[Finding]:
    sizes = {carrier.id: carrier.capacity for carrier in checklist.carriers}
    for path, operation, step in iterate_steps(checklist):
        if not isinstance(step, Measured) or isinstance(step.sample, str):
            continue
        if not isinstance(step.sample, int):
            yield from _check_counted_on(path, step, step.sample)
            continue
        size = sizes.get(operation.carrier, step.sample)
        if step.sample < 1:
            yield Finding((*path, "sample"), f"a sample of {step.sample} measures nothing", 'use 1 or more, or "all"')
        elif step.sample > size > 0:
            wrong = f"a sample of {step.sample} from a load of {size}"
            yield Finding((*path, "sample"), wrong, f'use at most {size}, or "all"')


def _check_counted_on(path: Path, step: Measured, sample: EveryNth | ByPlan) -> Iterator[Finding]:
    """A sample that depends on the loads before needs each load to be measured, and pieces to be told apart."""
    if step.per != "load":
        yield Finding((*path, "per"), f"a sample {sample} is taken of each load", "leave out `per`")
    if step.accept:
        wrong = f"a sample {sample} with one count of what fails"
        yield Finding((*path, "accept"), wrong, "state the look in `characteristics`: each piece gets its own answer")
    if not step.of_piece:
        yield Finding((*path, "of"), f"a sample {sample} of a station", "measure a station once")
    if isinstance(sample, ByPlan) and sample.aql not in AQLS:
        usual = ", ".join(f"{aql:g}" for aql in AQLS if USUAL_AQLS[0] <= aql <= USUAL_AQLS[1])
        wrong = f"{sample.aql:g} % is no AQL of MIL-STD-105E"
        yield Finding((*path, "sample", "aql"), wrong, f"use one it has: {usual}")


RULES = (check_proved_in_time, check_samples)
