"""A simulated shop: people work whole batches by the program's own commands, with random times and outcomes.

It does not know how the program estimates. The truth about a batch is drawn once, from the checklist's own figures:
yield of each operation, share that rework saves, and how much longer or shorter than planned each operation takes;
then every piece and run has its own luck. Times follow a gamma distribution. People come and go with the shifts, do
what the program puts first, and change worn tools. A lead starts more pieces as soon as too few are left to fill the
order, and takes out what a filled order does not need.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from heapq import heappop, heappush
from math import ceil, prod
from random import Random

from floor.batch.command import Command, Context, OtherBatches, Person, Refused
from floor.batch.counting.commands import CountRun, MarkedPieces
from floor.batch.counting.decide_surplus import TakeOutSurplus
from floor.batch.counting.surplus import find_undecided_surplus, is_order_filled
from floor.batch.fold import advance, fold
from floor.batch.lifecycle.commands import FormLoad, OpenBatch, StartPieces
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.batch.stations.capacity import count_places_needed
from floor.batch.stations.commands import Disturb
from floor.batch.walk.commands import BeginRun, confirm_line
from floor.batch.walk.lines import Line
from floor.batch.walk.station_walk import build_walk
from floor.batch.worklist.due_task import DueTask
from floor.batch.worklist.tasks import list_due_tasks
from floor.checklist.model import Checklist
from floor.checklist.operation import Operation, Reason
from floor.entry import Draft, Entry
from floor.figures.schedule import FIRST
from floor.ledger.hash_chain import ZERO, chain_drafts
from floor.planning.dispatch_list import rank_dues
from floor.planning.plan import ShopPlan, make_plan
from floor.planning.problem import Crew
from floor.planning.snapshot import take_snapshot
from floor.shop.simulation import ManualClock, SimulatedOperator

HAND, CYCLE = 0.2, 0.05
"""Relative spread of a time by hand and of a machine's cycle, half of its variance common to all runs of an operation
(common practice, no source)."""
TOOL_CHANGE = 4.0
"""Minutes."""
AHEAD = timedelta(hours=1)
"""A carrier is loaded at most this long before the plan wants it: another load may need it first."""
LOOK = 10.0
"""Minutes until somebody with nothing to do looks again."""
SAVES_WEIGH = 30.0
"""Pieces that the checklist's share saved by rework weighs."""

Labor = Iterator[datetime]
"""A person's actions: each yields the time of the next one."""


@dataclass(frozen=True)
class Order:
    id: str
    checklist: Checklist
    pieces: int
    start: int


class Truth:
    """The truth about one batch, which nobody knows."""

    def __init__(self, checklist: Checklist, random: Random) -> None:
        self.random = random
        self.good: dict[int, float] = {}
        self.again: dict[int, float] = {}
        self.saved: dict[str, float] = {}
        self.pace: dict[tuple[int, str], float] = {}
        for one in checklist.operations:
            weight, fine = one.yield_weight, one.expected_yield
            self.good[one.op] = random.betavariate(fine * weight, (1 - fine) * weight) if fine < 1 else 1.0
            back = sum(reason.share or 0.0 for reason in one.reasons)
            lost = max(1 - fine - back, 0.0)
            self.again[one.op] = random.betavariate(back * weight, lost * weight) if back and lost else float(back > 0)
            for what, spread in (("hand", HAND), ("cycle", CYCLE)):
                self.pace[one.op, what] = self.gamma(spread / 2**0.5)
        for rework in checklist.reworks:
            saves = rework.expected_yield
            self.saved[rework.id] = random.betavariate(saves * SAVES_WEIGH, (1 - saves) * SAVES_WEIGH)

    def gamma(self, spread: float) -> float:
        """About one, with this spread."""
        return self.random.gammavariate(spread**-2, spread**2)

    def minutes(self, operation: Operation, part: str, pieces: int) -> float:
        """How long a part of a run really takes."""
        cycle = part == "cycle" and not operation.time.cycle_attended
        planned = operation.time.seconds(part, pieces) / 60  # type: ignore[arg-type]
        spread = CYCLE if cycle else HAND
        return planned * self.pace[operation.op, "cycle" if cycle else "hand"] * self.gamma(spread / 2**0.5)


class TakenOut(Exception):
    """Work in hand became surplus: the order was filled meanwhile."""


@dataclass
class SimulatedShop:
    """Batches in memory with the people who work them."""

    orders: Sequence[Order]
    crew: Crew
    seed: int
    at: datetime
    batches: dict[str, Batch] = field(default_factory=dict)
    filled_at: dict[str, datetime] = field(default_factory=dict)
    shop_plan: ShopPlan | None = None
    """The plan by whose order work is done."""
    planned_at: int = 0
    """How many entries there were when it was made."""

    def __post_init__(self) -> None:
        self.clock = ManualClock(self.at)
        self.random = Random(self.seed)
        self.truth: dict[str, Truth] = {}
        self.busy: set[tuple[str, int]] = set()
        """Loads that somebody is at."""
        self.ends: dict[tuple[str, int], datetime] = {}
        """When the cycle of a run is really over."""
        self.sent: dict[tuple[str, int], tuple[int, str]] = {}
        """(batch, piece) sent back: the operation that found it, and its rework."""
        for one in self.orders:
            self.truth[one.id] = Truth(one.checklist, Random(self.random.getrandbits(64)))
            command = OpenBatch(one.id, one.checklist, "digest", "order.toml", one.pieces, one.start)
            drafts = command.decide_new(Context(self.clock(), Person("AA")))
            self.batches[one.id] = fold(self._entries(drafts, "AA", []))
        self.agenda: list[tuple[float, int, Labor]] = []
        for person in range(self.crew.hands):
            heappush(self.agenda, (self.at.timestamp() + 60 * person, person, self._days()))

    # --- what a simulated operator needs from a shop

    def batch(self, id: str) -> Batch:
        return self.batches[id]

    def context(self, id: str, by: str) -> Context:
        return Context(self.clock(), Person(by, True), self._elsewhere(id), frozenset({by}), frozenset({by, "BB"}))

    def do(self, id: str, command: Command, by: str) -> list[Entry]:
        batch = self.batches[id]
        entries = self._entries(command.decide(batch, self.context(id, by)), by, batch.entries)
        self.batches[id] = batch = advance(batch, entries)
        if is_order_filled(batch) and id not in self.filled_at:
            self.filled_at[id] = self.clock().at
        return entries

    def _entries(self, drafts: list[Draft], by: str, before: list[Entry]) -> list[Entry]:
        return chain_drafts(drafts, self.clock(), by, len(before), before[-1].hash if before else ZERO)[1]

    def _elsewhere(self, id: str) -> OtherBatches:
        runs: dict[str, tuple[str, ...]] = {}
        places: dict[str, int] = {}
        carriers: dict[tuple[str, int], str] = {}
        for other in self.batches.values():
            if other.id == id:
                continue
            for run in other.list_open_runs():
                runs[run.station] = (*runs.get(run.station, ()), f"load {run.load} of {other.id}")
                places[run.station] = places.get(run.station, 0) + count_places_needed(
                    other, run.station, other.loads[run.load]
                )
            carriers |= {(load.carrier, load.carrier_number): other.id for load in other.list_live_loads()}
        return OtherBatches(runs, carriers, places=places)

    # --- time

    @property
    def now(self) -> datetime:
        return self.clock().at

    @property
    def done(self) -> bool:
        return len(self.filled_at) == len(self.orders)

    def until(self, at: datetime) -> None:
        """Let everybody work until a time, or until all orders are filled."""
        while self.agenda and self.agenda[0][0] < at.timestamp() and not self.done:
            when, person, labor = heappop(self.agenda)
            self._forward(when)
            heappush(self.agenda, (max(next(labor).timestamp(), when), person, labor))
        if not self.done:
            self._forward(at.timestamp())

    def _forward(self, when: float) -> None:
        self.clock.forward(max(0.0, when - self.now.timestamp()))

    # --- people

    def _days(self) -> Labor:
        while True:
            at = self.crew.calendar.span(self.now, 1)[0]
            if at > self.now:
                yield at
                continue
            for due in self._dues():
                labor = self._take(due)
                if labor is not None:
                    with suppress(TakenOut):
                        yield from labor
                    break
            else:
                yield self.now + timedelta(minutes=LOOK)

    def _dues(self) -> list[DueTask]:
        dues = list_due_tasks(self.batches.values(), self.clock(), {id: self._elsewhere(id) for id in self.batches})
        if self.shop_plan is None:
            return dues
        self._renew_plan()
        return [one.due for one in rank_dues(dues, self.shop_plan, self.now)]

    def _renew_plan(self) -> None:
        """The plan on screen: it follows new entries, in the standing order of work."""
        assert self.shop_plan is not None
        entries = sum(batch.seq for batch in self.batches.values())
        if entries != self.planned_at:
            self.planned_at = entries
            taken = take_snapshot(list(self.batches.values()), self.clock(), self.crew)
            self.shop_plan = make_plan(taken.ways, effort=FIRST, previous=self.shop_plan, hold=True)

    def _take(self, due: DueTask) -> Labor | None:
        """The work on one thing that is due; None where nothing can be done about it now."""
        batch = self.batches[due.batch]
        if due.go == "surplus" and any(self._may_leave(batch)):
            return self._put_aside(batch.id)
        if due.go == "run" and due.run is not None and due.load is not None:
            ready = self.ends.get((batch.id, due.run), self.now) <= self.now
            return self._unload(batch.id, due.load) if ready and (batch.id, due.load) not in self.busy else None
        if is_order_filled(batch) or due.urgency not in ("now", "soon"):
            return None
        if due.go == "form" and due.op is not None:
            return self._form(batch.id, due.op, due.rework)
        if due.go == "begin" and due.load is not None and (batch.id, due.load) not in self.busy:
            return self._begin(batch.id, due.load)
        return None

    def _may_leave(self, batch: Batch) -> Iterator[int]:
        stuck = {piece for run in batch.list_open_runs() for piece in batch.on.get(run.load, ())}
        return (piece for piece in find_undecided_surplus(batch) if piece not in stuck)

    def _put_aside(self, id: str) -> Labor:
        self.do(id, TakeOutSurplus("spare", "the order is filled"), "LL")
        yield self.now

    def _form(self, id: str, op: int, rework: str) -> Labor | None:
        """Load a carrier with what the plan puts on one; while some of that is still to come, it waits."""
        batch = self.batches[id]
        waiting = batch.waiting(op, rework)
        together = next((those for those in self._planned(id, op) if waiting[0] in those), {waiting[0]})
        if any(batch.places[piece].where in ("waiting", "load") for piece in together.difference(waiting)):
            return None
        if self._planned_for(id, waiting[0], op) - self.now > AHEAD:
            return None
        known = set().union(*self._planned(id, op))
        count = len(together.intersection(waiting)) if waiting[0] in known else len(waiting)
        try:
            self.do(id, FormLoad(op, rework, count=min(count, batch.checklist.carrier(
                batch.operation(op).carrier).capacity)), "AA")  # fmt: skip
        except Refused:
            return None
        return iter([self.now])

    def _planned(self, id: str, op: int) -> list[set[int]]:
        """The pieces that the plan loads together for an operation."""
        works = self.shop_plan.asked.works.values() if self.shop_plan is not None else ()
        return [set(work.pieces_of) for work in works if work.batch == id and work.op == op and work.load is None]

    def _planned_for(self, id: str, piece: int, op: int) -> datetime:
        """When the plan begins with a waiting piece."""
        assert self.shop_plan is not None
        works = self.shop_plan.asked.works
        return min(
            (
                run.start
                for run in self.shop_plan.plan.runs
                if (work := works[run.run]).batch == id and work.op == op and piece in work.pieces_of
            ),
            default=self.now,
        )

    def _by_hand(self, minutes: float) -> datetime:
        """When work by hand is done that pauses over breaks and nights."""
        return self.crew.calendar.span(self.now, minutes)[1]

    def _begin(self, id: str, load: int) -> Labor | None:
        batch, truth = self.batches[id], self.truth[id]
        op = batch.loads[load].at
        assert op is not None
        operation, pieces = batch.operation(op), len(batch.find_next_pieces(batch.loads[load]))
        time = operation.time
        if operation.cycle and not time.cycle_attended and not operation.may_outlast_shift:
            takes_minutes = (time.seconds("before", pieces) + time.seconds("cycle", pieces)) / 60
            if self.crew.calendar.worked(self.now, self.now + timedelta(minutes=takes_minutes)) < takes_minutes - 1:
                return None  # it would still be running when everybody is gone
        try:
            self.do(id, BeginRun(load, anyway=True), "AA")
        except Refused:
            return None
        return self._load(id, load, truth)

    def _load(self, id: str, load: int, truth: Truth) -> Labor:
        self.busy.add((id, load))
        run = self._run(id, load)
        operation, pieces = self.batches[id].find_operation(run), len(run.pieces)
        first = all(one.number >= run.number for one in self.batches[id].runs.values() if one.setup == run.setup)
        minutes = truth.minutes(operation, "before", pieces)
        yield self._by_hand(minutes + (truth.minutes(operation, "setup", 0) if first else 0.0))
        timed = operation.cycle and operation.time.seconds("cycle", 1) > 0
        yield from self._confirm(id, load, ("start",) if timed else ("count",))
        if timed:
            minutes = truth.minutes(operation, "cycle", pieces)
            if operation.time.cycle_attended:
                self._pass(id, load)
                yield self._by_hand(minutes)
            else:
                # Nobody leaves a cycle that has to be over within the shift: it ends before they go.
                self._pass(id, load)
                self.ends[id, run.number] = self.now + timedelta(minutes=minutes)
                self.busy.discard((id, load))
                return
        yield from self._after(id, load)

    def _unload(self, id: str, load: int) -> Labor:
        self.busy.add((id, load))
        yield from self._after(id, load)

    def _after(self, id: str, load: int) -> Labor:
        run = self._run(id, load)
        operation = self.batches[id].find_operation(run)
        yield from self._confirm(id, load, ("end", "count"))
        if self._line(id, load).kind == "end":
            self._pass(id, load)
        yield self._by_hand(self.truth[id].minutes(operation, "after", len(run.pieces)))
        yield from self._confirm(id, load, ("count",))
        self._count(id, self._run(id, load))
        while self.batches[id].runs[run.number].released is None:
            self._pass(id, load)
        self.busy.discard((id, load))
        self._look_after(id)
        yield self.now

    # --- lines of a walk

    def _run(self, id: str, load: int) -> Run:
        number = self.batches[id].loads[load].run
        if number is None:
            raise TakenOut
        return self.batches[id].runs[number]

    def _line(self, id: str, load: int) -> Line:
        line = build_walk(self.batches[id], self._run(id, load), self.clock(), "AA").current
        assert line is not None
        return line

    def _confirm(self, id: str, load: int, kinds: tuple[str, ...]) -> Labor:
        """Confirm line after line up to the first of these kinds; worn tools are changed on the way."""
        while (line := self._line(id, load)).kind not in kinds:
            if line.verdict is not None and line.verdict.status == "wait" and line.verdict.when is not None:
                yield line.verdict.when
            elif line.verdict is not None and line.verdict.status == "blocked":
                yield self._by_hand(TOOL_CHANGE)
                tool = getattr(line.step, "tool", None)
                assert tool is not None, line
                self.do(id, Disturb(self._run(id, load).station, "tool changed", tool=tool), "AA")
            else:
                self._pass(id, load)

    def _pass(self, id: str, load: int) -> None:
        run, line = self._run(id, load), self._line(id, load)
        hand = SimulatedOperator(self, id, "AA", self.clock, second="BB")  # type: ignore[arg-type]
        command = confirm_line(run, line)
        self.do(id, command or hand._proof(run, line), "AA")

    # --- what comes of it

    def _count(self, id: str, run: Run) -> None:
        batch, truth = self.batches[id], self.truth[id]
        load, operation = batch.loads[run.load], batch.operation(run.op)
        lost = [reason for reason in operation.reasons if reason.to == "scrap"]
        back = [reason for reason in operation.reasons if reason.to == "rework"]
        bad: list[tuple[int, Reason]] = []
        for piece in run.undecided:
            found, rework = self.sent.get((id, piece), (0, ""))
            if found > run.op:
                continue
            if found == run.op:
                del self.sent[id, piece]
                if truth.random.random() >= truth.saved[rework]:
                    bad.append((piece, lost[0]))
            elif truth.random.random() >= truth.good[run.op]:
                again = bool(back) and truth.random.random() < truth.again[run.op]
                bad.append((piece, truth.random.choice(back if again else lost)))
        marks = tuple(MarkedPieces(reason.code, (batch.format_slot(load, piece),), 1) for piece, reason in bad)
        self.do(id, CountRun(run.number, len(run.undecided) - len(bad), marks), "AA")
        for piece, reason in bad:
            if reason.to == "rework":
                self.sent[id, piece] = run.op, reason.rework

    def _look_after(self, id: str) -> None:
        """Start more as soon as too few are left."""
        batch = self.batches[id]
        alive = sum(batch.total(where) for where in ("finished", "load", "waiting"))
        if alive < batch.order:
            passes = prod(_passes(one) for one in batch.checklist.operations)
            self.do(id, StartPieces(ceil((batch.order - alive) / passes)), "LL")


def _passes(operation: Operation) -> float:
    return operation.expected_yield + 0.9 * sum(reason.share or 0.0 for reason in operation.reasons)
