"""The program's file against its operation: what is expected of it, and what was found when it was read."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from floor.batch import events
from floor.batch.command import Context, Refused, refuse_closed_batch, require_run, walk_of
from floor.batch.events import ProgramFinding, ProgramOffset, make_drafts
from floor.batch.gates.program_findings import sort_findings
from floor.batch.proof import ProgramCheck, SetupKey
from floor.batch.state import Batch
from floor.checklist.equipment import Tool
from floor.checklist.gates import Probed, ProgramLoaded, ToolLoaded, WorkHeld
from floor.checklist.model import Checklist
from floor.checklist.operation import Operation, ProgramLimits
from floor.checklist.units import Measure
from floor.dataclass import dataclass
from floor.entry import Draft
from floor.text import sanitize

if TYPE_CHECKING:
    from floor.evidence.nc.against_card import ExpectedProgram, ExpectedTool, Limits

ROUNDED = 0.005
"""How far a programmed speed or feed may be off the card: a last digit (shop decision)."""
MOST_FINDINGS = 60
"""Findings of a program that are kept, its faults first; the others are counted."""


@dataclass(frozen=True, slots=True)
class ReadProgram:
    """Record what the program's file holds; whoever gives it has just read the file."""

    run: int
    line: str
    file: str
    sha256: str
    lines: int
    seconds: float
    findings: tuple[ProgramFinding, ...]
    untimed: bool = False
    offsets: tuple[ProgramOffset, ...] = ()
    left_out: int = 0

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        refuse_closed_batch(batch)
        run = require_run(batch, self.run)
        line = walk_of(batch, run, context).line(self.line)
        if line is None or not isinstance(line.gate, ProgramLoaded):
            raise Refused("unknown", f'no program is read at "{self.line}" in this run', "look at the walk again")
        over = run.ended is not None or run.count is not None
        if over or (run.running and self.line not in run.reopened):
            raise Refused("not now", f"{line.title}: the cycle has started with it", "read it before the next start")
        faults, notes = sort_findings(self.findings)
        found = [_clean(one) for one in (*faults, *notes)]
        return make_drafts(
            events.ProgramRead(
                run=run.number,
                op=run.op,
                line=self.line,
                file=sanitize(self.file),
                sha256=self.sha256,
                lines=self.lines,
                seconds=self.seconds,
                findings=tuple(found[:MOST_FINDINGS]),
                untimed=self.untimed,
                offsets=tuple(replace(one, offset=sanitize(one.offset, 20)) for one in self.offsets[:MOST_FINDINGS]),
                left_out=self.left_out + len(found[MOST_FINDINGS:]),
            )
        )


def _clean(finding: ProgramFinding) -> ProgramFinding:
    """Words of the program, fit to be kept and shown."""
    values = tuple(sanitize(value, 80) if isinstance(value, str) else value for value in finding.values)
    return replace(finding, subject=sanitize(finding.subject, 80), values=values)


def expect_program(checklist: Checklist, operation: Operation, offset: str = "", sha256: str = "") -> ExpectedProgram:
    """What an operation expects of its program.

    Args:
        offset: the carrier's own work offset; by default the only one that the operation probes.
        sha256: of the file with which the first piece was accepted.
    """
    from floor.evidence.nc.against_card import ExpectedProgram

    inch = checklist.part.units == "inch"
    scale = 25.4 if inch else 1.0
    limits = operation.program_limits or ProgramLimits()
    return ExpectedProgram(
        units="inch" if inch else "mm",
        offset=offset or _find_only_offset(operation),
        tools=tuple(_expect_tool(number, checklist.tool(number), scale) for number in _list_tools(operation)) or None,
        h_rule="any" if limits.any_length_offset else "H is T",
        coolant="dry" if _is_cut_dry(operation) else "allowed",
        lowest_z=_scaled(limits.z_low, scale),
        travel_x=_span(limits.x_low, limits.x_high, scale),
        travel_y=_span(limits.y_low, limits.y_high, scale),
        sha256=sha256 or None,
        file_name=operation.program_file,
    )


def _find_only_offset(operation: Operation) -> str | None:
    probed = {step.offset for step in operation.steps if isinstance(step, Probed) and step.offset}
    return probed.pop() if len(probed) == 1 else None


def _list_tools(operation: Operation) -> dict[int, None]:
    """The tools that it cuts with or asks for, each once."""
    asked = [step.tool for step in operation.steps if isinstance(step, ToolLoaded)]
    return dict.fromkeys([use.tool for use in operation.tools] + asked)


def _is_cut_dry(operation: Operation) -> bool:
    """By the operation, or because its hold-down lets go when wet."""
    held = (step for step in operation.steps if isinstance(step, WorkHeld))
    return operation.coolant in ("dry", "air") or any(not step.holds_wet for step in held)


def _expect_tool(number: int, tool: Tool | None, scale: float) -> ExpectedTool:
    from floor.evidence.nc.against_card import ExpectedTool

    if tool is None:
        return ExpectedTool(number)
    feeds = [feed.base / scale for feed in (tool.feed, tool.plunge) if feed is not None and feed.base]
    return ExpectedTool(
        number,
        speed=_around(tool.speed.base, tool.speed.base) if tool.speed is not None and tool.speed.base else None,
        feed=_around(min(feeds), max(feeds)) if tool.feed is not None and feeds else None,
        left_hand=tool.left_hand,
    )


def _around(low: float, high: float) -> Limits:
    return low * (1 - ROUNDED), high * (1 + ROUNDED)


def _scaled(measure: Measure | None, scale: float) -> float | None:
    return None if measure is None else measure.base / scale


def _span(low: Measure | None, high: Measure | None, scale: float) -> Limits | None:
    if low is None and high is None:
        return None
    return -1e9 if low is None else low.base / scale, 1e9 if high is None else high.base / scale


def find_accepted_program(batch: Batch, setup: int) -> ProgramCheck | None:
    """The program of a set-up whose first piece is accepted."""
    keys = (key for key in batch.proofs if isinstance(key, SetupKey))
    accepted = any((key.gate, key.setup) == ("first piece accepted", setup) for key in keys)
    return batch.programs.get(setup) if accepted else None
