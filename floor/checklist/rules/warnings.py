"""Warnings: what a careful shop has and a valid file may lack. The file can be used anyway."""

from __future__ import annotations

import re
from collections.abc import Iterator

from floor.checklist.findings import Finding
from floor.checklist.gates import ByPlan, Confirmed, FirstPiece, Gate, LotRecorded, Measured, Probed, Signed, ToolLoaded
from floor.checklist.line_numbers import Path
from floor.checklist.model import Checklist, Leg
from floor.checklist.operation import BEFORE_CYCLE, Do, Operation
from floor.checklist.rules.names import iterate_steps, iterate_values
from floor.checklist.units import Measure
from floor.figures.quality.sampling_plans import AQLS, InspectionLevel, find_sampling_plan

INCH = frozenset({"in", "inch", "inches", "ft", "foot", "feet", "mil", "mils", "thou", "microinch"})
METRIC = frozenset({"mm", "cm", "m", "um", "µm", "micron", "microns", "micrometer", "millimeter"})


def is_cut(checklist: Checklist, operation: Operation) -> bool:
    """Whether the operation cuts metal at a machine: with tools, a program, or a spindle."""
    station = next((one for one in checklist.stations if one.id == operation.station), None)
    if station is None or station.kind != "machine":
        return False
    return bool(operation.tools or operation.program or station.speed_limit)


def check_probed_zero(checklist: Checklist) -> Iterator[Finding]:
    """Work put back on a machine is located again before it is cut (common practice, no source)."""
    for i, operation in enumerate(checklist.operations):
        offsets = next((one.offsets for one in checklist.stations if one.id == operation.station), ())
        probed = any(isinstance(step, Probed) for step in operation.steps)
        if is_cut(checklist, operation) and offsets and not probed:
            wrong = "cuts, and no gate proves where the work sits"
            right = f'add a step with `gate = "probed"`, `offset = "{offsets[0]}"` (common practice, no source)'
            yield Finding(("operations", i), wrong, right)


def check_first_piece(checklist: Checklist) -> Iterator[Finding]:
    """The first piece of a set-up is accepted before the others are cut (AS9102 and common practice)."""
    for i, operation in enumerate(checklist.operations):
        if not is_cut(checklist, operation):
            continue
        firsts = [(j, step.at) for j, step in enumerate(operation.steps) if isinstance(step, FirstPiece)]
        carrier = next((one for one in checklist.carriers if one.id == operation.carrier), None)
        pieces = carrier.capacity if carrier else 1
        if not firsts:
            wrong = "cuts, and no first piece is accepted"
            right = 'add a step with `gate = "first piece accepted"` (first-article practice, as in AS9102)'
            yield Finding(("operations", i), wrong, right)
            continue
        path, phases = ("operations", i, "steps", firsts[0][0]), {at for _, at in firsts}
        if operation.cycle and phases <= {*BEFORE_CYCLE}:
            right = 'use `at = "cycle"`: stop after the first piece, then go on'
            yield Finding(path, "the first piece is accepted before it is cut", right)
        elif phases == {"after"} and pieces > 1:
            wrong = f"the first piece is accepted when all of a load ({pieces}) are cut"
            right = f'`at = "{"cycle" if operation.cycle else "load"}"`: stop after the first piece, then go on'
            yield Finding(path, wrong, right)


def check_first_piece_values(checklist: Checklist) -> Iterator[Finding]:
    """A first piece is accepted by its values (AS9102): without them anybody's word stands for all of the drawing."""
    for path, _, step in iterate_steps(checklist):
        if isinstance(step, FirstPiece) and not step.characteristics:
            right = "add `characteristics`, each with `low`, `high` and `gauge`, or with `accept`"
            yield Finding(path, "is accepted by words alone: no value is asked for", right)


def check_plan_takes_fewer(checklist: Checklist) -> Iterator[Finding]:
    """A plan of a strict AQL asks for all of a small load: then it is no sample, and nobody may have meant that."""
    sizes = {carrier.id: carrier.capacity for carrier in checklist.carriers}
    for path, operation, step in iterate_steps(checklist):
        lot = sizes.get(operation.carrier, 0)
        sample = step.sample if isinstance(step, Measured) else None
        if not isinstance(sample, ByPlan) or sample.aql not in AQLS or not lot:
            continue
        level = InspectionLevel(sample.level)
        if find_sampling_plan(lot, sample.aql, level).size < lot:
            continue
        fewer = [(aql, find_sampling_plan(lot, aql, level).size) for aql in AQLS if aql > sample.aql]
        looser = next((f"; AQL {aql:g} takes {size}" for aql, size in fewer if size < lot), "")
        wrong = f"AQL {sample.aql:g} takes all {lot} of a full load{looser}"
        yield Finding((*path, "sample"), wrong, 'write `sample = "all"` if that is meant')


def check_use_by(checklist: Checklist) -> Iterator[Finding]:
    """Who must enter a date for what has none invents one; so the file says which it is."""
    for path, _, step in iterate_steps(checklist):
        if isinstance(step, LotRecorded) and step.use_by is None and not step.serial:
            wrong = f"asks for a use-by date of {step.what}, and does not say that it has one"
            yield Finding(
                path, wrong, "add `use_by = true`; `use_by = false` if it has none, as a bar or a certificate"
            )


def check_tool_life(checklist: Checklist) -> Iterator[Finding]:
    """A tool that cannot last a full load never passes its gate."""
    for i, operation in enumerate(checklist.operations):
        carrier = next((one for one in checklist.carriers if one.id == operation.carrier), None)
        for j, use in enumerate(operation.tools):
            tool = checklist.tool(use.tool)
            if carrier is None or tool is None or tool.life is None:
                continue
            pieces = carrier.capacity * operation.loads_per_cycle
            need = use.per_piece.base * pieces
            if tool.life.in_pieces == use.per_piece.in_pieces and tool.life.base < need:
                amount = f"{need:g} pieces" if tool.life.in_pieces else f"{need / 60:.4g} min"
                what = "a full load" if operation.loads_per_cycle == 1 else "a full cycle"
                wrong = f"tool {use.tool} lasts {tool.life}, and {what} of {pieces} takes {amount}"
                yield Finding(("operations", i, "tools", j), wrong, f"a life of at least {amount}, or smaller loads")


def check_setups(checklist: Checklist) -> Iterator[Finding]:
    """A few pieces at a time through several operations at one station: a new set-up for each, every time.

    A load returns its carrier at the end of its leg, so only as many loads share a set-up as there are carriers.
    """
    places = {operation.op: i for i, operation in enumerate(checklist.operations)}
    for leg in checklist.legs:
        carrier = next((one for one in checklist.carriers if one.id == leg.carrier), None)
        if carrier is None or checklist.order is None:
            continue
        loads = -(-checklist.order // carrier.capacity)
        rounds = -(-loads // carrier.count)
        for ops in _in_a_row(checklist, leg) if rounds > 1 else ():
            minutes = sum(one.time.seconds("setup", 0) for one in ops) / 60
            names = " and ".join(str(one.op) for one in ops)
            costs = f", {rounds * minutes:g} min instead of {minutes:g}" if minutes else ""
            wrong = (
                f"{checklist.order} pieces are {loads} loads, and {carrier.count} of {carrier.id} go through "
                f"op {names} at a time: {rounds * len(ops)} set-ups instead of {len(ops)}{costs}"
            )
            right = "`regroup = true` here, where pieces may leave the carrier: then all pass one operation first"
            yield Finding(("operations", places[ops[1].op]), wrong, right)


def _in_a_row(checklist: Checklist, leg: Leg) -> Iterator[list[Operation]]:
    """Consecutive operations of a leg at one station that is set up for each."""
    row: list[Operation] = []
    for op in (*leg.ops, None):
        operation = checklist.ops[op] if op is not None else None
        sets_up = operation is not None and (
            operation.time.setup is not None or any(step.at == "setup" for step in operation.steps)
        )
        if row and (operation is None or not sets_up or operation.station != row[-1].station):
            if len(row) > 1:
                yield row
            row = []
        if operation is not None and sets_up:
            row.append(operation)


def check_length_units(checklist: Checklist) -> Iterator[Finding]:
    """Everything typed at the machine or programmed is in one system, that of the drawing: 0.25 in for 0.25 mm
    is a scrapped piece. Only the first exception is reported, as the rest usually follow."""
    other, units = (METRIC, "inch") if checklist.part.units == "inch" else (INCH, "metric")
    typed = ((path, limit, "typed in here") for path, _, step in iterate_steps(checklist) for limit in _typed(step))
    for path, size, how in (*typed, *_programmed(checklist)):
        if size.unit.partition("/")[0].strip() in other:
            wrong = f"{size} is {how}, but `units` of the part is {units}"
            yield Finding(path, wrong, f'write it as the drawing does, or `units = "{_OTHER[units]}"` at the part')
            return


def _programmed(checklist: Checklist) -> Iterator[tuple[Path, Measure, str]]:
    """What a program has of the tool cards; a tool's own sizes may be in the other system, as of a 1/2 in end mill."""
    for i, tool in enumerate(checklist.tools):
        for field in ("feed", "plunge", "depth", "width"):
            size = getattr(tool, field)
            if size is not None:
                yield ("tools", i, field), size, "programmed"


def check_balloons(checklist: Checklist) -> Iterator[Finding]:
    """Each value of the drawing has the number of its balloon (AS9102). Only the first lack is reported."""
    if not checklist.part.drawing:
        return
    for path, _, step in iterate_steps(checklist):
        for _, value in iterate_values(path, step):
            of_station = isinstance(value, Measured) and not value.of_piece
            if value.number is None and (value.low or value.high) and not of_station:
                right = "add `number`, or take `drawing` out of the part"
                yield Finding(path, f"{value.what} has no balloon number", right)
                return


def check_one_action(checklist: Checklist) -> Iterator[Finding]:
    """A step holds one action (DOE-STD-1029-92, from memory). A verb is known by being the first word of a step."""
    texts: list[tuple[Path, str]] = [
        (path, step.do) for path, _, step in iterate_steps(checklist) if isinstance(step, Do | Confirmed | Signed)
    ]
    for i, rework in enumerate(checklist.reworks):
        texts += [(("reworks", i, "steps", j), step.do) for j, step in enumerate(rework.steps)]
    verbs = {text.split()[0].lower() for _, text in texts}
    for path, text in texts:
        action = re.split(":", text, maxsplit=1)[0].lower()
        second = [found[1] for found in JOINED.finditer(action) if found[1] in verbs or "then" in found[0]]
        if second:
            wrong = f'two actions in one step: the second is "{second[0]}"'
            yield Finding(path, wrong, "make two steps, or put what must be true after a colon")


JOINED = re.compile(r"(?:;|,? and(?: then)?|, then) (\w+)")


_OTHER = {"inch": "metric", "metric": "inch"}


def _typed(step: Do | Gate) -> Iterator[Measure]:
    """The limits of the values typed in at a step."""
    if isinstance(step, ToolLoaded):
        yield from filter(None, (step.low, step.high))
    values = step.axes if isinstance(step, Probed) else [value for _, value in iterate_values((), step)]
    for value in values:
        yield from filter(None, (value.low, value.high))


RULES = (
    check_probed_zero,
    check_first_piece,
    check_first_piece_values,
    check_plan_takes_fewer,
    check_use_by,
    check_tool_life,
    check_setups,
    check_length_units,
    check_balloons,
    check_one_action,
)
