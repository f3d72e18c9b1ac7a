"""Whole lives of batches, drawn at random with a seed and kept in words: what each command led to, what stood then.

Nobody worked these out by hand: they were read through once, and hold what the rules do now. Whoever changes a rule
sees here what else it changes. Renew them with ``--snapshot-update`` and read the difference.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from random import Random
from typing import Any

import pytest

from floor.batch.command import Command, Refused
from floor.batch.corrections.commands import ConfirmClock, Note, SettleUnproved, StrikeOut
from floor.batch.corrections.from_paper import TranscribeAct
from floor.batch.corrections.unproved_work import find_open_unproved_work, format_unproved_work, say_run
from floor.batch.counting.commands import CountRun, Dispose, HoldBack, MarkedPieces, TakeOff
from floor.batch.counting.decide_surplus import BringBackSurplus, LetSurplusGoOn, TakeOutSurplus
from floor.batch.counting.holds import list_held_pieces, list_pieces_in_rework, list_scrap_on_carriers
from floor.batch.counting.losses import count_losses
from floor.batch.counting.op_yields import list_op_outcomes
from floor.batch.describe import describe
from floor.batch.gates.commands import CloseWaiver, Prove, Waive
from floor.batch.gates.decide_out_of_limits import DecideBefore, SettleOut
from floor.batch.gates.open_lot import OpenLot, list_lot_gates
from floor.batch.gates.out_of_limits import list_undecided_readings, say_open
from floor.batch.gates.samples import count_samples
from floor.batch.handover.commands import (
    AcceptHandover,
    AnswerQuestion,
    AskQuestion,
    CountSubjectPieces,
    OfferHandover,
    ReadBackLine,
    ReadHandoverPage,
    ResolveDifference,
    WithdrawHandover,
)
from floor.batch.handover.page import build_handover_page, list_count_subjects, list_safety_lines
from floor.batch.lifecycle.commands import CloseBatch, FormLoad, SetPiecesAside, StartPieces, open_points, say_points
from floor.batch.search.trace import trace
from floor.batch.state import Batch
from floor.batch.stations.commands import Disturb, TakeDown, WearTools
from floor.batch.stations.out_of_service import ReturnToService, TakeOutOfService
from floor.batch.walk.commands import BeginRun, DoStep, EndCycle, Pause, Release, SkipStep, StartCycle
from floor.batch.walk.put_back import PutBack
from floor.batch.walk.station_walk import build_walk
from floor.batch.walk.stop_cycle import STOPS, StopCycle
from floor.batch.worklist.large_view_content import build_large_view
from floor.batch.worklist.tasks import list_due_tasks
from floor.checklist.gates import Measured
from floor.checklist.model import Checklist
from floor.entry import Moment
from tests.batch.factory import (
    VANCE,
    by_hand,
    decide_out,
    measure_again,
    one_cycle,
    open_bench,
    part,
    turned,
    two_mills,
    two_up,
)

DECISIONS = ("use as is", "rework", "scrap")
STEPS = 200
LOOKS = 25
"""So many commands lie between two looks at everything."""


class Life:
    """Somebody at one batch who mostly works on, and often enough does something else."""

    def __init__(self, bench: Any, seed: int) -> None:
        """One life.

        Args:
            bench: a `Bench`, or what does the same on a real shop.
        """
        self.bench = bench
        self.draw = Random(seed)
        self.told = bench.state.seq

    @property
    def batch(self) -> Batch:
        state: Batch = self.bench.state
        return state

    def chance(self, share: float) -> bool:
        return self.draw.random() < share

    def any(self, choices: Any) -> Any:
        found = list(choices)
        return found[int(self.draw.random() * len(found))] if found else 0

    def lines(self, steps: int = STEPS) -> Iterator[str]:
        for number in range(1, steps + 1):
            yield from self.step(number)

    def step(self, number: int) -> Iterator[str]:
        self.bench.clock.forward(self.any((0, 20, 60, 300, 1200, 3600)))
        if self.chance(0.02):
            self.bench.clock.step(self.any((-7200, -300, 300, 7200)))
        try:
            said = self.go_on()
        except Refused as refused:
            at = f" [{refused.field} {refused.place}]" if refused.field else ""
            said = f"({refused.why}) {refused}{at}"
        if said:
            yield f"{number} {said}"
        for entry in self.batch.entries[self.told :]:
            yield f"  {entry.seq} {entry.by} {entry.kind}: {describe(self.batch, entry)}"
        self.told = self.batch.seq
        if number % LOOKS == 0:
            yield from (f"    {line}" for line in look(self.batch, self.bench.clock()))

    def go_on(self) -> str:
        if self.batch.handover is not None and self.chance(0.5):
            return self.take_over()
        for station in self.batch.outages:
            if self.chance(0.2):
                return self.do(ReturnToService(station, "mended"), "AA")
        if self.chance(0.5 if list_undecided_readings(self.batch) else 0.15):
            return self.settle()
        if self.chance(0.6):
            return self.work_on()
        return self.do(self.other(), self.any(("AA", "BB", "LL", "LL", "LL")))

    def settle(self) -> str:
        """Decide one of the things that wait for a decision."""
        batch = self.batch
        for out in list_undecided_readings(batch):
            run = batch.runs[out.run]
            named = self.name(run.load, sorted(out.among))
            if not out.gate.of_piece:
                return self.do(SettleOut(out.seq, self.any(("hold", "use as is")), "checked"), "LL")
            if not out.left:
                hold = self.any((0, 1, out.before))
                return self.do(DecideBefore(out.seq, hold, "the others are good" * (hold < out.before)), "LL")
            if self.chance(0.3):
                return self.do(measure_again(batch, out.seq, self.any((3.0, 3.3, 12.0)), "chip under the gauge"), "AA")
            reason = self.any(one.code for one in batch.operation(out.op).reasons)
            return self.do(decide_out(batch, out.seq, reason, **named), self.any(("AA", "LL")))
        for strike in find_open_unproved_work(batch):
            how = self.any(("proved afterwards", "use as is"))
            return self.do(SettleUnproved(strike.strike, how, "the log shows it"), "LL")
        if held := tuple(batch.held()):
            to = self.any(DECISIONS)
            rework = self.any([one.id for one in batch.checklist.reworks]) if to == "rework" else ""
            return self.do(
                Dispose(held[: self.any((1, 2))], to, "looked at", rework, self.chance(0.5), VANCE),
                "LL",
            )
        for waiver in batch.list_open_waivers():
            return self.do(CloseWaiver(waiver.seq, "proved since"), "LL")
        return ""

    def take_over(self) -> str:
        """Read, count, read back and accept, and now and then something is not as it was said."""
        handover = self.batch.handover
        taker = "BB" if handover is not None and handover.by != "BB" else "CC"
        self.do(ReadHandoverPage(), taker)
        for subject in list_count_subjects(self.batch):
            self.do(CountSubjectPieces(subject.key, subject.expected + (1 if self.chance(0.1) else 0)), taker)
        for line in list_safety_lines(self.batch, self.bench.clock()):
            self.do(ReadBackLine(line.key), taker)
        for one in self.batch.list_open_differences():
            self.do(ResolveDifference(one.seq, "counted again together"), "LL")
        return self.do(AcceptHandover(talked="face to face"), taker)

    def do(self, command: Command, by: str) -> str:
        name = f"{type(command).__name__} by {by}"
        try:
            self.bench.say(command, by)
        except Refused as refused:
            raise Refused(refused.why, f"{name}: {refused.wrong}", refused.remedy, field=refused.field) from refused
        return ""

    def work_on(self) -> str:
        """Work a load on, load another, or begin what waits."""
        due = [one for one in list_due_tasks([self.batch], self.bench.clock()) if one.urgency in ("now", "overdue")]
        forms, loads = [one for one in due if one.go == "form"], self.batch.list_live_loads()
        if forms and (not loads or self.chance(0.2)):
            form = self.any(forms)
            return self.do(FormLoad(form.op or 0, rework=form.rework), "AA")
        if not loads:
            return ""
        now = {one.load for one in due}
        load = self.any([one for one in loads if one.number in now] or loads)
        left, fussy = int(self.draw.random() * 12) + 1, self.chance(0.5)

        def stop(line: Any) -> bool:
            nonlocal left
            left -= 1
            return left < 0 or (fussy and isinstance(line.gate, Measured))

        run = self.batch.runs.get(load.run or 0)
        line = build_walk(self.batch, run, self.bench.clock(), "AA").current if run is not None else None
        if line is not None and line.verdict is not None and line.verdict.decide:
            return self.settle()
        if (
            run is not None
            and line is not None
            and line.gate is not None
            and self.chance(0.8 if isinstance(line.gate, Measured) else 0.2)
        ):
            return self.do(Prove(run.number, line.key, self.read(line.gate, len(run.undecided))), "AA")
        hand = self.bench.hand(self.any(("AA", "LL")), second="BB")
        hand.work(load.number, found=self.find, stop=stop, wait=self.chance(0.5))
        return ""

    def read(self, gate: Any, pieces: int) -> dict[str, Any]:
        """What somebody may enter at a gate: often wrong."""
        values: dict[str, Any] = {}
        for ask in gate.asks():
            low, high = (4.0 if one is None else one for one in (ask.low, ask.high))
            near = (low, high, (low + high) / 2, high + 0.4, low - 0.4, *(("x", "") if self.chance(0.2) else ()))
            told = (ask.only, "KB7-10 A", "BB", "AA", "LL", "L-1", "2026-09-01", "soon", "")
            count = count_samples(gate, pieces)
            value = [self.any(near if ask.kind in ("number", "whole") else told) for _ in range(count)]
            values[ask.name] = value if count > 1 else value[0]
        return values

    def find(self, run: Any) -> tuple[MarkedPieces, ...]:
        """One piece that is not good, half of the times."""
        if self.chance(0.5) or not run.undecided:
            return ()
        code = self.any(self.batch.find_operation(run).reasons).code
        return (MarkedPieces(code, **self.name(run.load, sorted(run.undecided)), note="as seen"),)

    def name(self, number: int, pieces: Any) -> dict[str, Any]:
        """One of these pieces on a load: by its place, or where there are none by how many."""
        load, piece = self.batch.loads.get(number), self.any(pieces)
        slot = self.batch.format_slot(load, piece) if load is not None and piece in load.slots else ""
        return {"positions": (slot,)} if slot else {"count": 1}

    def other(self) -> Command:
        """Anything else that somebody may ask for, sensible or not."""
        batch, now = self.batch, self.bench.clock().at
        run = self.any(batch.list_open_runs() or batch.runs.values())
        number = run.number if run else 1
        load = run.load if run else 1
        line = build_walk(batch, run, self.bench.clock(), "AA").current if run and run.released is None else None
        key = line.key if line is not None else "start"
        pieces = tuple(sorted(run.pieces)) if run else (1,)
        station = self.any([one.id for one in batch.checklist.stations])
        out = self.any(list_undecided_readings(batch) or batch.out.values())
        reading = out.seq if out else 1
        named = self.name(load, pieces)
        held = tuple(batch.held())
        subject = self.any(list_count_subjects(batch))
        asked = [entry.seq for entry in batch.entries if entry.kind == "question_asked"]
        rework = self.any([one.id for one in batch.checklist.reworks])
        proved = [entry.seq for entry in batch.entries[-60:] if entry.kind in ("proved", "step_done", "counted")] or [1]
        lot = self.any(list_lot_gates(batch.checklist))
        op = self.any(batch.checklist.ops)
        why = self.any(("", "seen so", "seen so", "seen so"))

        def ago(minutes: tuple[int, ...]) -> datetime:
            return now - timedelta(minutes=self.any(minutes))

        acts: list[Callable[[], Command]] = [
            lambda: Waive(number, key, why, self.any(("", "BB", "LL"))),
            lambda: CloseWaiver(self.any(batch.waivers) or 1, why),
            lambda: SkipStep(number, key, why),
            lambda: DoStep(number, key, "in passing"),
            lambda: Pause(number, why),
            lambda: StartCycle(number, anew=self.chance(0.5)),
            lambda: EndCycle(number),
            lambda: Release(number),
            lambda: CountRun(number, int(self.draw.random() * 5), (MarkedPieces("other", **named),)),
            lambda: StopCycle(number, self.any(STOPS), ago((0, 1, 99)), self.any((None, 1))),
            lambda: PutBack(number),
            lambda: Disturb(station, self.any(("power lost", "crash", "refixtured", "lifted", "rezeroed")), load=load),
            lambda: Disturb(station, "tool changed", tool=self.any((1, 2, 9))),
            lambda: TakeDown(station, "B0002"),
            lambda: WearTools("mill", ((1, self.draw.random() // 0.01 * 60), (2, 5.0)), "B0002"),
            lambda: TakeOutOfService(station, why, self.any((None, now + timedelta(hours=2)))),
            lambda: ReturnToService(self.any(batch.outages) or station, "mended"),
            lambda: Note("smells", load=load, abnormal=self.chance(0.5), next_shift=self.chance(0.5)),
            lambda: StrikeOut(batch.seq - int(self.draw.random() * min(batch.seq, 25)), why),
            lambda: StrikeOut(batch.seq - int(self.draw.random() * min(batch.seq, 3)), "slip"),
            lambda: StrikeOut(self.any(proved), "misread"),
            lambda: StrikeOut(self.any(batch.struck.values()) or 1, "it was so"),
            lambda: SettleUnproved(self.any(batch.struck.values()) or 1, "use as is", why),
            lambda: ConfirmClock(why),
            lambda: SetPiecesAside(self.any(("scrap", "hold")), why, load=load, **named),
            lambda: SetPiecesAside(self.any(("scrap", "hold")), why, op=op, count=1),
            lambda: Dispose(held[:2], self.any(DECISIONS), why, rework, waive_rework=self.chance(0.5)),
            lambda: TakeOff(held[:1] or (1,)),
            lambda: HoldBack(number, why),
            lambda: StartPieces(int(self.draw.random() * 3)),
            lambda: FormLoad(op, count=self.any((None, 1, 2, 9))),
            lambda: BeginRun(load, anyway=self.chance(0.5), station=self.any(("", station))),
            lambda: OpenLot(lot, "L-2", self.any(("", "2026-08-01", "soon")), into=(load,) if self.chance(0.5) else ()),
            lambda: decide_out(batch, reading, self.any(batch.operation(out.op).reasons).code if out else "", **named),
            lambda: DecideBefore(reading, int(self.draw.random() * 3), why),
            lambda: measure_again(batch, reading, self.any((3.0, 3.3, "x")), why),
            lambda: SettleOut(reading, self.any(("hold", "use as is")), why),
            lambda: TakeOutSurplus(self.any(("spare", "stopped")), why, op=op, count=1),
            lambda: BringBackSurplus(op, why),
            lambda: LetSurplusGoOn(why, self.any((None, op))),
            lambda: OfferHandover("all well", unattended=self.chance(0.3), safe="all off"),
            WithdrawHandover,
            lambda: CountSubjectPieces(subject.key if subject else "load 9", 1),
            lambda: AskQuestion("why so?"),
            lambda: AnswerQuestion(self.any(asked) or 1, "so"),
            lambda: ResolveDifference(self.any(one.seq for one in batch.list_open_differences()) or 1, why),
            AcceptHandover,
            ReadHandoverPage,
            lambda: CloseBatch(why),
            lambda: TranscribeAct(DoStep(number, key), ago((5, 90)), self.any(("", "BB"))),
            lambda: TranscribeAct(BeginRun(load), ago((5, 90))),
        ]  # fmt: skip
        command: Command = self.any(acts)()
        return command


def look(batch: Batch, now: Moment) -> Iterator[str]:
    """Everything that the screens and papers ask of a batch, in short."""
    yield f"== {now.at:%a %H:%M:%S}, entry {batch.seq}: {say_points(open_points(batch))}"
    for due in list_due_tasks([batch], now):
        when = f"{due.when:%a %H:%M}" if due.when else "-"
        closes = f", closes {due.closes:%a %H:%M}" if due.closes else ""
        room = f", {due.loading.what}" if due.loading is not None else ""
        yield f"{due.urgency} {when} {due.go} {due.where}: {due.sentence}{closes}{room}{' !' if due.at_once else ''}"
    for run in batch.list_open_runs():
        view = build_large_view(batch, now, None, run.number)
        yield f"{say_run(batch, run)} | {view.kind} {view.time} {view.doing} {view.closes} {view.offset}"
        for line in build_walk(batch, run, now, "AA").lines:
            judged = line.verdict
            stands = f" | {judged.status}: {judged.why}; {judged.clear}; {judged.when}" if judged is not None else ""
            yield f"  {line.key} {line.state} {line.evidence}{stands}"
    for section in build_handover_page(batch, now):
        for one in section.lines:
            yield f"{section.title}: {one.text}{' *' if one.safety else ''}"
    for held in [*list_held_pieces(batch), *list_scrap_on_carriers(batch)]:
        yield f"piece {held.piece} of {held.place} op {held.op}: {held.reason} {held.note} {held.owes} {held.measured}"
    for strike in find_open_unproved_work(batch):
        yield format_unproved_work(batch, strike)
    for reading in list_undecided_readings(batch):
        yield say_open(batch, reading)
    yield ", ".join(list_pieces_in_rework(batch))
    for outcome in list_op_outcomes(batch):
        yield str(outcome).removeprefix("OpOutcome")
    yield ", ".join(
        f"{n} {one.to} {one.reason} {one.found} {one.caused} {one.position}"
        for one, n in sorted(count_losses(batch).items(), key=str)
    )
    for piece in (1, 6):
        if piece in batch.places:
            path = trace(batch, piece)
            stays = "; ".join(
                f"{stay.run.number} {stay.carrier} {stay.position} {stay.condition}" for stay in path.stays
            )
            yield f"piece {piece} {path.place}: {path.candidates} {stays} {path.moves}"


LIVES: list[tuple[Callable[[], Checklist], int]] = [
    (part, 1), (part, 2), (two_up, 3), (one_cycle, 4), (two_mills, 5), (turned, 6), (by_hand, 7), (by_hand, 8),
]  # fmt: skip


@pytest.mark.parametrize(("checklist", "seed"), LIVES, ids=lambda one: getattr(one, "__name__", one))
def test_a_life_goes_as_it_went(checklist: Callable[[], Checklist], seed: int, snapshot: Any) -> None:
    life = Life(open_bench(checklist, start=14, order=9), seed)
    assert "\n".join(life.lines()) == snapshot
    assert any(isinstance(step, Measured) for one in checklist().operations for step in one.steps)
