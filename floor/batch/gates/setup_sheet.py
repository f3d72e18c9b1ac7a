"""What the operator needs to set a station up: tool card, program, work offset.

Answers question 6: is this set-up right? All facts come from the checklist except tool life, which the record knows.
Workholding is a step of its own, with its torque.
"""

from __future__ import annotations

from floor.batch.gates.program_findings import count_program_faults, describe_program_finding, list_program_faults
from floor.batch.gates.tool_life import compute_tool_life, format_life_left, say_life
from floor.batch.proof import ProgramCheck
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.batch.walk.lines import Line
from floor.batch.walk.shared_cycles import find_runs_in_cycle
from floor.checklist.equipment import Tool
from floor.checklist.gates import Probed, ProgramLoaded, ToolLoaded
from floor.checklist.operation import Operation
from floor.checklist.step_references import find_limits
from floor.dataclass import dataclass
from floor.text import format_count, format_span

MOST_FAULTS = 8
"""Faults of a program on a card; the others are counted."""
SheetFacts = tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Card:
    """Facts, the most important first."""

    title: str
    facts: SheetFacts
    """(name, fact with its unit)."""
    brief: tuple[str, ...]
    """The facts without names, for narrow places; the last ones may be dropped."""


def build_setup_card(batch: Batch, run: Run, line: Line) -> Card | None:
    """The card of a line: of its tool, or of the set-up for a set-up line or a running cycle; else None."""
    step = line.step
    if line.kind == "gate" and isinstance(step, ToolLoaded):
        tool = batch.checklist.tool(step.tool)
        return _of_tool(batch, run, step, tool) if tool is not None else None
    if line.kind in ("start", "end") or (line.kind == "gate" and isinstance(step, Probed | ProgramLoaded)):
        return _of_setup(batch, run, tools=line.kind in ("start", "end"))
    return None


def find_own_offset(batch: Batch, run: Run) -> str:
    """The run's work offset if each carrier has its own; else empty."""
    load = batch.loads[run.load]
    offset = batch.checklist.station(run.station).offset_of(load.carrier, load.carrier_number)
    probed = any(isinstance(step, Probed) and step.offset == offset for step in batch.find_operation(run).steps)
    return offset if probed else ""


def _of_tool(batch: Batch, run: Run, gate: ToolLoaded, tool: Tool) -> Card:
    from floor.checklist.tool_card import (
        describe_card_figures,
        find_card_faults,
    )  # opening a shop needs no cutting data

    teeth = f"{tool.flutes} {'tooth' if tool.flutes == 1 else 'teeth'}" if tool.flutes else ""
    cut = _format_cut(tool)
    lengths = gate.asks()[1].band if gate.length else ""
    life = _life(batch, run, tool)
    facts = [
        ("name", tool.name, tool.name),
        ("diameter", _text(tool.diameter), f"Ø {tool.diameter}"),
        ("teeth", str(tool.flutes or ""), teeth),
        ("angle", _text(tool.angle), f"angle {tool.angle}"),
        ("tip", _text(tool.tip), f"tip {tool.tip}"),
        ("speed", _text(tool.speed), _text(tool.speed)),
        ("turns", "reverse, M4" if tool.left_hand else "", "reverse, M4"),
        ("feed", _text(tool.feed), _text(tool.feed)),
        ("plunge", _text(tool.plunge), f"plunge {tool.plunge}"),
        ("cut", cut, cut),
        ("stick-out", _text(tool.stick_out), f"stick-out {tool.stick_out}"),
        ("length", lengths, ""),  # stands beside its field
        ("life", life, life),
        ("pitch", _text(tool.pitch), f"pitch {tool.pitch}"),
        ("flute length", _text(tool.flute_length), f"flute length {tool.flute_length}"),
        ("per tooth", _text(tool.chip_load), f"{tool.chip_load} per tooth"),
        ("at the edge", _text(tool.surface_speed), f"{tool.surface_speed} at the edge"),
        *((name, said, f"{name} {said}") for name, said in describe_card_figures(batch.checklist, tool)),
        ("source", tool.source, ""),
    ]
    doubts = [f"{fault.wrong}: {fault.right}" for fault in find_card_faults(batch.checklist, tool)]
    facts[1:1] = [("check", said, f"! {said}") for said in doubts]
    known = [(name, said, brief) for name, said, brief in facts if said]
    return Card(
        f"Tool {tool.number}",
        tuple((name, said) for name, said, _ in known),
        tuple(brief for _, _, brief in known if brief),
    )


def _format_cut(tool: Tool) -> str:
    """``0.07 in deep, 0.5 in wide``."""
    sizes = ((tool.depth, "deep"), (tool.width, "wide"))
    return ", ".join(f"{size} {way}" for size, way in sizes if size is not None)


def _of_setup(batch: Batch, run: Run, tools: bool) -> Card | None:
    operation = batch.find_operation(run)
    offsets = dict.fromkeys(step.offset for _, step in operation.numbered_steps if isinstance(step, Probed))
    facts: list[tuple[str, str]] = []
    if operation.program:
        facts.append(("program", operation.program))
    if offsets:
        facts.append(("work offset", ", ".join(offsets)))
    if operation.coolant:
        facts.append(("coolant", "none: dry" if operation.coolant == "dry" else operation.coolant))
    brief = [f"{name} {said}" for name, said in facts]
    check = batch.programs.get(run.setup)
    if check is not None:
        _add_program(batch, run, check, _format_cycle_times(check, operation, run), facts, brief)
    if tools:
        _add_tools(batch, run, operation, facts, brief)
    return Card("This set-up", tuple(facts), tuple(brief)) if facts else None


def _add_program(
    batch: Batch, run: Run, check: ProgramCheck, time: str, facts: list[tuple[str, str]], brief: list[str]
) -> None:
    """What was found in the program's file, its faults first of all."""
    found = list_program_faults(batch, run)
    faults = [describe_program_finding(batch, one) for one in found[:MOST_FAULTS]]
    more = count_program_faults(batch, run) - len(faults)
    if more:
        faults.append(f"and {format_count(more, 'more fault')}")
    facts[:0] = [("fault", said) for said in faults]
    facts += [("note", describe_program_finding(batch, one)) for one in check.notes]
    if check.sha256:
        facts += [("file", f"{check.file} {check.sha256[:8]}"), ("time", time)]
        brief.append(f"{check.file}: {time}")
    brief[:0] = [f"! {said}" for said in faults]


def _format_cycle_times(check: ProgramCheck, operation: Operation, run: Run) -> str:
    """``18 min in the file, 20 min in the checklist``."""
    at_least = "at least " if check.untimed else ""
    planned = operation.time.seconds("cycle", len(run.pieces))
    in_file = f", {format_span(planned)} in the checklist" if planned else ""
    return f"{at_least}{format_span(check.seconds)} in the file{in_file}"


def _add_tools(batch: Batch, run: Run, operation: Operation, facts: list[tuple[str, str]], brief: list[str]) -> None:
    """How each tool runs, and the limits of the station."""
    for tool in filter(None, map(batch.checklist.tool, operation.tool_numbers)):
        run_at = ", ".join(filter(None, (_text(tool.speed), _text(tool.feed))))
        facts.append((f"T{tool.number}", "; ".join(filter(None, (tool.name, run_at, _life(batch, run, tool))))))
        brief.append(f"T{tool.number} {run_at or tool.name}")
    limits = find_limits(batch.checklist.station(run.station))
    if facts and limits:
        facts.append(("station", limits))


def _life(batch: Batch, run: Run, tool: Tool) -> str:
    """``3.1 h left, this load takes 12 min``; for a tool not loaded yet, the life of a new one."""
    if tool.life is None:
        return ""
    left, need = compute_tool_life(batch, run, tool.number)
    said = f"{tool.life} when new" if left is None else format_life_left(tool, left)
    what = "these loads take" if len(find_runs_in_cycle(batch, run)) > 1 else "this load takes"
    return said + (f", {what} {say_life(tool, need, 'piece')}" if need else "")


def _text(measure: object) -> str:
    return "" if measure is None else str(measure)
