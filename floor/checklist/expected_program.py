"""What an operation expects of its NC program: its tools by their cards, coolant, offset, and where it may go."""

from __future__ import annotations

from typing import TYPE_CHECKING

from floor.checklist.equipment import Tool
from floor.checklist.gates import Probed, WorkHeld
from floor.checklist.model import Checklist
from floor.checklist.operation import Operation, ProgramLimits
from floor.checklist.units import Measure
from floor.evidence.nc.dialect import UNSET, Dialect

if TYPE_CHECKING:  # opening a shop reads no program
    from floor.evidence.nc.against_card import ExpectedProgram
    from floor.evidence.nc.tools_against_card import ExpectedTool, Limits


def expect_program(
    checklist: Checklist, operation: Operation, dialect: Dialect = UNSET, *, offset: str = "", sha256: str = ""
) -> ExpectedProgram:
    """What an operation expects of its program.

    Args:
        dialect: how the control of the station reads it.
        offset: the carrier's own work offset; by default the only one that the operation probes.
        sha256: of the file with which the first piece was accepted.
    """
    from floor.evidence.nc.against_card import ExpectedProgram
    from floor.evidence.nc.summary import Work

    limits = operation.program_limits or ProgramLimits()
    top = _base(limits.z_top) or 0.0
    rapid_low = _base(limits.rapid_z_low)
    held = [step for step in operation.steps if isinstance(step, WorkHeld)]
    return ExpectedProgram(
        units="inch" if checklist.part.units == "inch" else "mm",
        offset=offset or _find_only_offset(operation),
        tools=tuple(_expect_tool(number, checklist.tool(number)) for number in operation.tool_numbers) or None,
        h_rule="any" if limits.any_length_offset else "H is T",
        coolant=operation.coolant,
        holds_dry=any(not step.holds_wet for step in held),
        has_air_code=any(medium == "air" for _, medium in dialect.m_codes),
        work=Work(top, top if rapid_low is None else rapid_low),
        lowest_z=_base(limits.z_low),
        travel_x=_span(limits.x_low, limits.x_high),
        travel_y=_span(limits.y_low, limits.y_high),
        sha256=sha256 or None,
        program=operation.program,
        file_name=operation.program_file,
    )


def _find_only_offset(operation: Operation) -> str | None:
    probed = {step.offset for step in operation.steps if isinstance(step, Probed) and step.offset}
    return probed.pop() if len(probed) == 1 else None


def _expect_tool(number: int, tool: Tool | None) -> ExpectedTool:
    from floor.evidence.nc.tools_against_card import ROUNDED, ExpectedTool
    from floor.figures.cutting.card import ToolKind

    if tool is None:
        return ExpectedTool(number)
    speed, feed, plunge = _base(tool.speed), _base(tool.feed), _base(tool.plunge)
    feeds = [one for one in (feed, plunge) if one]
    low, high = 1 - ROUNDED, 1 + ROUNDED
    return ExpectedTool(
        number,
        speed=(speed * low, speed * high) if speed else None,
        feed=(min(feeds) * low, max(feeds) * high) if feed else None,
        left_hand=tool.left_hand,
        kind=ToolKind(tool.kind) if tool.kind else None,
        plunge=plunge,
        depth=_base(tool.depth),
        pitch=_base(tool.pitch),
    )


def _base(measure: Measure | None) -> float | None:
    return None if measure is None else measure.base


def _span(low: Measure | None, high: Measure | None) -> Limits | None:
    from floor.evidence.nc.finding_kinds import ANYWHERE

    if low is None and high is None:
        return None
    return -ANYWHERE if low is None else low.base, ANYWHERE if high is None else high.base
