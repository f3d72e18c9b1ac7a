"""Random commands from several people on one batch: no piece is ever lost, no gate passed unproved.

`FLOOR_LONG=20` runs twenty times as many examples with twice as many steps.
"""

from __future__ import annotations

import os
from dataclasses import replace
from random import Random
from typing import Any, get_args

from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from floor.batch.command import Command, Refused
from floor.batch.corrections.commands import ConfirmClock, Note, SettleUnproved, StrikeOut
from floor.batch.corrections.unproved_work import find_unproved_work
from floor.batch.counting.commands import CountRun, Dispose, HoldBack, MarkedPieces, TakeOff
from floor.batch.counting.correct_count import CorrectCount, list_scrap_of
from floor.batch.counting.decide_surplus import BringBackSurplus, LetSurplusGoOn, TakeOutSurplus
from floor.batch.counting.losses import count_losses
from floor.batch.counting.surplus import list_pieces_out_of_work
from floor.batch.describe import describe
from floor.batch.events import Concession, Decision, read_run_numbers
from floor.batch.fold import fold
from floor.batch.gates.commands import CloseWaiver, Prove, Waive
from floor.batch.gates.decide_out_of_limits import DecideBefore, DecideOut, MeasureAgain, SettleOut
from floor.batch.gates.judge import judge_gate
from floor.batch.gates.lapse_causes import DISTURBANCES
from floor.batch.gates.measured_pieces import ValueRead
from floor.batch.gates.proof_keys import find_proof_key
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
from floor.batch.lifecycle.commands import CloseBatch, FormLoad, SetPiecesAside, StartPieces
from floor.batch.moving.commands import MovePieces
from floor.batch.run import Run
from floor.batch.search.trace import trace
from floor.batch.state import Batch
from floor.batch.stations.commands import Disturb, TakeDown
from floor.batch.stations.out_of_service import ReturnToService, TakeOutOfService
from floor.batch.trials.commands import BringTrialPiecesBack, PlanTrial, TakeTrialPieces
from floor.batch.walk.clock_jumps import list_clock_jumps
from floor.batch.walk.commands import (
    BeginRun,
    DoStep,
    EndCycle,
    Pause,
    ReadCautions,
    Release,
    SkipStep,
    StartCycle,
    confirm_line,
)
from floor.batch.walk.put_back import PutBack
from floor.batch.walk.shared_cycles import find_open_runs_in_cycle, find_runs_in_cycle
from floor.batch.walk.station_walk import build_walk
from floor.batch.walk.stop_cycle import STOPS, StopCycle
from floor.batch.worklist.tasks import list_due_tasks
from floor.checklist.gates import Cured, Measured
from floor.checklist.operation import Do
from floor.entry import Moment
from tests.batch.factory import (
    VANCE,
    Bench,
    by_hand,
    conserved,
    decide_out,
    measure_again,
    one_cycle,
    open_bench,
    part,
    turned,
    two_mills,
    two_up,
    went_its_way,
    went_through,
)

PEOPLE = st.sampled_from(["AA", "BB", "LL"])
SMALL = st.integers(-1, 7)
OPS = st.sampled_from([10, 20, 30, 40, 50, 60])
LINES = st.sampled_from(
    sorted({key for operation in part().operations for key, _ in operation.numbered_steps})
    + ["rework touch up 1", "start", "end", "count", "release", "caution load step 1", "no such line"]
)
REASONS = st.sampled_from(sorted({reason.code for op in part().operations for reason in op.reasons}) + ["nonsense"])
PLACES = st.lists(st.sampled_from(["A1", "A2", "A3", "B1", "B2", "B3", "Z9"]), max_size=3).map(tuple)
MARKS = st.lists(
    st.builds(MarkedPieces, REASONS, PLACES, st.integers(-1, 4), st.sampled_from(["", "a note"])), max_size=2
).map(tuple)
VALUES = st.dictionaries(
    st.sampled_from(["value", "pieces", "person", "lot", "tool", "length", "X", "Z", "found", "faulty", "program"]),
    st.sampled_from([0, 1, 3, -5, 1e12, "nan", "", "x", "BB", [3, 3], None, "3,0", True]),
    max_size=3,
)
CHANCE = st.integers(0, 2**32).map(Random)
WHY = st.sampled_from(["", "because"])
READ = st.builds(ValueRead, SMALL, st.sampled_from(["value", "value 1"]), st.sampled_from(["", "3.3"]))

ANY: st.SearchStrategy[Command] = st.one_of(
    st.builds(FormLoad, OPS, st.sampled_from(["", "touch up", "regroove"]), st.none() | SMALL, st.none() | SMALL),
    st.builds(
        FormLoad, OPS, st.just(""), st.none() | SMALL, st.none(), st.lists(st.integers(0, 9), max_size=3).map(tuple),
        PLACES,
    ),
    st.builds(
        MovePieces, st.none() | SMALL, st.lists(st.integers(0, 9), max_size=3).map(tuple), st.none() | SMALL, PLACES,
        st.none() | OPS,
    ),
    st.builds(StartPieces, SMALL),
    st.builds(TakeOutSurplus, st.sampled_from(["spare", "stopped"]), WHY, st.none() | SMALL, st.none() | OPS),
    st.builds(BringBackSurplus, OPS, WHY, st.sampled_from(["spare", "stopped"])),
    st.builds(LetSurplusGoOn, WHY, st.none() | OPS),
    st.just(PlanTrial("which coat?", (("coat", ("A", "B")),), "number", "gloss", 2, "GU", 20)),
    st.builds(TakeTrialPieces, st.just(1), SMALL, SMALL, st.none() | SMALL, st.none() | OPS),
    st.builds(BringTrialPiecesBack, st.just(1), SMALL, WHY),
    st.builds(
        SetPiecesAside, st.sampled_from(["scrap", "hold", "pub"]), WHY, st.none() | SMALL, st.none() | OPS, PLACES,
        st.none() | SMALL, st.just(""), st.booleans(),
    ),
    st.builds(TakeOff, st.lists(st.integers(0, 9), max_size=2).map(tuple)),
    st.builds(BeginRun, SMALL, WHY, st.booleans()),
    st.builds(BeginRun, SMALL, WHY, st.booleans(), st.sampled_from(["", "mill", "table", "moon"]), OPS, WHY, WHY),
    st.builds(PutBack, SMALL),
    st.builds(ReadCautions, SMALL, LINES),
    st.builds(DoStep, SMALL, LINES),
    st.builds(SkipStep, SMALL, LINES, WHY),
    st.builds(Prove, SMALL, LINES, VALUES),
    st.builds(StartCycle, SMALL),
    st.builds(EndCycle, SMALL),
    st.builds(StopCycle, SMALL, st.sampled_from([*STOPS, "hit"]), st.none(), st.none() | SMALL),
    st.builds(StartCycle, SMALL, st.just(True)),
    st.builds(HoldBack, SMALL, WHY),
    st.builds(CorrectCount, st.integers(0, 80), st.lists(st.integers(0, 9), max_size=2).map(tuple), WHY),
    st.builds(CountRun, SMALL, SMALL, MARKS),
    st.builds(Release, SMALL),
    st.builds(Pause, SMALL, WHY),
    st.builds(
        Disturb, st.sampled_from(["mill", "bench", "oven", "moon"]), st.sampled_from([*DISTURBANCES, "hit"]),
        st.none() | SMALL, st.none() | SMALL,
    ),
    st.builds(TakeOutOfService, st.sampled_from(["mill", "moon"]), WHY),
    st.builds(ReturnToService, st.sampled_from(["mill", "moon"])),
    st.builds(TakeDown, st.sampled_from(["mill", "bench"]), st.just("B0002")),
    st.builds(Waive, SMALL, LINES, WHY, st.sampled_from(["", "BB", "LL", "ZZ"])),
    st.builds(CloseWaiver, st.integers(0, 60), WHY),
    st.builds(
        Dispose, st.lists(st.integers(0, 9), max_size=3).map(tuple),
        st.sampled_from([*get_args(Decision), "eat"]), WHY, st.sampled_from(["", "touch up", "regroove"]),
        to=st.sampled_from(["", "B stock"]),
    ),
    st.builds(DecideOut, st.integers(0, 80), REASONS, PLACES, st.integers(-1, 4)),
    st.builds(DecideBefore, st.integers(0, 80), SMALL, WHY),
    st.builds(MeasureAgain, st.integers(0, 80), READ, st.sampled_from(["", "x", 3.0, 9.0]), WHY),
    st.builds(SettleOut, st.integers(0, 80), st.sampled_from(["hold", "use as is", "eat"]), WHY),
    st.builds(Note, st.sampled_from(["", "seen"]), st.none() | SMALL, st.none() | SMALL, st.booleans(), st.booleans()),
    st.builds(StrikeOut, st.integers(0, 80), WHY),
    st.builds(ConfirmClock, WHY),
    st.builds(SettleUnproved, st.integers(0, 80), st.sampled_from(["proved afterwards", "use as is", "eat"]), WHY),
    st.builds(OfferHandover, WHY, st.booleans(), WHY),
    st.builds(WithdrawHandover),
    st.builds(CountSubjectPieces, st.sampled_from(["load 1", "load 2", "hold", "waiting 10"]), SMALL),
    st.builds(ReadBackLine, st.sampled_from(["running 1", "clock cure 1"])),
    st.builds(AskQuestion, WHY),
    st.builds(AnswerQuestion, st.integers(0, 60), WHY),
    st.builds(AcceptHandover),
    st.builds(ResolveDifference, st.integers(0, 60), WHY),
    st.builds(CloseBatch, WHY),
)  # fmt: skip


def gates_met(batch: Batch, run: Run, now: Moment, phases: tuple[str, ...]) -> bool:
    """Whether every gate and step of these phases is met, waived, done or skipped at this moment."""
    waived = {waiver.line for waiver in batch.waivers.values() if waiver.run == run.number}
    steps = [(key, step) for key, step in batch.find_operation(run).numbered_steps if step.at in phases]
    for place, (key, step) in enumerate(steps):
        work = [later for later, one in steps[place + 1 :] if isinstance(one, Do)]
        if key in waived or (isinstance(step, Cured) and work and all(later in run.marks for later in work)):
            continue  # a window has to be open while its work is done, not until the pieces are counted
        if isinstance(step, Do):
            if key not in run.marks and key not in batch.setups[run.setup].marks and not step.while_running:
                return False
        elif judge_gate(batch, run, key, step, now).status != "met":
            return False
    return True


def unsaid(batch: Batch, run: Run) -> list[str]:
    """Lines of a released run for which the record has nothing, and of which it does not say so."""
    waived = {waiver.line for waiver in batch.waivers.values() if waiver.run == run.number}
    told = {line for one in find_unproved_work(batch).values() for number, line in one.pairs if number == run.number}
    live = [entry for entry in batch.entries if entry.seq not in batch.struck]
    proved = {tuple(entry.body["key"]) for entry in live if entry.kind == "proved"}
    marks = [entry.body for entry in live if entry.kind in ("step_done", "step_skipped")]
    done = {(number, body["line"]) for body in marks for number in read_run_numbers(body)}
    lines = []
    for key, step in batch.find_operation(run).numbered_steps:
        if run.decided and not run.undecided and getattr(step, "gate", "") in ("measured", "first piece accepted"):
            continue  # none is left that it could be proved of
        if key in waived | told or isinstance(step, Cured) or getattr(step, "per", "") == "shift":
            continue
        if isinstance(step, Do):
            others = [other.number for other in batch.runs.values() if other.setup == run.setup]
            fine = any((number, key) in done for number in ([run.number] if step.at != "setup" else others))
            fine = fine or bool(step.while_running)
        else:
            fine = find_proof_key(batch, run, key, step) in proved
        lines += [] if fine else [key]
    return lines


class RandomBatch(RuleBasedStateMachine):
    bench: Bench
    folded = 0
    """Entries when the state was last compared with the record; what refuses adds none."""

    @initialize(start=st.integers(1, 9), chance=CHANCE, ahead=st.integers(0, 30))
    def opened(self, start: int, chance: Random, ahead: int) -> None:
        self.bench = open_bench(start=start)
        self.push_on(chance, "AA", ahead)

    def try_(self, command: Command, by: str) -> None:
        batch, now = self.bench.state, self.bench.clock()
        before = len(batch.entries)
        met = True
        if isinstance(command, StartCycle | CountRun | Release) and command.run in batch.runs:
            run = batch.runs[command.run]
            met = (
                run.started is not None
                or run.count is not None
                or gates_met(batch, run, now, ("arrive", "setup", "load"))
            )
            if isinstance(command, CountRun | Release) and run.count is None:
                met = met and gates_met(batch, run, now, ("after",))
        try:
            entries = self.bench.say(command, by)
        except Refused as refused:
            entries, sentence = [], str(refused).strip()
        else:
            sentence = ""
            assert met, f"{command} was let through an unmet gate"
        assert bool(entries) != bool(sentence)
        assert len(self.bench.state.entries) == before + len(entries)

    # --- people who mostly know what they do

    @rule(chance=CHANCE, by=PEOPLE, times=st.integers(1, 4))
    def push_on(self, chance: Random, by: str, times: int) -> None:
        """Form a load, or work one through its next operation; its count finds what it finds."""
        for _ in range(times):
            batch = self.bench.state
            work: list[Any] = [*batch.list_waiting_pools(), *(load.number for load in batch.list_live_loads())]
            if not work:
                return
            chosen = chance.choice(work)
            if isinstance(chosen, tuple):
                op, rework, waiting = chosen
                self.try_(FormLoad(op, rework, count=chance.choice([None, chance.randint(1, waiting)])), by)
            else:
                self.work(chance, chosen, by, lines=100)

    @rule(chance=CHANCE, by=PEOPLE, lines=st.integers(1, 12))
    def work_a_little(self, chance: Random, by: str, lines: int) -> None:
        loads = self.bench.state.list_live_loads()
        if loads:
            self.work(chance, chance.choice(loads).number, by, lines)

    def work(self, chance: Random, number: int, by: str, lines: int) -> None:
        if self.bench.state.loads[number].run is None:
            self.try_(BeginRun(number, "still to be done tonight", chance.choice([True, False])), by)
        for _ in range(lines):
            load = self.bench.state.loads[number]
            if load.run is None:
                return
            run, context = self.bench.state.runs[load.run], self.bench.context("", by)
            line = build_walk(self.bench.state, run, context.now, by).current
            assert line is not None
            if line.kind == "count":
                command: Command | None = self.counts(chance, run)
            elif line.verdict is not None and line.verdict.status == "wait" and line.verdict.when is not None:
                self.bench.clock.until(line.verdict.when)
                if self.bench.current(number, by).key == line.key:  # in doubt after a restart: it waits on
                    return
                continue
            else:
                command = confirm_line(run, line)
            if command is None and line.verdict is not None and line.verdict.status == "ask":
                command = self.bench.hand(by, "CC")._proof(run, line)
            if command is None:
                return
            before = len(self.bench.state.entries)
            self.try_(command, by)
            if len(self.bench.state.entries) == before:
                return

    @rule(chance=CHANCE, by=PEOPLE)
    def move(self, chance: Random, by: str) -> None:
        """Some pieces of a load, or loose ones, go to another place, another carrier, another load, or off."""
        batch = self.bench.state
        loads = [load for load in batch.list_live_loads() if load.run is None and batch.present(load)]
        pools = batch.list_waiting_pools()
        if not loads and not pools:
            return
        source = chance.choice([*loads, *pools])
        if isinstance(source, tuple):
            op, rework, _ = source
            there, load = batch.waiting(op, rework), None
            kind = batch.checklist.carrier(batch.operation(op).carrier)
        else:
            op, rework, load = None, "", source.number
            there, kind = list(batch.present(source)), batch.find_carrier(source.number)
        pieces = tuple(chance.sample(there, chance.randint(1, len(there))))
        free = chance.sample(kind.positions, min(len(pieces), len(kind.positions)))
        places = chance.choice([(), tuple(free)])
        onto = chance.choice([None, *range(1, kind.count + 1)])
        self.try_(MovePieces(load, pieces, onto, places, op, rework), by)

    def counts(self, chance: Random, run: Run) -> CountRun:
        """A count of the run that adds up; now and then some pieces are not good."""
        load, left, marks = self.bench.state.loads[run.load], list(run.pieces), []
        reasons = self.bench.state.operation(run.op).reasons
        for reason in chance.sample(reasons, min(len(reasons), chance.choice([0, 0, 1, 2]))):
            bad = chance.sample(left, min(len(left), chance.choice([1, 1, 2])))
            places = tuple(filter(None, (self.bench.state.format_slot(load, piece) for piece in bad)))
            left = [piece for piece in left if piece not in bad]
            if bad:
                marks.append(MarkedPieces(reason.code, places, len(bad), "a note"))
        return CountRun(run.number, len(left), tuple(marks))

    @rule(pick=st.integers(0, 99), by=PEOPLE)
    def strike(self, pick: int, by: str) -> None:
        self.try_(StrikeOut(len(self.bench.state.entries) - pick % len(self.bench.state.entries), "entered wrong"), by)

    @precondition(lambda self: self.bench.state.total("scrap"))
    @rule(chance=CHANCE)
    def take_back_scrap(self, chance: Random) -> None:
        """A lead corrects counts of scrap, and decides on what comes back; losses can be told all the time."""
        batch = self.bench.state
        for seq in sorted({place.seq for place in batch.places.values() if place.where == "scrap"}):
            if there := list_scrap_of(batch, seq):
                pieces = tuple(chance.sample(there, chance.randint(1, len(there))))
                self.try_(CorrectCount(seq, pieces, "counted wrong"), "LL")
                if chance.random() < 0.7:
                    self.try_(Dispose(pieces, chance.choice(("use as is", "scrap")), "looked at them"), "LL")
        assert all(many > 0 for many in count_losses(batch).values())

    @precondition(lambda self: self.bench.state.held())
    @rule(
        decision=st.sampled_from(get_args(Decision)), rework=st.sampled_from(["touch up", "regroove"]),
        waive=st.booleans(), word=st.none() | st.just(VANCE),
    )  # fmt: skip
    def decide(self, decision: Any, rework: str, waive: bool, word: Concession | None) -> None:
        for piece in self.bench.state.held():
            self.try_(Dispose((piece,), decision, "looked at it", rework, waive, word, to="B stock"), "LL")

    @rule(chance=CHANCE, by=PEOPLE, again=st.booleans(), hold=st.integers(0, 5))
    def out_of_limits(self, chance: Random, by: str, again: bool, hold: int) -> None:
        """Something is measured out of its limits, and then decided."""
        for run in self.bench.state.list_open_runs():
            line = build_walk(self.bench.state, run, self.bench.clock(), by).current
            if line is not None and isinstance(line.step, Measured) and line.verdict and not line.verdict.decide:
                many = count_samples(line.step, len(run.undecided))
                ask = line.step.asks()[0]
                self.try_(Prove(run.number, line.key, {ask.name: [9] * many if many > 1 else 1 if many else 0}), by)
        for one in self.bench.state.list_open_out_of_limits():
            if again:
                self.try_(measure_again(self.bench.state, one.seq, 3.0, "dirty gauge"), by)
            run = self.bench.state.runs[one.run]
            load, codes = self.bench.state.loads[run.load], self.bench.state.operation(run.op).reasons
            free = [piece for piece in sorted(one.among) if piece not in one.named | run.decided.keys()]
            picked = chance.sample(free, min(one.left, len(free), chance.choice([1, 2])))
            places = tuple(filter(None, (self.bench.state.format_slot(load, piece) for piece in picked)))
            reason = chance.choice(["", *(code.code for code in codes)])
            self.try_(decide_out(self.bench.state, one.seq, reason, places, len(picked)), by)
            self.try_(DecideBefore(one.seq, hold, "made with another tool" * (hold < one.before)), "LL")

    @precondition(lambda self: any(place.sits for place in self.bench.state.places.values()))
    @rule(pick=st.integers(0, 9))
    def take_off(self, pick: int) -> None:
        sitting = [piece for piece, place in self.bench.state.places.items() if place.sits]
        self.try_(TakeOff((sitting[pick % len(sitting)],)), "AA")

    @rule(pick=st.integers(0, 9), to=st.sampled_from(["scrap", "hold"]), count=st.integers(1, 2), off=st.booleans())
    def drop(self, pick: int, to: str, count: int, off: bool) -> None:
        loads = self.bench.state.list_live_loads()
        if loads:
            if pick == 9:
                self.try_(HoldBack(1, "doubtful"), "LL")
            detoured = [load for load in loads if load.detours] or loads
            chosen = (detoured if pick % 2 else loads)[pick % len(detoured if pick % 2 else loads)]
            self.try_(SetPiecesAside(to, "fell down", load=chosen.number, count=count, off=off), "AA")

    @rule(to=st.sampled_from(["spare", "stopped"]), pick=st.integers(0, 9), count=st.none() | st.integers(1, 2))
    def surplus(self, to: Any, pick: int, count: int | None) -> None:
        """Taken out where the order is filled, and taken back."""
        out = list_pieces_out_of_work(self.bench.state)
        if out and pick % 2:
            where, op, rework, _ = out[pick % len(out)]
            self.try_(BringBackSurplus(op, "wanted again", where, rework, count), "LL")  # type: ignore[arg-type]
        else:
            self.try_(TakeOutSurplus(to, "too many", count=count), "LL")

    @rule(why=st.sampled_from([*STOPS]), anew=st.booleans())
    def stop(self, why: str, anew: bool) -> None:
        for run in self.bench.state.list_open_runs():
            if run.running:
                self.try_(StopCycle(run.number, why, tool=1), "AA")
                if anew:
                    self.work(Random(1), run.load, "AA", 3)
                    self.try_(StartCycle(run.number, anew=True), "AA")
                return

    @rule(pick=st.integers(0, 9), by=PEOPLE)
    def put_back(self, pick: int, by: str) -> None:
        runs = self.bench.state.list_open_runs()
        if runs:
            run = runs[pick % len(runs)]
            load = self.bench.state.loads[run.load]
            at = load.next_op if load.ahead is not None else load.at
            sent_back = {piece for one in load.behind if one.at == load.at for piece in one.pieces}
            if load.ahead is not None:  # some may have passed that one before their turn already
                run = replace(run, pieces=self.bench.state.find_next_pieces(replace(load, ahead=None)))
            pieces = {*run.pieces, *sent_back}  # who was to pass it again alone now passes it with the others
            self.try_(PutBack(run.number), by)
            load = self.bench.state.loads[run.load]
            if load.run is None:
                assert (load.at, set(self.bench.state.find_next_pieces(load))) == (at, pieces), (
                    "the load stands where it stood"
                )

    @rule(pick=st.integers(0, 9))
    def waive(self, pick: int) -> None:
        runs = self.bench.state.list_open_runs()
        if runs:
            run = runs[pick % len(runs)]
            line = build_walk(self.bench.state, run, self.bench.clock(), "LL").current
            if line is not None:
                self.try_(Waive(run.number, line.key, "agreed with the customer", "BB"), "LL")

    @rule(by=PEOPLE, taker=PEOPLE, off=st.integers(0, 1), how_far=st.integers(0, 4))
    def hand_over(self, by: str, taker: str, off: int, how_far: int) -> None:
        self.try_(OfferHandover("half done"), by)
        for subject in list_count_subjects(self.bench.state) if how_far > 1 else []:
            self.try_(CountSubjectPieces(subject.key, subject.expected + off), taker)
        for line in list_safety_lines(self.bench.state, self.bench.clock()) if how_far > 2 else []:
            self.try_(ReadBackLine(line.key), taker)
        if how_far > 3:
            self.try_(ReadHandoverPage(), taker)
            for one in self.bench.state.list_open_differences():
                self.try_(ResolveDifference(one.seq, "counted again together"), "LL")
            self.try_(AcceptHandover(talked="face to face"), taker)

    @rule(seconds=st.sampled_from([1.0, 600.0, 4000.0, 50_000.0, 200_000.0]))
    def time_passes(self, seconds: float) -> None:
        self.bench.clock.forward(seconds)

    @rule(by=st.sampled_from([-3600.0, 3600.0, 3.15e8, -3.15e8]), restart=st.booleans())
    def clock_is_moved(self, by: float, restart: bool) -> None:
        self.bench.clock.step(by)
        if restart:
            self.bench.clock.restart()

    @rule(boot=st.sampled_from(["other-1", "other-2", "4a0c4b0e"]), up=st.sampled_from([60.0, 1e7]))
    def goes_to_another_machine(self, boot: str, up: float) -> None:
        self.bench.clock.other_machine(boot, up, away=600.0)

    # --- and one who does not

    @rule(command=ANY, by=PEOPLE)
    def anything(self, command: Command, by: str) -> None:
        self.try_(command, by)

    @invariant()
    def nothing_is_lost(self) -> None:
        if not hasattr(self, "bench") or len(self.bench.state.entries) == self.folded:
            return
        self.compare()

    def compare(self) -> None:
        batch = self.bench.state
        self.folded = len(batch.entries)
        conserved(batch)
        assert batch == fold(batch.entries, checklist=batch.checklist), "the state is not the fold of the record"
        for piece, place in batch.places.items():
            if place.where == "finished":
                went_through(batch, piece)

    def teardown(self) -> None:
        """Everything that can be read of the batch can be read, whatever happened to it; no refusal changed it."""
        if not hasattr(self, "bench"):
            return
        self.compare()
        batch, now = self.bench.state, self.bench.clock()
        for entry in batch.entries:
            assert describe(batch, entry)
        for run in batch.list_open_runs():
            lines = build_walk(batch, run, now, "AA").lines
            current = [line for line in lines if line.state in ("now", "waits", "blocked", "reopened")]
            assert len(current) == 1
        for run in batch.runs.values():
            if run.count is not None and run.released is not None:
                assert not unsaid(batch, run), f"run {run.number} went on without {unsaid(batch, run)}"
        build_handover_page(batch, now)
        list_due_tasks([batch], now)
        for piece in batch.places:
            trace(batch, piece)


LONG = int(os.environ.get("FLOOR_LONG", "0"))
RandomBatch.TestCase.settings = settings(
    max_examples=30 * max(LONG, 1),
    stateful_step_count=100 if LONG else 50,
    deadline=None,
    suppress_health_check=list(HealthCheck),
    phases=[phase for phase in Phase if not LONG or phase is not Phase.shrink],
    print_blob=True,
)
TestRandomBatch = RandomBatch.TestCase


def probed_itself(batch: Batch, run: Run) -> bool:
    """By the entries alone: its own carrier was probed in its own offset, and nothing has undone it since."""
    load = batch.loads[run.load]
    offset = ["G54", "G55", "G56"][load.carrier_number - 1]
    good = False
    for entry in batch.entries:
        body = entry.body
        if entry.seq in batch.struck or entry.seq > batch.seq:
            continue
        if entry.kind == "proved" and body["gate"] == "probed" and batch.runs[body["run"]].load == load.number:
            good = body["values"].get("offset", "").upper() == offset
        elif entry.kind == "proved" and body["gate"] == "probed" and body["values"].get("offset", "").upper() == offset:
            good = False
        elif entry.kind == "disturbed" and body["station"] == run.station:
            lifted = body["what"] == "lifted" and body.get("load") == load.number
            rezeroed = body["what"] == "rezeroed" and body.get("offset", offset).upper() == offset
            good = good and not lifted and not rezeroed and body["what"] not in ("refixtured", "power lost")
        elif entry.kind == "setup_taken_down" and body["station"] == run.station:
            good = False
    return good


def shorter(machine: type[RandomBatch], examples: int = 15) -> type[RuleBasedStateMachine.TestCase]:
    """A narrower trial, with fewer and shorter games."""
    machine.TestCase.settings = settings(
        RandomBatch.TestCase.settings, max_examples=examples * max(LONG, 1), stateful_step_count=100 if LONG else 40
    )
    return machine.TestCase


class RandomPallets(RandomBatch):
    """Two pallets on one bed, each with its own offset: no probe of another carrier ever opens a gate."""

    @initialize(start=st.integers(5, 12), chance=CHANCE, ahead=st.integers(0, 6))
    def opened(self, start: int, chance: Random, ahead: int) -> None:
        self.bench = open_bench(two_up, start=start)
        for _ in range(2):
            self.try_(FormLoad(10), "AA")
        self.push_on(chance, "AA", ahead)

    @rule(offset=st.sampled_from(["G54", "G55", "g56", "G59", ""]), x=st.sampled_from([0, 200, 400, 7]), by=PEOPLE)
    def probe(self, offset: str, x: int, by: str) -> None:
        for run in self.bench.state.list_open_runs():
            line = build_walk(self.bench.state, run, self.bench.clock(), by).current
            if line is not None and line.key.startswith("probed"):
                self.try_(Prove(run.number, line.key, {"offset": offset, "X": x, "Z": 0}), by)

    @rule(what=st.sampled_from([*DISTURBANCES]), offset=st.sampled_from(["", "G54", "G55", "G59"]), load=SMALL)
    def disturb(self, what: str, offset: str, load: int) -> None:
        self.try_(Disturb("mill", what, load, 1, offset=offset), "AA")

    def try_(self, command: Command, by: str) -> None:
        before = self.bench.state
        super().try_(command, by)
        number = command.run if isinstance(command, StartCycle) else 0
        if self.bench.state is before or number not in before.runs or before.runs[number].station != "mill":
            return
        run = before.runs[number]
        waived = any(one.run == number and one.line.startswith("probed") for one in before.waivers.values())
        assert waived or probed_itself(before, run), f"run {number} was started by a probe that is not its own"


TestRandomPallets = shorter(RandomPallets)


class RandomCycles(RandomPallets):
    """Two pallets in one cycle: no load is cut with its own gates unmet, and the cycle is one for all it takes."""

    @initialize(start=st.integers(5, 12), chance=CHANCE, ahead=st.integers(0, 6))
    def opened(self, start: int, chance: Random, ahead: int) -> None:
        self.bench = open_bench(one_cycle, start=start)
        for _ in range(2):
            self.try_(FormLoad(10), "AA")
            self.try_(BeginRun(len(self.bench.state.loads), anyway=True), "AA")
        self.push_on(chance, "AA", ahead)

    @rule(chance=CHANCE, by=PEOPLE)
    def bring_both_on(self, chance: Random, by: str) -> None:
        for run in self.bench.state.list_open_runs():
            if run.cycle:
                self.work(chance, run.load, by, lines=12)

    @rule(why=st.sampled_from([*STOPS]), pick=st.integers(0, 1))
    def stop_one(self, why: str, pick: int) -> None:
        running = [run for run in self.bench.state.list_open_runs() if run.running and run.cycle]
        if running:
            self.try_(StopCycle(running[pick % len(running)].number, why, None, 1), "AA")

    def try_(self, command: Command, by: str) -> None:
        batch, now = self.bench.state, self.bench.clock()
        ready: dict[int, bool] = {}
        if isinstance(command, StartCycle) and command.run in batch.runs:
            for run in find_runs_in_cycle(batch, batch.runs[command.run]):
                ready[run.number] = gates_met(batch, run, now, ("arrive", "setup", "load"))
        before = len(batch.entries)
        super().try_(command, by)
        for entry in self.bench.state.entries[before:]:
            if entry.kind == "cycle_started" and not entry.body.get("resumed"):
                assert set(read_run_numbers(entry.body)) == set(ready)
                assert all(ready.values()), f"a load with unmet gates was cut along: {ready}"

    @invariant()
    def a_cycle_is_one_for_all_it_takes(self) -> None:
        if not hasattr(self, "bench"):
            return
        batch = self.bench.state
        for run in batch.list_open_runs():
            together = [run, *find_open_runs_in_cycle(batch, run)]
            assert len(together) <= batch.find_operation(run).loads_per_cycle
            if run.started is not None:
                assert len({(one.started, one.ended, one.running, one.stood) for one in together}) == 1


TestRandomCycles = shorter(RandomCycles)


class RandomMills(RandomBatch):
    """Two mills for one operation: what was proved at the one never opens a gate at the other."""

    @initialize(start=st.integers(5, 12), chance=CHANCE, ahead=st.integers(0, 6))
    def opened(self, start: int, chance: Random, ahead: int) -> None:
        self.bench = open_bench(two_mills, start=start)
        for load, station in ((1, "mill"), (2, "mill 2")):
            self.try_(FormLoad(10), "AA")
            self.try_(BeginRun(load, anyway=True, station=station), "AA")
        self.push_on(chance, "AA", ahead)

    @rule(load=SMALL, station=st.sampled_from(["mill", "mill 2", "oven", ""]), by=PEOPLE)
    def begin_there(self, load: int, station: str, by: str) -> None:
        self.try_(BeginRun(load, "to be done tonight", True, station), by)

    @rule(what=st.sampled_from([*DISTURBANCES]), station=st.sampled_from(["mill", "mill 2"]), load=SMALL)
    def disturb(self, what: str, station: str, load: int) -> None:
        self.try_(Disturb(station, what, load, 1), "AA")

    def try_(self, command: Command, by: str) -> None:
        batch, before = self.bench.state, len(self.bench.state.entries)
        run = batch.runs.get(command.run) if isinstance(command, StartCycle) else None
        cold = run is not None and run.started is None
        super().try_(command, by)
        if run is None or not cold or len(self.bench.state.entries) == before or run.op != 10:
            return
        waived = {one.line for one in batch.waivers.values() if one.run == run.number}
        for gate, line in (("program loaded", "program loaded 1"), ("tool loaded", "tool loaded 1")):
            here = [
                entry for entry in batch.entries[:before]
                if entry.kind == "proved" and entry.body["gate"] == gate and entry.seq not in batch.struck
                and batch.runs[entry.body["run"]].station == run.station
            ]  # fmt: skip
            assert here or line in waived, f"run {run.number} was cut at {run.station} with no {gate} proved there"


TestRandomMills = shorter(RandomMills, examples=10)


class RandomTurned(RandomBatch):
    """Pieces turned over within the cycle: it goes on only with what proves that they sit, and ends only gone on."""

    @initialize(start=st.integers(1, 9), chance=CHANCE, ahead=st.integers(0, 6))
    def opened(self, start: int, chance: Random, ahead: int) -> None:
        self.bench = open_bench(turned, start=start)
        self.push_on(chance, "AA", ahead)

    @rule(command=st.builds(DoStep, SMALL, st.sampled_from(["turn", "second side"])), by=PEOPLE)
    def turn(self, command: Command, by: str) -> None:
        self.try_(command, by)

    def try_(self, command: Command, by: str) -> None:
        batch, before = self.bench.state, len(self.bench.state.entries)
        run = batch.runs.get(command.run) if isinstance(command, DoStep | EndCycle) else None
        stood = run is not None and run.stands is not None
        waived = run is not None and any(
            one.run == run.number and one.line == "confirmed 2" for one in batch.waivers.values()
        )
        super().try_(command, by)
        if run is None or len(self.bench.state.entries) == before:
            return
        if isinstance(command, EndCycle) and run.op == 10 and not run.late:
            assert not stood, "it ended while it stood"
        if isinstance(command, DoStep) and command.line == "second side":
            seated = [
                entry.seq
                for entry in batch.entries[:before]
                if entry.kind == "proved"
                and entry.seq not in batch.struck
                and (entry.body["run"], entry.body["line"]) == (run.number, "confirmed 2")
            ]
            assert waived or seated, "the second side was cut and nothing proves that the pieces sat"

    @invariant()
    def what_stands_is_under_way(self) -> None:
        if hasattr(self, "bench"):
            for run in self.bench.state.list_open_runs():
                assert run.stands is None or run.started is not None
                now = self.bench.clock()
                assert run.ran(now.at) >= -1 or list_clock_jumps(self.bench.state, now), "a clock put back is noticed"


TestRandomTurned = shorter(RandomTurned, examples=10)


class RandomReworks(RandomBatch):
    """Reworks that leave operations out or have some of their own: no piece passes one too many or too few."""

    @initialize(start=st.integers(1, 6), chance=CHANCE, ahead=st.integers(10, 60))
    def opened(self, start: int, chance: Random, ahead: int) -> None:
        self.bench = open_bench(by_hand, start=start)
        self.push_on(chance, "AA", ahead)

    @precondition(lambda self: self.bench.state.held())
    @rule(rework=st.sampled_from(["by hand", "anew", "regroove", "touch up"]))
    def send_back(self, rework: str) -> None:
        for piece in self.bench.state.held():
            self.try_(Dispose((piece,), "rework", "looked at it", rework), "LL")

    @rule(chance=CHANCE)
    def get_on(self, chance: Random) -> None:
        self.push_on(chance, "AA", 12)

    def counts(self, chance: Random, run: Run) -> CountRun:
        """Half of the counts send pieces back, each way alike."""
        back = [one.code for one in self.bench.state.operation(run.op).reasons if one.to == "rework"]
        if not back or chance.random() < 0.5:
            return super().counts(chance, run)
        bad = chance.sample(run.pieces, chance.randint(1, len(run.pieces))) if run.pieces else []
        load = self.bench.state.loads[run.load]
        places = tuple(filter(None, (self.bench.state.format_slot(load, piece) for piece in bad)))
        marks = (MarkedPieces(chance.choice(back), places, len(bad)),) if bad else ()
        return CountRun(run.number, len(run.pieces) - len(bad), marks)

    @invariant()
    def no_operation_too_many_or_too_few(self) -> None:
        if hasattr(self, "bench"):
            for piece, place in self.bench.state.places.items():
                if place.where == "finished":
                    went_its_way(self.bench.state, piece)


TestRandomReworks = shorter(RandomReworks, examples=10)
