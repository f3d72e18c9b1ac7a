"""A batch entered half done: what a lead stated about it, in one act, for one moment.

It is one entry, not the many that somebody would have made at the time and nobody did.

The rows say where every piece was, since when it cured, what was lost at which operation, and what was proved. Anything
else is unknown and asked for again where it matters.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import field
from datetime import datetime
from typing import Any, Literal

from floor.batch.events import LateRow
from floor.checklist.gates import Cured
from floor.checklist.model import Checklist
from floor.checklist.operation import BEFORE_CYCLE, Clock, Operation
from floor.dataclass import dataclass
from floor.entry import format_wall, parse_wall
from floor.text import format_clock, format_count

What = Literal["load", "waiting", "hold", "scrap", "finished"]
Stands = Literal["waits", "runs", "over"]
STANDS: dict[Stands, str] = {
    "waits": "waiting",
    "runs": "cycle running",
    "over": "cycle over, not counted yet",
}


@dataclass(frozen=True, slots=True)
class PlacedPieces:
    """One row: the pieces in one place."""

    what: What
    count: int
    op: int = 0
    """load, waiting: the operation they wait for or are at. hold, scrap: the one that found them."""
    number: int = 0
    """load: the number of the carrier."""
    places: tuple[str, ...] = ()
    """load: the places that hold a piece; by default the first ones."""
    rework: str = ""
    """load, waiting: the rework route that they are on."""
    found: int = 0
    """With ``rework``: the operation that sent them back."""
    reason: str = ""
    """hold, scrap: a code of the operation, or a few words."""
    stands: Stands = "waits"
    began: datetime | None = None
    """When the cycle started, aware; None if it has not, or if unknown."""
    ended: datetime | None = None
    clocks: tuple[tuple[str, datetime | None], ...] = ()
    """Timer → its start; None if unknown."""

    def make_row(self, pieces: tuple[int, ...], *, load: int = 0, run: int = 0, setup: int = 0) -> LateRow:
        """The row as the entry holds it, with the pieces, load and run it becomes."""
        return LateRow(
            what=self.what,
            count=self.count,
            pieces=pieces,
            op=self.op,
            number=self.number,
            rework=self.rework,
            found=self.found,
            reason=self.reason,
            places=self.places,
            stands=self.stands if self.what == "load" else "",
            began=format_wall(self.began) if self.began else "",
            ended=format_wall(self.ended) if self.ended else "",
            clocks=tuple((clock, format_wall(at) if at else None) for clock, at in self.clocks),
            load=load,
            run=run,
            setup=setup,
        )

    @classmethod
    def read(cls, row: LateRow, now: datetime) -> PlacedPieces:
        """Read from an entry; times in the zone of ``now``."""

        def time(text: str | None) -> datetime | None:
            return parse_wall(text, now) if text else None

        return cls(
            row.what,
            row.count,
            row.op,
            row.number,
            row.places,
            row.rework,
            row.found,
            row.reason,
            row.stands or "waits",
            time(row.began),
            time(row.ended),
            tuple((clock, time(at)) for clock, at in row.clocks),
        )


@dataclass(frozen=True, slots=True)
class PaperProof:
    """What proves a gate by the papers: the values, by whom and when."""

    op: int
    line: str
    values: dict[str, Any]
    by: str
    at: datetime
    number: int = 0
    """The carrier it was proved for, if it serves one load only."""


@dataclass(slots=True)
class LateEntry:
    """What the record knows about the time before a batch was entered."""

    seq: int
    by: str
    second: str
    """Who saw the papers too; empty for nobody."""
    as_of: datetime
    entered: datetime
    rows: tuple[PlacedPieces, ...]
    pieces: tuple[tuple[int, ...], ...]
    """The pieces of each row."""
    counted: dict[int, dict[int, str]] = field(default_factory=dict)
    """Operation → piece → good, scrap, rework or hold, as stated."""
    claimed: dict[str, dict[int, tuple[datetime, int]]] = field(default_factory=dict)
    """Timer → piece → stated start; on one person's word it counts toward the latest end only."""

    def find_row(self, piece: int) -> PlacedPieces | None:
        """The row of a piece; None if it was started later."""
        return next((row for row, pieces in zip(self.rows, self.pieces, strict=True) if piece in pieces), None)

    def last(self, piece: int) -> tuple[int, str] | None:
        """The last operation a piece came out of by then, and how."""
        return max(((op, said[piece]) for op, said in self.counted.items() if piece in said), default=None)

    def head(self, now: datetime) -> str:
        """``entered late by RK 07:10; as of 06:50 (TN saw the papers)``."""
        seen = f" ({self.second} saw the papers)" if self.second else ""
        entered, as_of = format_clock(self.entered, now), format_clock(self.as_of, now)
        return f"entered late by {self.by} {entered}; as of {as_of}{seen}"


def list_op_results(checklist: Checklist, told: PlacedPieces) -> Iterator[tuple[int, str]]:
    """(operation, good, scrap, rework, hold) for each operation these pieces have come out of."""
    end = told.found if told.rework else told.op
    for op in checklist.route:
        if told.what == "finished" or op < end:
            yield op, "good"
    if told.rework:
        yield end, "rework"
    elif told.what in ("hold", "scrap"):
        yield end, told.what


def list_clocks_to_enter(checklist: Checklist, told: PlacedPieces) -> list[Clock]:
    """Timers that may run for these pieces and still matter: the start of each must be stated.

    Those that start with the start or end of their current cycle follow from its time. Those that start with the cycle
    they are in, or with its end, start when that is said to have.
    """
    if told.what in ("scrap", "finished") or told.op not in checklist.ops:
        return []
    passed = {*checklist.route, *checklist.list_way(told.rework)}
    operations = [operation for operation in checklist.operations if operation.op in passed]
    ahead = {clock for operation in operations for clock in _clocks_asked_for(operation, told)}
    return [
        clock
        for operation in operations
        for clock in operation.clocks
        if clock.per == "piece" and clock.id in ahead and _may_run(operation, clock, told)
    ]


def _phases_over(told: PlacedPieces) -> tuple[str, ...]:
    """The phases of the operation they are at that are over for these pieces."""
    return {"waits": (), "runs": BEFORE_CYCLE, "over": (*BEFORE_CYCLE, "cycle")}[told.stands]


def _clocks_asked_for(operation: Operation, told: PlacedPieces) -> Iterator[str]:
    """The clocks that an operation still asks of these pieces."""
    if operation.op < told.op:
        return
    over = _phases_over(told) if operation.op == told.op else ()
    for _, step in operation.numbered_steps:
        if isinstance(step, Cured) and step.at not in over and not (step.once and operation.op <= told.found):
            yield step.clock


def _may_run(operation: Operation, clock: Clock, told: PlacedPieces) -> bool:
    """Whether these pieces are past what starts a clock of an operation."""
    if operation.op < told.op or (told.what == "hold" and operation.op == told.op):
        return True
    over = _phases_over(told)
    begun = {f"step {key}" for key, step in operation.numbered_steps if step.at in over}
    return operation.op == told.op and clock.starts in begun


def format_placed_pieces(checklist: Checklist, told: PlacedPieces, now: datetime, op: bool = True) -> str:
    """One row in words: ``Pallet 1: 16 pieces, op 30, waiting; cure since 22:10``; the operation on request."""
    pieces = format_count(told.count, "piece")
    if told.what == "finished":
        return f"{pieces} finished"
    if told.what in ("hold", "scrap"):
        operation = checklist.ops.get(told.op)
        code = operation.reason(told.reason) if operation else None
        where = "on hold" if told.what == "hold" else "scrap"
        return f"{pieces} {where}, found at op {told.op}: {code.text if code else told.reason}"
    rework = f", rework found at op {told.found}" if told.rework else ""
    if told.what == "waiting":
        said = f"{pieces} loose, waiting for op {told.op}{rework}"
    else:
        operation = checklist.ops.get(told.op)
        carrier = checklist.carrier(operation.carrier).label(told.number) if operation else f"carrier {told.number}"
        where = f" at {', '.join(told.places)}" if told.places else ""
        at = f", op {told.op}" if op else ""
        said = f"{carrier}: {pieces}{where}{at}{rework}, {STANDS[told.stands]}"
        if told.stands != "waits":
            said += f", started {_when(told.began, now)}"
        if told.stands == "over":
            said += f", ended {_when(told.ended, now)}"
    return said + "".join(f"; {clock} since {_when(since, now)}" for clock, since in told.clocks)


def _when(at: datetime | None, now: datetime) -> str:
    return format_clock(at, now) if at else "not known"


def say_sum(rows: Sequence[PlacedPieces]) -> str:
    """``16 on 1 load + 30 waiting + 3 scrap``."""
    tally: Counter[str] = Counter()
    for row in rows:
        tally[row.what] += row.count
    loads = sum(row.what == "load" for row in rows)
    words = {"load": f"on {format_count(loads, 'load')}", "hold": "on hold"}
    order = ("load", "waiting", "hold", "scrap", "finished")
    return " + ".join(f"{tally[what]} {words.get(what, what)}" for what in order if tally[what]) or "nothing"
