"""Every name is unique, and every reference exists."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from floor.checklist.findings import Finding, suggest_known_name
from floor.checklist.gates import Characteristic, Confirmed, FirstPiece, Gate, LotRecorded, Measured, Signed, ToolLoaded
from floor.checklist.line_numbers import Path
from floor.checklist.model import Checklist
from floor.checklist.operation import Do, Operation
from floor.checklist.usual_lapses import may_lapse


def iterate_steps(checklist: Checklist) -> Iterator[tuple[Path, Operation, Do | Gate]]:
    """Every step of the route with its path."""
    for i, operation in enumerate(checklist.operations):
        for j, step in enumerate(operation.steps):
            yield ("operations", i, "steps", j), operation, step


def iterate_values(path: Path, step: Do | Gate) -> Iterator[tuple[Path, Measured | Characteristic]]:
    """Each value or look that a check asks for, with its path, given that of the check."""
    if isinstance(step, Measured | FirstPiece):
        yield from (((*path, "characteristics", k), one) for k, one in enumerate(step.characteristics))
        if isinstance(step, Measured) and not step.characteristics:
            yield path, step


def _twice(named: Iterable[tuple[Path, object]], what: str) -> Iterator[Finding]:
    seen: set[object] = set()
    for path, name in named:
        if name in seen:
            noun, own = what.split()[0], "a number" if what.endswith("number") else "a name"
            yield Finding(path, f'{what} "{name}" is in use already', f"give each {noun} {own} of its own")
        seen.add(name)


def check_duplicate_names(checklist: Checklist) -> Iterator[Finding]:
    for group, what in (("stations", "station"), ("carriers", "carrier"), ("reworks", "rework")):
        yield from _twice((((group, i, "id"), one.id) for i, one in enumerate(getattr(checklist, group))), what)
    yield from _twice(((("tools", i, "number"), tool.number) for i, tool in enumerate(checklist.tools)), "tool number")
    clocks = (
        (("operations", i, "clocks", j, "id"), clock.id)
        for i, operation in enumerate(checklist.operations)
        for j, clock in enumerate(operation.clocks)
    )
    yield from _twice(clocks, "clock")


def check_duplicate_names_in_operation(checklist: Checklist) -> Iterator[Finding]:
    for i, operation in enumerate(checklist.operations):
        at: Path = ("operations", i)
        reasons = (((*at, "reasons", j, "code"), reason.code) for j, reason in enumerate(operation.reasons))
        yield from _twice(reasons, "reason")
        named = (((*at, "steps", j, "id"), step.id) for j, step in enumerate(operation.steps) if step.id)
        yield from _twice(named, "step")
        yield from _twice((((*at, "tools", j, "tool"), use.tool) for j, use in enumerate(operation.tools)), "tool")
        keys = [key for key, _ in operation.numbered_steps]
        made = {key for key, step in operation.numbered_steps if not step.id}
        for j, step in enumerate(operation.steps):
            if step.id in made and keys.count(step.id) > 1:
                yield Finding(
                    (*at, "steps", j, "id"), f'"{step.id}" is how an unnamed step is called', "choose another"
                )


def check_lot_gates(checklist: Checklist) -> Iterator[Finding]:
    """One lot of one thing is asked for once in an operation."""
    for i, operation in enumerate(checklist.operations):
        asked: set[str] = set()
        for j, step in enumerate(operation.steps):
            if isinstance(step, LotRecorded) and step.what in asked:
                wrong = f'the lot of "{step.what}" is asked for already in op {operation.op}'
                yield Finding(("operations", i, "steps", j), wrong, "take one of the two out")
            asked |= {step.what} if isinstance(step, LotRecorded) else set()


def check_lots_of_first_pieces(checklist: Checklist) -> Iterator[Finding]:
    """A first piece is accepted again only for a material whose lot its operation records."""
    for path, operation, step in iterate_steps(checklist):
        known = [one.what for one in operation.steps if isinstance(one, LotRecorded) and not one.serial]
        for i, what in enumerate(step.again_for if isinstance(step, FirstPiece) else ()):
            if what not in known:
                wrong = f'op {operation.op} records no lot of "{what}"'
                right = suggest_known_name(what, known) if known else "add a `lot recorded` gate, or leave it out"
                yield Finding((*path, "again_for", i), wrong, right)


def check_lapse_causes(checklist: Checklist) -> Iterator[Finding]:
    for path, _, step in iterate_steps(checklist):
        causes = getattr(step, "lapses_on", None) or ()
        if len(set(causes)) < len(causes):
            yield Finding((*path, "lapses_on"), "names one twice", "name each once")
        if isinstance(step, Do) and causes and not may_lapse(step):
            right = 'take it out, or write `at = "load"`'
            yield Finding((*path, "lapses_on"), "only a step of the load or at a program stop lapses", right)
    for i, rework in enumerate(checklist.reworks):
        for j, step in enumerate(rework.steps):
            if step.lapses_on:
                wrong = "a step of a rework does not lapse"
                yield Finding(("reworks", i, "steps", j, "lapses_on"), wrong, "take it out")


def check_route_order(checklist: Checklist) -> Iterator[Finding]:
    before = 0
    for i, operation in enumerate(checklist.operations):
        if operation.op <= before:
            right = f"number the operations upward: more than {before} here"
            yield Finding(("operations", i, "op"), f"op {operation.op} comes after op {before}", right)
        before = max(before, operation.op)


def _unknown(path: Path, what: str, given: object, known: Iterable[object]) -> Iterator[Finding]:
    names = [str(name) for name in known]
    if str(given) not in names:
        yield Finding(path, f'{what} "{given}" is not in the file', suggest_known_name(str(given), names))


def check_operation_references(checklist: Checklist) -> Iterator[Finding]:
    stations = [station.id for station in checklist.stations]
    carriers = [carrier.id for carrier in checklist.carriers]
    tools = [tool.number for tool in checklist.tools]
    for i, operation in enumerate(checklist.operations):
        at: Path = ("operations", i)
        yield from _unknown((*at, "station"), "station", operation.station, stations)
        for j, other in enumerate(operation.also_at):
            yield from _unknown((*at, "also_at", j), "station", other, stations)
            if operation.stations.index(other) != j + 1:
                yield Finding((*at, "also_at", j), f'station "{other}" is already named', "name each station once")
        yield from _unknown((*at, "carrier"), "carrier", operation.carrier, carriers)
        for j, use in enumerate(operation.tools):
            yield from _unknown((*at, "tools", j, "tool"), "tool", use.tool, tools)
    for i, tool in enumerate(checklist.tools):
        yield from _unknown(("tools", i, "station"), "station", tool.station, stations)


def check_caution_references(checklist: Checklist) -> Iterator[Finding]:
    named: list[tuple[Path, tuple[str, ...]]] = [(path, step.cautions) for path, _, step in iterate_steps(checklist)]
    named += [
        (("reworks", i, "steps", j), step.cautions)
        for i, rework in enumerate(checklist.reworks)
        for j, step in enumerate(rework.steps)
    ]
    fields = [((*path, "cautions"), cautions) for path, cautions in named]
    for i, operation in enumerate(checklist.operations):
        fields += [(("operations", i, name), cautions) for name, cautions in operation.event_cautions.items()]
    for path, cautions in fields:
        for k, caution in enumerate(cautions):
            yield from _unknown((*path, k), "caution", caution, checklist.cautions)


def check_tool_station(checklist: Checklist) -> Iterator[Finding]:
    used: list[tuple[Path, Operation, int]] = [
        (("operations", i, "tools", j, "tool"), operation, use.tool)
        for i, operation in enumerate(checklist.operations)
        for j, use in enumerate(operation.tools)
    ]
    for path, operation, step in iterate_steps(checklist):
        if isinstance(step, ToolLoaded):
            used.append(((*path, "tool"), operation, step.tool))
            yield from _unknown((*path, "tool"), "tool", step.tool, [tool.number for tool in checklist.tools])
    for path, operation, number in used:
        tool = checklist.tool(number)
        if tool and tool.station not in operation.stations:
            here = [str(other.number) for other in checklist.tools if other.station in operation.stations]
            right = f"tools of {operation.station}: {', '.join(here) or 'none'}"
            yield Finding(path, f"tool {number} belongs to {tool.station}, not to {operation.station}", right)


def check_reason_targets(checklist: Checklist) -> Iterator[Finding]:
    numbers = list(checklist.ops)
    for i, operation in enumerate(checklist.operations):
        for j, reason in enumerate(operation.reasons):
            at: Path = ("operations", i, "reasons", j)
            if reason.to == "rework" and not reason.rework:
                yield Finding(at, "sends to rework but names no rework", 'add `rework = "…"`')
            elif reason.to != "rework" and reason.rework:
                yield Finding(at, f"names a rework but sends to {reason.to}", 'write `to = "rework"`, or leave it out')
            elif reason.rework:
                names = [rework.id for rework in checklist.reworks]
                yield from _unknown((*at, "rework"), "rework", reason.rework, names)
            if reason.caused_at is not None:
                yield from _unknown((*at, "caused_at"), "op", reason.caused_at, numbers)
                if reason.caused_at > operation.op:
                    wrong = f"found at op {operation.op} but caused at op {reason.caused_at}"
                    yield Finding((*at, "caused_at"), wrong, "name this operation or one before it")
            rework = checklist.rework(reason.rework)
            if rework and rework.back_to > operation.op:
                wrong = f"found at op {operation.op}, but rework {rework.id} starts at op {rework.back_to}"
                yield Finding((*at, "rework"), wrong, "rework goes back: to this operation or one before it")


def check_rework_targets(checklist: Checklist) -> Iterator[Finding]:
    for i, rework in enumerate(checklist.reworks):
        yield from _unknown(("reworks", i, "back_to"), "op", rework.back_to, checklist.ops)
        for j, op in enumerate(rework.ops):
            yield from _unknown(("reworks", i, "ops", j), "op", op, checklist.ops)


_REVISION = re.compile(r"[A-Z0-9]{1,3}")


def check_program_names_in_texts(checklist: Checklist) -> Iterator[Finding]:
    """A text that names the operation's program names the same revision."""
    for path, operation, step in iterate_steps(checklist):
        *name, revision = operation.program.split() or [""]
        said: list[tuple[Path, str]] = [(("detail",), step.detail)]
        said += [(("more", n), text) for n, text in enumerate(step.more)]
        said += [(("do",), step.do)] if isinstance(step, Do | Confirmed | Signed) else []
        for field, text in said:
            other = _shown_otherwise(text, operation.program)
            if name and not other and _REVISION.fullmatch(revision):
                found = re.search(re.escape(" ".join(name)) + r"\s+([A-Z0-9]{1,3})\b", text)
                other = f"{' '.join(name)} {found[1]}" if found and found[1] != revision else ""
            if other:
                wrong = f'the text says "{other}", the operation\'s program is "{operation.program}"'
                yield Finding(
                    (*path, *field), wrong, f'write "{operation.program}" in both, or leave it out of the text'
                )


def _shown_otherwise(text: str, program: str) -> str:
    """The program a text says the control shows, if it is a different one."""
    found = re.search(r"[Cc]ontrol shows ([^,;.]*\d[^,;.]*)", text)
    shown = found[1].strip() if found else ""
    return "" if not program or shown.casefold().split() == program.casefold().split() else shown


RULES = (
    check_duplicate_names,
    check_duplicate_names_in_operation,
    check_route_order,
    check_operation_references,
    check_caution_references,
    check_lot_gates,
    check_lots_of_first_pieces,
    check_lapse_causes,
    check_tool_station,
    check_reason_targets,
    check_rework_targets,
    check_program_names_in_texts,
)
