"""What a complete file needs: nothing unused, a reason for every loss, a gate for every tool and program."""

from __future__ import annotations

from collections.abc import Iterator

from floor.checklist.findings import Finding
from floor.checklist.gates import Cured, ProgramLoaded, ToolLoaded
from floor.checklist.line_numbers import Path
from floor.checklist.model import Checklist
from floor.checklist.operation import Do
from floor.checklist.rules.names import iterate_steps

SPARE = ("station", "carrier", "tool")
"""What a shop may have beside what a part needs. A rework or a caution that nobody comes to was forgotten somewhere."""


def check_unused(checklist: Checklist) -> Iterator[Finding]:
    for what, finding in _list_unused(checklist):
        if what not in SPARE:
            yield finding


def check_unused_equipment(checklist: Checklist) -> Iterator[Finding]:
    for what, finding in _list_unused(checklist):
        if what in SPARE:
            yield finding


def _list_unused(checklist: Checklist) -> Iterator[tuple[str, Finding]]:
    """Kind of what the route never uses, and that it does not."""
    used = _collect_used_names(checklist)
    for what, path, name in _list_names(checklist):
        if name not in used[what]:
            right = f'put `cautions = ["{name}"]` on the step' if what == "caution" else "use it in the route"
            yield what, Finding(path, "is never used", f"{right}, or take it out")


def _list_names(checklist: Checklist) -> Iterator[tuple[str, Path, object]]:
    """(kind, path, name) of everything the route can use."""
    yield from (("station", ("stations", i), station.id) for i, station in enumerate(checklist.stations))
    yield from (("carrier", ("carriers", i), carrier.id) for i, carrier in enumerate(checklist.carriers))
    yield from (("tool", ("tools", i), tool.number) for i, tool in enumerate(checklist.tools))
    yield from (("rework", ("reworks", i), rework.id) for i, rework in enumerate(checklist.reworks))
    yield from (("caution", ("cautions", name), name) for name in checklist.cautions)


def _collect_used_names(checklist: Checklist) -> dict[str, set[object]]:
    """Kind → names the route uses."""
    operations = checklist.operations
    used: dict[str, set[object]] = {
        "station": {station for operation in operations for station in operation.stations},
        "carrier": {operation.carrier for operation in operations},
        "tool": {use.tool for operation in operations for use in operation.tools},
        "rework": {reason.rework for operation in operations for reason in operation.reasons},
        "caution": {name for rework in checklist.reworks for step in rework.steps for name in step.cautions},
    }
    for _, _, step in iterate_steps(checklist):
        used["caution"].update(step.cautions)
        if isinstance(step, ToolLoaded):
            used["tool"].add(step.tool)
    for operation in operations:
        used["caution"].update(*operation.event_cautions.values())
    return used


def check_clocks_watched(checklist: Checklist) -> Iterator[Finding]:
    watched = {step.clock for _, _, step in iterate_steps(checklist) if isinstance(step, Cured)}
    watched |= {step.while_running for _, _, step in iterate_steps(checklist) if isinstance(step, Do)}
    for i, operation in enumerate(checklist.operations):
        for j, clock in enumerate(operation.clocks):
            if clock.id not in watched:
                wrong = f'no gate waits for clock "{clock.id}"'
                yield Finding(("operations", i, "clocks", j), wrong, 'add a step with `gate = "cured"`, or take it out')


def check_programs_read_back(checklist: Checklist) -> Iterator[Finding]:
    for i, operation in enumerate(checklist.operations):
        gates = [j for j, step in enumerate(operation.steps) if isinstance(step, ProgramLoaded)]
        if gates and not operation.program:
            wrong = "the operation names no program to compare with"
            yield Finding(("operations", i, "steps", gates[0]), wrong, "add `program` to the operation")
        elif operation.program and not gates:
            right = 'add a step with `gate = "program loaded"`'
            yield Finding(("operations", i, "program"), "no gate reads the program back", right)


def check_tools_proved(checklist: Checklist) -> Iterator[Finding]:
    for i, operation in enumerate(checklist.operations):
        proved = {step.tool for step in operation.steps if isinstance(step, ToolLoaded)}
        for j, use in enumerate(operation.tools):
            if use.tool not in proved:
                right = f'add a step with `gate = "tool loaded"`, `tool = {use.tool}`'
                yield Finding(("operations", i, "tools", j), f"no gate proves that tool {use.tool} is loaded", right)


def check_loss_reasons(checklist: Checklist) -> Iterator[Finding]:
    for i, operation in enumerate(checklist.operations):
        if not any(reason.to == "scrap" for reason in operation.reasons):
            yield Finding(("operations", i), "no reason for scrap: a loss could not be counted", "add to `reasons`")
        for j, reason in enumerate(operation.reasons):
            if reason.code.lower() == "other" and not reason.needs_note:
                path = ("operations", i, "reasons", j)
                yield Finding(path, '"other" says nothing by itself', "add `needs_note = true`")


def check_cycle_times(checklist: Checklist) -> Iterator[Finding]:
    for i, operation in enumerate(checklist.operations):
        time = operation.time
        if operation.cycle and not (time.cycle or time.cycle_piece):
            right = "add `cycle` or `cycle_piece`; with no machine cycle, `cycle = false` at the operation"
            yield Finding(("operations", i, "time"), "no time for the cycle", right)
        elif not operation.cycle and not any((time.before, time.before_piece, time.after, time.after_piece)):
            yield Finding(("operations", i, "time"), "no time for the work", "add `before`, `before_piece` or `after`")


def check_uninterrupted_times(checklist: Checklist) -> Iterator[Finding]:
    for i, operation in enumerate(checklist.operations):
        time = operation.time
        by_hand = (time.before, time.before_piece, time.after, time.after_piece)
        attended = time.cycle_attended and (time.cycle or time.cycle_piece)
        if operation.in_one_go and not any(by_hand) and not attended:
            right = "add `before`, `before_piece` or `after`: they tell by when it must start"
            yield Finding(("operations", i, "in_one_go"), "no time for the attended work", right)


RULES = (
    check_unused,
    check_clocks_watched,
    check_programs_read_back,
    check_tools_proved,
    check_loss_reasons,
    check_cycle_times,
    check_uninterrupted_times,
)

ADVISED = (check_unused_equipment,)
