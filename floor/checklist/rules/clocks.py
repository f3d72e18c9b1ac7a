"""Clocks start somewhere, their windows make sense, and no gate waits for one that cannot have started yet."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from floor.checklist.findings import Finding, suggest_known_name
from floor.checklist.gates import Cured
from floor.checklist.line_numbers import Path
from floor.checklist.model import Checklist
from floor.checklist.operation import BEFORE_CYCLE, PHASES, Clock, Do, Operation, Window
from floor.checklist.rules.names import iterate_steps
from floor.checklist.run_time_left import compute_remaining
from floor.figures.drying import MOST_HUMID, CureRule

EVENTS = ("start", "end", "release")
"""What starts a clock besides a step: cycle start, cycle end, release of the run."""


def check_clock_starts(checklist: Checklist) -> Iterator[Finding]:
    for i, operation in enumerate(checklist.operations):
        keys = [key for key, _ in operation.numbered_steps]
        for j, clock in enumerate(operation.clocks):
            path = ("operations", i, "clocks", j, "starts")
            word, _, name = clock.starts.partition(" ")
            if word == "step" and name:
                if name not in keys:
                    yield Finding(
                        path, f'no step of op {operation.op} is called "{name}"', suggest_known_name(name, keys)
                    )
            elif clock.starts not in EVENTS:
                right = 'write "start", "end", "release" or "step NAME"'
                yield Finding(path, f'"{clock.starts}" is not an event that starts a clock', right)
            elif not operation.cycle and clock.starts != "release":
                wrong = f'op {operation.op} has no cycle, so nothing ever happens at "{clock.starts}"'
                yield Finding(path, wrong, 'write "release" or "step NAME"')


def check_window_order(checklist: Checklist) -> Iterator[Finding]:
    for i, operation in enumerate(checklist.operations):
        for j, clock in enumerate(operation.clocks):
            for k, window in enumerate(clock.windows):
                path = ("operations", i, "clocks", j, "windows", k)
                if window.earliest is None and window.latest is None:
                    yield Finding(path, "has neither an earliest nor a latest time", "state one of them, or both")
                elif _earliest(window) > _latest(window):
                    wrong = f"earliest ({window.earliest}) is after latest ({window.latest})"
                    yield Finding(path, wrong, "the earliest comes first")
            for k, (one, other) in enumerate(pairwise(clock.windows), 1):
                if _earliest(other) <= _latest(one):
                    path = ("operations", i, "clocks", j, "windows", k)
                    wrong = "starts before the window above it has ended"
                    yield Finding(path, wrong, "list the windows in order, with time between them")


def _earliest(window: Window) -> float:
    return window.earliest.base if window.earliest else 0.0


def check_cure_air(checklist: Checklist) -> Iterator[Finding]:
    """The air that a clock's times hold for is air in which a coat cures, and there is a time to lengthen."""
    for i, operation in enumerate(checklist.operations):
        for j, clock in enumerate(operation.clocks):
            if clock.temperature is None and clock.humidity is None:
                continue
            at: Path = ("operations", i, "clocks", j)
            if all(window.earliest is None for window in clock.windows):
                wrong = "states air, but no time that cold or damp air could lengthen"
                yield Finding(at, wrong, "leave `temperature` and `humidity` out, or add `earliest`")
            if clock.humidity is not None and clock.humidity.base >= MOST_HUMID:
                wrong = f"a coat does not cure at {clock.humidity} humidity"
                yield Finding((*at, "humidity"), wrong, 'take it from the data sheet, such as "50 %"')
            coldest = CureRule().stops_at
            if clock.temperature is not None and clock.temperature.base <= coldest:
                wrong = f"a coat hardly cures at {clock.temperature}: below {coldest:g} degC no time counts"
                yield Finding((*at, "temperature"), wrong, 'take it from the data sheet, such as "25 degC"')


def _latest(window: Window) -> float:
    return window.latest.base if window.latest else float("inf")


def check_cured_gates(checklist: Checklist) -> Iterator[Finding]:
    for path, operation, step in iterate_steps(checklist):
        match step:
            case Cured():
                yield from _cured(checklist, path, operation, step)
            case Do(while_running=name) if name:
                found = checklist.clock(name)
                if found is None:
                    yield _no_clock(checklist, (*path, "while_running"), name)
                elif found[1].per != "batch":
                    wrong = f'clock "{name}" runs for each piece, so no mix is good while it runs'
                    yield Finding((*path, "while_running"), wrong, 'give the clock `per = "batch"`')


def _cured(checklist: Checklist, path: Path, operation: Operation, gate: Cured) -> Iterator[Finding]:
    at = (*path, "clock")
    found = checklist.clock(gate.clock)
    if found is None:
        yield _no_clock(checklist, at, gate.clock)
        return
    owner, clock = found
    if owner.op > operation.op:
        wrong = f'clock "{gate.clock}" starts only at op {owner.op}'
        yield Finding(at, wrong, f"wait for it at op {owner.op} or after it")
    elif owner is operation and not _started_before(operation, clock, gate):
        wrong = f'clock "{gate.clock}" cannot have started here: it starts at "{clock.starts}"'
        yield Finding(at, wrong, "move the gate after that, or into a later operation")
    if gate.until:
        yield from _until(path, operation, gate)


def _until(path: Path, operation: Operation, gate: Cured) -> Iterator[Finding]:
    place = next(i for i, (_, step) in enumerate(operation.numbered_steps) if step is gate)
    behind = [key for key, step in operation.numbered_steps[place + 1 :] if isinstance(step, Do) and step.at == gate.at]
    if gate.until not in behind:
        wrong = f'no step after it in the same phase of op {operation.op} is called "{gate.until}"'
        yield Finding((*path, "until"), wrong, suggest_known_name(gate.until, behind))


def _no_clock(checklist: Checklist, path: Path, name: str) -> Finding:
    clocks = [clock.id for operation in checklist.operations for clock in operation.clocks]
    return Finding(path, f'clock "{name}" is not in the file', suggest_known_name(name, clocks))


def _started_before(operation: Operation, clock: Clock, gate: Cured) -> bool:
    """Whether the walk reaches the clock's start before the gate, within one operation."""
    if clock.starts in EVENTS:
        first_after = {"start": "cycle", "end": "after", "release": None}[clock.starts]
        return first_after is not None and PHASES.index(gate.at) >= PHASES.index(first_after)
    keys = [key for key, _ in operation.numbered_steps]
    place = next(i for i, (_, step) in enumerate(operation.numbered_steps) if step is gate)
    name = clock.starts.removeprefix("step ")
    return name not in keys or keys.index(name) < place


def check_cycles_fit_windows(checklist: Checklist) -> Iterator[Finding]:
    """The planned cycle of a full load ends inside the window opened by its own start or a step in it."""
    for i, operation in enumerate(checklist.operations):
        cycle = _compute_full_cycle(checklist, operation)
        for clock in _list_clocks_in_cycle(operation) if cycle else ():
            least, most = _earliest(clock.windows[0]), _latest(clock.windows[-1])
            if cycle < least or (clock.starts == "start" and cycle > most):
                at: Path = ("operations", i, "time", "cycle" if operation.time.cycle else "cycle_piece")
                side = f"before {clock.windows[0].earliest}" if cycle < least else f"after {clock.windows[-1].latest}"
                wrong = f"a planned cycle of {cycle / 60:g} min ends {side}, outside the window of {clock.id}"
                band = f"{least / 60:g} min or more" if most == float("inf") else f"{least / 60:g} to {most / 60:g} min"
                yield Finding(at, wrong, f"plan {band}; {clock.source}")


def _compute_full_cycle(checklist: Checklist, operation: Operation) -> float:
    """Seconds of the cycle with as many loads as it takes."""
    carrier = next((one for one in checklist.carriers if one.id == operation.carrier), None)
    pieces = (carrier.capacity if carrier else 1) * operation.loads_per_cycle
    return operation.time.seconds("cycle", pieces) + operation.turns * operation.time.seconds("turn", pieces)


def _list_clocks_in_cycle(operation: Operation) -> list[Clock]:
    """Clocks started by the cycle's start or a step in it, with a gate in or after the cycle."""
    starts = {"start", *(f"step {step.id}" for step in operation.steps if step.id and step.at == "cycle")}
    waited = {step.clock for step in operation.steps if isinstance(step, Cured) and step.at in ("cycle", "after")}
    return [clock for clock in operation.clocks if clock.id in waited and clock.starts in starts]


def check_windows_outlast_work(checklist: Checklist) -> Iterator[Finding]:
    """Work that must follow a clock's start at an operation takes no longer than the clock stays open.

    Judged for one piece, the smallest load there is.
    """
    later = [
        (operation.op, step)
        for operation in checklist.operations
        for step in operation.steps
        if isinstance(step, Cured) and step.at in BEFORE_CYCLE
    ]
    for i, operation in enumerate(checklist.operations):
        for j, clock in enumerate(operation.clocks):
            before, cycle, after = (operation.time.seconds(part, 1) for part in ("before", "cycle", "after"))
            least, _ = compute_remaining(operation, clock, before, cycle, after)
            most = max(map(_latest, clock.windows))
            gates = [op for op, step in later if step.clock == clock.id and op > operation.op]
            if gates and least > most:
                wrong = (
                    f"{clock.id} closes {_said(most)} after it starts, and what follows at op {operation.op} "
                    f"takes {_said(least)} with a single piece: op {gates[0]} is {_said(least - most)} too late"
                )
                right = f"shorten the cycle or the work after it at op {operation.op}, or let the window close later"
                yield Finding(("operations", i, "clocks", j, "windows"), wrong, right)


def _said(seconds: float) -> str:
    return f"{seconds / 60:.3g} min" if seconds < 3600 else f"{seconds / 3600:.3g} h"


RULES = (check_clock_starts, check_window_order, check_cured_gates, check_cycles_fit_windows, check_cure_air)
ADVISED = (check_windows_outlast_work,)
