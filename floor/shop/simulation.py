"""A simulated operator who works a batch by the same commands as the keys: for the demo and to rehearse a checklist.

It enters a good day: values in the middle of their limits, the right program. The caller adds what goes wrong by its
own commands.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

from floor.batch.command import Command, Refused
from floor.batch.counting.commands import CountRun, MarkedPieces
from floor.batch.counting.decide_surplus import LetSurplusGoOn
from floor.batch.gates.commands import Prove
from floor.batch.gates.samples import find_sample_size
from floor.batch.gates.soak_readings import find_work_span
from floor.batch.gauge import find_gauge
from floor.batch.lifecycle.commands import FormLoad
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.batch.stations.commands import Disturb
from floor.batch.walk.clocks import compute_planned_end, compute_turn_due
from floor.batch.walk.commands import BeginRun, confirm_line
from floor.batch.walk.lines import Line
from floor.batch.walk.next_run import find_next_run
from floor.batch.walk.shared_cycles import compute_run_seconds, find_open_runs_in_cycle
from floor.batch.walk.station_walk import build_walk
from floor.batch.walk.words_left import list_words_left
from floor.batch.worklist.due_task import DueTask
from floor.checklist.gate_forms import READINGS, STAGE, FormField
from floor.checklist.gates import Cured, FirstPiece, Gate, LotRecorded, Measured, Soaked
from floor.checklist.operation import Do
from floor.entry import Entry, Moment
from floor.shop.shop import Shop
from floor.wall import convert_to_zone, format_local, get_zone

Found = Callable[[Run], tuple[MarkedPieces, ...]]
"""What the count of a run finds besides good pieces."""


def mark_all_good(run: Run) -> tuple[MarkedPieces, ...]:
    return ()


def make_serial(gauge: str) -> str:
    """A serial number as a shop might engrave it: ``DM-1`` on a depth micrometer."""
    return "".join(word[0] for word in gauge.split()).upper() + "-1"


MOST_OFF = 0.35
"""How far off the middle a measured value is at most, as a share of the width of its limits."""
MOST_TYPED = 100
"""Readings of an oven that somebody types at most."""


def _find_soaked(run: Run, gate: Soaked) -> datetime | None:
    """When pieces in the oven have had their time at temperature, a few minutes more for good measure."""
    return None if run.started is None else run.started + timedelta(seconds=gate.time.base + 300)


class ManualClock:
    """A clock that only moves when told to."""

    def __init__(self, at: datetime) -> None:
        self.moment = Moment(at, "hand", 1000.0)

    def __call__(self) -> Moment:
        return self.moment

    def forward(self, seconds: float) -> None:
        moved = convert_to_zone(self.moment.at + timedelta(seconds=seconds), get_zone(self.moment.at))
        self.moment = Moment(moved, self.moment.boot, self.moment.up + seconds)

    def until(self, at: datetime) -> None:
        self.forward(max((at - self.moment.at).total_seconds(), 0.0))


class SimulatedOperator:
    """One person at work on one batch."""

    def __init__(self, shop: Shop, batch: str, initials: str, clock: ManualClock, second: str = "") -> None:
        self.shop = shop
        self.id = batch
        self.initials = initials
        self.clock = clock
        self.second = second or initials
        self.per_line = 20.0
        """Seconds per confirmed line."""
        self.spread = 0.0
        """Standard deviation of what is measured on pieces, as a share of the width of its limits."""

    @property
    def batch(self) -> Batch:
        return self.shop.batch(self.id)

    def do(self, command: Command) -> list[Entry]:
        return self.shop.do(self.id, command, self.initials)

    def form(self, op: int, count: int | None = None, rework: str = "") -> int:
        """Load waiting pieces for an operation; returns the load's number."""
        return int(self.do(FormLoad(op, rework=rework, count=count))[0].body["load"])

    def run(self, load: int) -> Run:
        number = self.batch.loads[load].run
        assert number is not None
        return self.batch.runs[number]

    def current(self, load: int) -> Line | None:
        return build_walk(self.batch, self.run(load), self.clock(), self.initials).current

    def work(
        self,
        load: int,
        *,
        marks: tuple[MarkedPieces, ...] = (),
        found: Found = mark_all_good,
        stop: Callable[[Line], bool] = lambda line: False,
        wait: bool = True,
    ) -> bool:
        """Work a load at its next operation up to its release; returns whether it got there.

        Args:
            marks: what the count finds; everything else is good.
            found: the same, called when it comes to the count.
            stop: stop before the first line for which this is true.
            wait: let the clock run to the end of cycles and dwells; otherwise stop there.
        """
        if self.batch.loads[load].run is None:
            self._begin(load, anyway=True)  # it waits at the station for a timer
        run = self.run(load)
        while run.released is None:
            line = self.current(load)
            assert line is not None
            if stop(line):
                return False
            if line.kind == "count":
                self._count(run, marks or found(run))
            elif not self._pass(run, line, wait):
                return False
            run = self.batch.runs[run.number]
        return True

    def shift(self, until: datetime, found: Found = mark_all_good, ends: datetime | None = None) -> None:
        """Until a time, work what the opening screen puts first, like an operator who is never idle while work waits.

        Args:
            found: what the count of a run finds; everything else is good.
            ends: end of the shift, if later: nothing is started that would last longer.
        """
        while self.clock().at < until:
            if not any(
                self._take(due, found, ends or until) for due in self.shop.due() if due.urgency in ("now", "soon")
            ):
                coming = [due.when for due in self.shop.due() if due.when is not None and due.when > self.clock().at]
                self.clock.until(min([*coming, until]))

    def _take(self, due: DueTask, found: Found, ends: datetime) -> bool:
        """Do one thing that is due and fits before the end of the shift; returns whether anything came of it."""
        before = self.batch.seq
        if due.go == "begin" and due.op is not None and due.load is not None:
            operation = self.batch.operation(due.op)
            takes = compute_run_seconds(self.batch, find_next_run(self.batch, self.batch.loads[due.load], self.clock()))
            if not operation.may_outlast_shift and self.clock().at + timedelta(seconds=takes) > ends:
                return False
        if due.go == "surplus":
            self.do(LetSurplusGoOn("to be finished with the rest"))
        elif due.go == "form" and due.op is not None:
            self.form(due.op, rework=due.rework)
        elif due.go in ("begin", "run") and due.load is not None:
            load = self.batch.loads[due.load]
            if load.run is None:
                self._begin(load.number)
            self.work(load.number, found=found, wait=False)
        return self.batch.seq > before

    def _begin(self, load: int, anyway: bool = False) -> None:
        """Start its next run, having read what was left with it."""
        left = list_words_left(self.batch, self.batch.loads[load])
        self.do(BeginRun(load, anyway=anyway, read=tuple(one.seq for one in left)))

    def _count(self, run: Run, marks: tuple[MarkedPieces, ...]) -> None:
        self.clock.forward(self.batch.find_operation(run).time.seconds("after", len(run.pieces)))
        bad = sum(len(mark.positions) or mark.count for mark in marks)
        self.do(CountRun(run.number, len(run.undecided) - bad, marks))

    def _pass(self, run: Run, line: Line, wait: bool) -> bool:
        verdict = line.verdict
        if verdict is not None and (verdict.reads or verdict.status == "blocked"):
            return self._read_program(run, line) if verdict.reads else self._change_tool(run, verdict.change)
        if verdict is not None and verdict.status == "wait" and verdict.when is not None:
            return self._reach(verdict.when, wait=wait)
        if not self._reach_cycle(run, line, wait):
            return False
        if isinstance(line.gate, Soaked) and run.running and not self._reach(_find_soaked(run, line.gate), wait=wait):
            return False
        now_first = self.current(run.load)
        if now_first is not None and now_first.key != line.key:
            return True  # cautions, now that the cycle is over
        self._bring_others(run, line, wait)
        self._confirm(run, line)
        return True

    def _confirm(self, run: Run, line: Line) -> None:
        self.clock.forward(self.per_line)
        try:
            self.do(confirm_line(run, line) or self._proof(run, line))
        except Refused:
            now_first = self.current(run.load)
            if now_first is None or now_first.key == line.key:
                raise  # else a caution or a proof has lapsed in these seconds, and comes first

    def _bring_others(self, run: Run, line: Line, wait: bool) -> None:
        """Work the other loads of the cycle to a line that takes them all at once."""
        turns = isinstance(line.step, Do) and line.step.cycle
        if line.kind in ("start", "end") or turns:
            for other in find_open_runs_in_cycle(self.batch, run):
                self.work(other.load, stop=lambda one: one.key == line.key, wait=wait)

    def _reach_cycle(self, run: Run, line: Line, wait: bool) -> bool:
        """Whether the cycle has come to its end, or to the work that the line asks for."""
        ends = compute_planned_end(self.batch, run, self.clock()) if line.kind == "end" else None
        turn = compute_turn_due(self.batch, run, line.key, self.clock())
        return self._reach(ends, wait=wait) and self._reach(turn, wait=wait)

    def _reach(self, moment: datetime | None, *, wait: bool) -> bool:
        """Whether a moment has come, or has after waiting for it."""
        if moment is None:
            return True
        if not wait and moment > self.clock().at:
            return False
        self.clock.until(moment)
        return True

    def _read_program(self, run: Run, line: Line) -> bool:
        """Have the program's file read; whether nothing in it blocks the gate."""
        from floor.batch.gates.program_findings import count_program_faults
        from floor.shop.program_files import prepare_reading

        self.do(prepare_reading(self.shop.folder, self.batch, run, line.key).read())
        return not count_program_faults(self.batch, run)

    def _change_tool(self, run: Run, tool: int) -> bool:
        """Whether a worn tool was in the way, and is changed."""
        if not tool:
            return False
        self.clock.forward(240)
        self.do(Disturb(run.station, "tool changed", tool=tool))
        return True

    def _proof(self, run: Run, line: Line) -> Prove:
        gate = line.gate
        assert gate is not None
        count = find_sample_size(self.batch, run, line.key, gate)
        values: dict[str, Any] = {}
        for ask in gate.asks():
            value = self._value(run, ask)
            many = ask.count(count)
            values[ask.name] = [self._vary(run, line, gate, ask, value, n) for n in range(many)]
            if many == 1:
                (values[ask.name],) = values[ask.name]
        if isinstance(gate, Cured) and gate.stage is not None:
            values[STAGE] = gate.stage
        if isinstance(gate, Soaked):
            values[READINGS] = self._read_oven(run, gate)
        known = find_gauge(self.shop.context(self.id, self.initials).elsewhere.gauges, str(values.get("lot", "")))
        if isinstance(gate, LotRecorded) and gate.serial and known is not None:
            values["use_by"] = known.due.isoformat()
        return Prove(run.number, line.key, values)

    def _read_oven(self, run: Run, gate: Soaked) -> str:
        """Readings in the middle of the limits, from the start of the cycle to its end, as often as the gate wants."""
        span = find_work_span(run, self.clock())
        seconds = (span.end - span.start).total_seconds()
        step = max(seconds / MOST_TYPED, min(gate.longest_gap.base if gate.longest_gap is not None else 600.0, 600.0))
        times = [span.start + timedelta(seconds=step * n) for n in range(int(seconds / step) + 1)]
        middle = (gate.low.number + gate.high.number) / 2
        return ", ".join(f"{format_local(at, '%H:%M:%S')} {middle:.1f}" for at in times)

    def _vary(self, run: Run, line: Line, gate: Gate, ask: FormField, middle: Any, n: int) -> Any:
        """A value of a piece as real ones are, never out of limits; the same at each start of the demo."""
        wide = ask.kind == "number" and ask.low is not None and ask.high is not None
        if (
            not self.spread
            or not wide
            or not (isinstance(gate, FirstPiece) or (isinstance(gate, Measured) and gate.of_piece))
        ):
            return middle
        assert ask.low is not None
        assert ask.high is not None
        off = random.Random(f"{run.number} {line.key} {ask.name} {n}").gauss(0.0, self.spread)
        half = (ask.high - ask.low) / 2
        return round(middle + 2 * half * max(-MOST_OFF, min(off, MOST_OFF)), max(ask.places, 1))

    def _value(self, run: Run, ask: FormField) -> str | float:
        if ask.name == "pieces":
            return len(run.pieces)
        if ask.only:
            return ask.only
        if ask.name == "program":
            return self.batch.find_operation(run).program
        if ask.kind == "person":
            return self.second
        if ask.kind == "date":
            return (self.clock().at.date() + timedelta(days=180)).isoformat()
        if ask.kind in ("number", "whole"):
            low = ask.low if ask.low is not None else ask.high if ask.high is not None else 4.0
            high = ask.high if ask.high is not None else low
            middle = (low + high) / 2
            return int(middle) if ask.kind == "whole" else round(middle, 4)
        if ask.kind == "gauge":
            return make_serial(ask.short or ask.label.partition(":")[0])
        return {"lot": f"{run.op}-{self.batch.shift + 1:02d}A"}.get(ask.name, "as drawn")
