"""The checklist: the route of one part at one revision, as stated in its file.

Everything is frozen and strict. Parts of the file refer to each other (station, carrier, caution, clock …) by name;
`floor.checklist.rules` checks that every name exists.
"""

from collections.abc import Iterable
from dataclasses import field
from datetime import date
from functools import cached_property
from typing import Annotated, Literal, get_args

from floor.checklist.consumables import AnyConsumable
from floor.checklist.equipment import MOST_PIECES, Blank, Carrier, Station, Tool, WorkMaterial
from floor.checklist.field_types import GivenId, Id, Limits, Strict, Text, WholeNumber
from floor.checklist.gates import ToolLoaded
from floor.checklist.operation import Clock, Operation, Rework

SignalWord = Literal["DANGER", "WARNING", "CAUTION", "NOTICE"]
SIGNAL_WORDS: tuple[SignalWord, ...] = get_args(SignalWord)
"""Most serious first."""
Subject = Literal["eyes", "entanglement", "burns", "breathing", "coolant", "fire", "noise"]
"""What a caution can be about, as far as `floor check` asks for one."""


class PartInfo(Strict):
    """The part and its drawing."""

    number: GivenId
    name: Text
    revision: GivenId
    revised: date
    drawing: Text = ""
    material: Text = ""
    work_material: WorkMaterial | None = None
    """What is cut, by its family: surface speeds and power of the tools are checked by it."""
    purpose: Text = ""
    units: Literal["inch", "metric"] = "inch"
    notice: Annotated[Text, Limits(min_length=20)]
    """The statement that local codes, the maker's data sheet and licensed practice govern."""


class Caution(Strict):
    """A hazard, its consequence and how to avoid it, under a signal word as ANSI Z535.4 defines it."""

    word: SignalWord
    hazard: Annotated[Text, Limits(max_length=76)]
    consequence: Annotated[Text, Limits(max_length=76)] = ""
    avoid: Annotated[Text, Limits(max_length=76)]
    wanted: Annotated[Text, Limits(max_length=50)] = ""
    """The guard or extraction that is missing, which the caution stands in for (ISO 45001, 8.1.2)."""
    about: tuple[Subject, ...] = ()
    source: Annotated[Text, Limits(min_length=3)]


class Leg(Strict):
    """Operations in a row on one kind of carrier."""

    carrier: Id
    ops: tuple[int, ...]


class Checklist(Strict):
    """The route of one part at one revision."""

    format: Annotated[Literal[1], WholeNumber()]
    part: PartInfo
    cautions: dict[Id, Caution] = field(default_factory=dict)
    stations: Annotated[tuple[Station, ...], Limits(min_length=1)]
    carriers: Annotated[tuple[Carrier, ...], Limits(min_length=1)]
    tools: tuple[Tool, ...] = ()
    reworks: tuple[Rework, ...] = ()
    operations: Annotated[tuple[Operation, ...], Limits(min_length=1, max_length=40)]
    blank: Blank | None = None
    consumables: tuple[AnyConsumable, ...] = ()
    order: Annotated[int, Limits(ge=1, le=MOST_PIECES)] | None = None
    """Usual order quantity, offered when a batch is opened."""

    @cached_property
    def ops(self) -> dict[int, Operation]:
        return {operation.op: operation for operation in self.operations}

    @cached_property
    def _for_offset(self) -> dict[tuple[int, str], Operation]:
        return {}

    def operation_for(self, op: int, carrier: str, number: int, station: str = "") -> Operation:
        """An operation for one carrier: with that carrier's work offset at the station."""
        operation = self.ops[op]
        offset = self.station(station or operation.station).offset_of(carrier, number)
        if not offset:
            return operation
        if (op, offset) not in self._for_offset:
            self._for_offset[op, offset] = operation.for_offset(offset)
        return self._for_offset[op, offset]

    @cached_property
    def route(self) -> tuple[int, ...]:
        """The operations every piece passes."""
        return tuple(operation.op for operation in self.operations if not operation.rework_only)

    @cached_property
    def legs(self) -> tuple[Leg, ...]:
        """The legs of the route."""
        return self._legs(self.route)

    def _legs(self, ops: Iterable[int]) -> tuple[Leg, ...]:
        """The carrier changed or the operation says ``regroup``: new leg."""
        legs: list[tuple[str, list[int]]] = []
        for op in ops:
            if not legs or legs[-1][0] != self.ops[op].carrier or self.ops[op].regroup:
                legs.append((self.ops[op].carrier, []))
            legs[-1][1].append(op)
        return tuple(Leg(carrier=carrier, ops=tuple(those)) for carrier, those in legs)

    def list_way(self, rework: str = "") -> tuple[int, ...]:
        """The operations pieces pass to the end: the route, or the rework's own from its start plus the rest."""
        found = self.rework(rework) if rework else None
        if found is None:
            return self.route
        own = found.ops or (found.back_to,)
        return (*own, *(op for op in self.route if op > own[-1]))

    def after(self, op: int, rework: str = "") -> int | None:
        """The operation after this one, on the route or the path of a rework; None after the last."""
        return next((one for one in self.list_way(rework) if one > op), None)

    def own_way(self, rework: str) -> bool:
        """Whether a rework skips operations of the route or has some of its own."""
        way = self.list_way(rework)
        return way != tuple(op for op in self.route if op >= way[0])

    def is_apart(self, rework: str, op: int | None) -> bool:
        """Whether reworked pieces at this next operation are on a different path than all others.

        Until their paths join, they are not loaded with others. At its first operation a rework has steps of its own.
        """
        found = self.rework(rework) if rework else None
        if found is None or op is None:
            return False
        return op == found.back_to or [one for one in self.list_way(rework) if one >= op] != [
            one for one in self.route if one >= op
        ]

    def may_mend(self, rework: Rework, found: int) -> bool:
        """Whether pieces found at an operation can take a rework: it must pass every operation they have not
        finished."""
        return rework.back_to <= found and set(self.list_way(rework.id)) >= {op for op in self.route if op >= found}

    def may_ride(self, rework: Rework, found: int, first: int, on: str = "") -> bool:
        """Whether pieces found at an operation are reworked on the carrier they ride there.

        Args:
            first: the operation for which their load was formed.
            on: the rework that it was formed for.
        """
        leg = self.leg_of(first, on)
        back = [self.ops[op] for op in self.list_way(rework.id) if op <= found]
        return (
            rework.rides == "in place"
            and first <= rework.back_to
            and found in leg.ops
            and all(
                one.op in leg.ops or (one.rework_only and one.carrier == leg.carrier and not one.regroup)
                for one in back
            )
        )

    def leg_of(self, op: int, rework: str = "") -> Leg:
        """The leg of a load from an operation on; a rework with its own operations has its own legs."""
        if (op, rework) not in self._leg_of:
            legs = self._legs(self.list_way(rework)) if self.own_way(rework) else self.legs
            self._leg_of[op, rework] = next(leg for leg in legs if op in leg.ops)
        return self._leg_of[op, rework]

    @cached_property
    def _leg_of(self) -> dict[tuple[int, str], Leg]:
        return {}

    def station(self, id: str) -> Station:
        return next(station for station in self.stations if station.id == id)

    def carrier(self, id: str) -> Carrier:
        return next(carrier for carrier in self.carriers if carrier.id == id)

    def tools_at(self, station: str) -> tuple[Tool, ...]:
        """The tools a station may hold: those of its operations, and of operations it can also do."""
        also = {use.tool for one in self.operations if station in one.also_at for use in one.tools}
        also |= {
            step.tool
            for one in self.operations
            if station in one.also_at
            for step in one.steps
            if isinstance(step, ToolLoaded)
        }
        return tuple(tool for tool in self.tools if tool.station == station or tool.number in also)

    def tool(self, number: int) -> Tool | None:
        return next((tool for tool in self.tools if tool.number == number), None)

    def rework(self, id: str) -> Rework | None:
        return next((rework for rework in self.reworks if rework.id == id), None)

    def clock(self, id: str) -> tuple[Operation, Clock] | None:
        for operation in self.operations:
            for clock in operation.clocks:
                if clock.id == id:
                    return operation, clock
        return None
