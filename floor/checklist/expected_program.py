"""What an operation expects of its NC program: its tools by their cards, coolant, offset, and where it may go."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from floor.checklist.gates import Probed, WorkHeld
from floor.checklist.model import Checklist
from floor.checklist.operation import Operation, ProgramLimits
from floor.checklist.units import Measure
from floor.evidence.nc.dialect import UNSET, Dialect

if TYPE_CHECKING:  # opening a shop reads no program
    from floor.evidence.nc.against_card import ExpectedProgram
    from floor.evidence.nc.summary import Work
    from floor.evidence.nc.tools_against_card import ExpectedTool, Limits


def expect_program(
    checklist: Checklist,
    operation: Operation,
    dialect: Dialect = UNSET,
    *,
    offsets: Sequence[str] = (),
    sha256: str = "",
    station: str = "",
) -> ExpectedProgram:
    """What an operation expects of its program.

    Args:
        dialect: how the control of the station reads it.
        offsets: work offsets of the carriers in the cycle, in each of which it must move; by default it may move in
            any that the operation probes.
        sha256: of the file with which the first piece was accepted.
        station: where it runs; by default the operation's first.
    """
    from floor.evidence.nc.against_card import ExpectedProgram

    limits = operation.program_limits or ProgramLimits()
    probed = _list_probed(checklist, operation)
    held = [step for step in operation.steps if isinstance(step, WorkHeld)]
    return ExpectedProgram(
        units="inch" if checklist.part.units == "inch" else "mm",
        carriers={offset: probed.get(offset, "the work") for offset in offsets or probed},
        each=len(offsets) > 1,
        tools=tuple(_expect_tool(checklist, number) for number in operation.tool_numbers) or None,
        h_rule="any" if limits.any_length_offset else "H is T",
        coolant=operation.coolant,
        holds_dry=any(not step.holds_wet for step in held),
        has_air_code=any(medium == "air" for _, medium in dialect.m_codes),
        work=_find_work(limits),
        lowest_z=_base(limits.z_low),
        travel_x=_span(limits.x_low, limits.x_high),
        travel_y=_span(limits.y_low, limits.y_high),
        speed_limit=_base(checklist.station(station or operation.station).speed_limit),
        sha256=sha256 or None,
        program=operation.program,
        file_name=operation.program_file,
    )


def _find_work(limits: ProgramLimits) -> Work:
    from floor.evidence.nc.summary import Work

    top, rapid_low = _base(limits.z_top) or 0.0, _base(limits.rapid_z_low)
    return Work(top, top if rapid_low is None else rapid_low)


def _list_probed(checklist: Checklist, operation: Operation) -> dict[str, str]:
    """Work offset that is probed at the operation → the carrier that is there."""
    carrier, found = checklist.carrier(operation.carrier), dict[str, str]()
    own = checklist.station(operation.station).carrier_offsets.get(carrier.id, ())
    for step in operation.steps:
        if isinstance(step, Probed) and step.offset:
            found[step.offset] = carrier.name
        elif isinstance(step, Probed):
            found |= {offset: carrier.label(number) for number, offset in enumerate(own, 1)}
    return found


def _expect_tool(checklist: Checklist, number: int) -> ExpectedTool:
    from floor.checklist.tool_card import compute_least_turn
    from floor.evidence.nc.tools_against_card import ROUNDED, ExpectedTool
    from floor.figures.cutting.card import ToolKind

    tool = checklist.tool(number)
    if tool is None:
        return ExpectedTool(number)
    speed, feed, plunge = _base(tool.speed), _base(tool.feed), _base(tool.plunge)
    feeds = [one for one in (feed, plunge) if one]
    low, high = 1 - ROUNDED, 1 + ROUNDED
    return ExpectedTool(
        number,
        speed=(speed * low, speed * high) if speed else None,
        feed=(min(feeds) * low, max(feeds) * high) if feed else None,
        sideways=(feed * low, feed * high) if feed and plunge else None,
        least_turn=compute_least_turn(checklist, tool),
        least_depth=_base(tool.min_depth),
        left_hand=tool.left_hand,
        kind=ToolKind(tool.kind) if tool.kind else None,
        plunge=plunge,
        depth=_base(tool.depth),
        pitch=_base(tool.pitch),
        flute_length=_base(tool.flute_length),
        stick_out=_base(tool.stick_out),
    )


def _base(measure: Measure | None) -> float | None:
    return None if measure is None else measure.base


def _span(low: Measure | None, high: Measure | None) -> Limits | None:
    from floor.evidence.nc.finding_kinds import ANYWHERE

    if low is None and high is None:
        return None
    return -ANYWHERE if low is None else low.base, ANYWHERE if high is None else high.base
