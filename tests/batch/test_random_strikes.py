"""Two batches in one shop, and people who enter, strike out, and strike out strikes: no proof is lost unseen.

Everything is judged twice, the second time by an oracle (`strike_oracle`) that knows nothing about
`floor.batch.corrections.unproved_work`. `python -m tests.batch.test_random_strikes FIRST COUNT` plays so many games.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from functools import cache
from pathlib import Path
from random import Random
from typing import Any

import pytest

from floor.batch.command import Command, OtherBatches, Refused
from floor.batch.corrections.commands import Note, SettleUnproved, StrikeOut
from floor.batch.corrections.unproved_work import find_open_unproved_work, find_unproved_pieces
from floor.batch.counting.commands import CountRun, Dispose, HoldBack, MarkedPieces
from floor.batch.counting.decide_surplus import BringBackSurplus, TakeOutSurplus
from floor.batch.counting.surplus import list_pieces_out_of_work
from floor.batch.fold import advance, fold
from floor.batch.gates.commands import Prove, Waive
from floor.batch.gates.correct_lot import CorrectLot
from floor.batch.gates.decide_out_of_limits import DecideBefore
from floor.batch.gates.open_lot import OpenLot, find_lot_gate, list_uncounted_runs
from floor.batch.lifecycle.commands import CloseBatch, FormLoad, SetPiecesAside, open_points
from floor.batch.lifecycle.enter_half_done import EnterLate
from floor.batch.lifecycle.half_done import PlacedPieces
from floor.batch.open_items import Unproved
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.batch.stations.commands import Disturb
from floor.batch.walk.commands import BeginRun, confirm_line
from floor.batch.walk.put_back import PutBack
from floor.batch.walk.shared_cycles import find_open_runs_in_cycle
from floor.batch.walk.station_walk import build_walk
from floor.checklist.loading import read_checklist
from floor.checklist.model import Checklist
from floor.entry import Entry
from floor.shop.effects_on_other_batches import draft_effects, find_effects
from tests.batch.factory import MORNING, StepClock, conserved, decide_out, entries_of, measure_again, open_bench
from tests.batch.strike_guards import GUARDS, Guard
from tests.batch.strike_oracle import VOIDS, Oracle

MOVES = 60
AWAY = ("hold", "scrap", "stopped")


TWO_UP = (
    (
        'offsets = ["G54"]\n',
        'offsets = ["G54", "G55", "G56"]\nruns_at_once = 2\ncarrier_offsets = { pallet = ["G54", "G55", "G56"] }\n',
    ),
    ('offset = "G54", axes', "axes"),
    ("columns = 2\ncount = 6", "columns = 2\ncount = 3"),
)
"""Edits of the part: two pallets on the bed of the mill at once, each with a work offset of its own."""

ONE_CYCLE = (*TWO_UP, ('carrier = "pallet"\ntime', 'carrier = "pallet"\nloads_per_cycle = 2\ntime'))
"""The same, and one cycle takes both."""


@cache
def spacer(edits: tuple[tuple[str, str], ...] = ()) -> Checklist:
    text = (Path(__file__).parent / "strikes.toml").read_text()
    for was, now in edits:
        assert was in text, was
        text = text.replace(was, now)
    loaded = read_checklist(text, "strikes.toml")
    assert loaded.checklist is not None, "\n".join(map(str, loaded.problems))
    return loaded.checklist


class Game:
    """Two batches, an operator who errs and cheats, and a lead who decides now and then."""

    corrects = False
    """Whether lots are corrected too; the games that find each guard are without."""

    def __init__(self, seed: int) -> None:
        self.chance = Random(seed)
        self.clock = StepClock(MORNING)
        self.record: list[tuple[int, Entry]] = []
        self.shown: dict[tuple[int, int], frozenset[tuple[int, str]]] = {}
        """(batch, entry with which a lead decided) → what was shown to him."""
        self.benches = []
        self.part = spacer(self.chance.choices([(), TWO_UP, ONE_CYCLE], [6, 2, 2])[0])
        for which in (0, 1):
            start = self.chance.choice([2, 4]) if self.part.ops[10].loads_per_cycle == 1 else 4
            bench = open_bench(lambda: self.part, start, 1)
            first = bench.state.entries[0]
            bench.clock = self.clock
            self.record += [(which, entry) for entry in bench.state.entries]
            if which:  # not to be taken for the other one
                bench.state.entries[0] = bench.state.by_kind[first.kind][0] = replace(first, hash="f" * 64)
            self.benches.append(bench)
        if self.chance.random() < 0.3:
            self.enter_late()

    def do(self, which: int, command: Command, by: str) -> bool:
        bench, other = self.benches[which], self.benches[1 - which]
        there = other.state
        bench.elsewhere = OtherBatches(
            {
                station.id: tuple(f"run {run.number}" for run in there.list_open_runs() if run.station == station.id)
                for station in there.checklist.stations
            },
            {(load.carrier, load.carrier_number): "the other" for load in there.list_live_loads()},
        )
        context = bench.context("", by)
        held = set(bench.state.held())
        asked = {run for one in find_open_unproved_work(bench.state) for run in one.runs - one.held}
        try:
            drafts = command.decide(bench.state, context)
            theirs = draft_effects(there, find_effects(bench.state, command, drafts, {}), context)
        except Refused:
            return False
        self._write(1 - which, theirs, by)
        self._write(which, drafts, by)
        off = {piece for piece in held if bench.state.places[piece].where not in ("hold", "scrap")}
        assert not off or by == "LL", f"{by} took pieces {off} off hold with {command}"
        back = {run for run in asked if run not in bench.state.runs or bench.state.runs[run].released is None}
        assert not back or by == "LL", f"{by} took back the release of {back}, which were in question"
        return True

    def _write(self, which: int, drafts: list[Any], by: str) -> None:
        bench = self.benches[which]
        entries = entries_of(drafts, self.clock(), by, bench.state.entries)
        bench.state = advance(bench.state, entries)
        self.record += [(which, entry) for entry in entries]

    # --- moves

    def play(self, moves: int = MOVES) -> None:
        chance = self.chance
        for _ in range(moves):
            which = chance.randrange(2)
            batch = self.benches[which].state
            moves = {
                self.work: 10,
                self.strike: 6,
                self.disturb: 1.5,
                self.open_lot: 1,
                self.aside: 0.7,
                self.decide: 1.5,
                self.put_back: 0.4,
                self.surplus: 0.6,
                self.release_anew: 0.7,
            }
            if self.corrects:
                moves[self.correct_lot] = 3
            move = chance.choices([*moves], [*moves.values()])[0]
            if batch.closed is None:
                struck = self.benches[0].state.struck, self.benches[1].state.struck
                move(which)
                if struck != (self.benches[0].state.struck, self.benches[1].state.struck) or move is not self.work:
                    self.look()
        self.look()
        for bench in self.benches:
            folded = fold(bench.state.entries, checklist=bench.state.checklist)
            assert bench.state == folded, "the state is not the fold of the record"

    def work(self, which: int) -> None:
        """Form a load, or work one on for some lines; values are false at times, and at times a lead waives them."""
        batch, chance = self.benches[which].state, self.chance
        work: list[Any] = [*batch.list_waiting_pools(), *(load.number for load in batch.list_live_loads())]
        if not work:
            self.do(which, CloseBatch("all of it"), "LL")
            return
        chosen = chance.choice(work)
        if isinstance(chosen, tuple):
            self.do(which, FormLoad(chosen[0], chosen[1]), "AA")
            return
        if batch.loads[chosen].run is None:
            self.do(which, BeginRun(chosen), "AA")
            if self.part.ops[10].loads_per_cycle > 1 and chance.random() < 0.7:
                self._beside(which, chosen)
        self._go_on(which, chosen, chance.choice([3, 30, 30]))

    def _beside(self, which: int, load: int) -> None:
        """Another load comes into the cycle before it is started."""
        state = self.benches[which].state
        op = state.loads[load].at
        if not [one for one in state.list_live_loads() if one.run is None and one.at == op]:
            self.do(which, FormLoad(op or 0), "AA")
        for one in self.benches[which].state.list_live_loads():
            if one.run is None and one.at == op:
                self.do(which, BeginRun(one.number), "AA")

    def _go_on(self, which: int, load: int, lines: int = 30, until: str = "") -> None:
        for _ in range(lines):
            state = self.benches[which].state
            number = state.loads[load].run
            if number is None:
                return
            line = build_walk(state, state.runs[number], self.clock(), "AA").current
            if (line is not None and line.key == until) or not self._line(which, number):
                return

    def _line(self, which: int, number: int) -> bool:
        bench, chance = self.benches[which], self.chance
        run = bench.state.runs[number]
        line = build_walk(bench.state, run, self.clock(), "AA").current
        assert line is not None
        if line.verdict is not None and line.verdict.status == "wait" and line.verdict.when is not None:
            self.clock.until(line.verdict.when)
            return True
        self.clock.forward(20)
        if line.verdict is not None and line.verdict.status == "blocked":
            return self.do(which, Waive(number, line.key, "go on"), "LL")
        if line.kind == "count":
            reasons = bench.state.operation(run.op).reasons
            left = run.undecided
            marks = (MarkedPieces(chance.choice(reasons).code, count=1),) if left and chance.random() < 0.15 else ()
            if self.part.carrier(bench.state.loads[run.load].carrier).positions and marks:
                names = [bench.state.format_slot(bench.state.loads[run.load], piece) for piece in left]
                marks = (MarkedPieces(marks[0].reason, (chance.choice(names),)),)
            return self.do(which, CountRun(number, len(left) - len(marks), marks), "AA")
        if line.verdict is not None and line.verdict.decide:
            return self._out(which, run, line.verdict.decide)
        if line.kind in ("start", "end"):
            for other in find_open_runs_in_cycle(bench.state, run):
                self._go_on(which, other.load, until=line.key)
        command = confirm_line(run, line)
        if command is not None:
            return self.do(which, command, "AA")
        right = bench.hand("AA", "BB")._proof(run, line)
        if chance.random() < 0.25 and "value" in right.values or "X" in right.values:
            name = "value" if "value" in right.values else "X"
            if chance.random() < 0.3:
                self.do(which, Prove(number, line.key, {**right.values, name: 99}), "AA")
                if chance.random() < 0.3:
                    return self.do(which, Waive(number, line.key, "near enough"), "LL")
        if "lot" in right.values and chance.random() < 0.3:
            into = (run.load,) if chance.random() < 0.5 else ()
            return self.do(which, OpenLot("bags", f"K4-{bench.state.seq}", into=into), "AA")
        if "offset" in right.values and chance.random() < 0.2:
            self.do(which, Prove(number, line.key, {**right.values, "offset": chance.choice(["G54", "G55"])}), "AA")
        if "lot" in right.values:
            right = Prove(number, line.key, {"lot": chance.choice(["K1", "K2"])})
        if not self.do(which, right, "AA"):
            return False
        if "lot" in right.values and chance.random() < 0.3:
            self.do(which, Prove(number, line.key, {"lot": "K3"}), "AA")
        return True

    def _out(self, which: int, run: Run, seq: int) -> bool:
        """A piece was out of limits: decided on, measured again, and so are those made before it."""
        chance, one = self.chance, self.benches[which].state.out[seq]
        if not one.left:
            hold = chance.choice([0, one.before])
            why = "made with another tool" if hold < one.before else ""
            return self.do(which, DecideBefore(seq, hold, why), "LL")
        if chance.random() < 0.4:
            return self.do(
                which, measure_again(self.benches[which].state, seq, 10, "dirty gauge"), "LL" if one.again else "AA"
            )
        reason = chance.choice(["", "bent", "pale"])
        return self.do(which, decide_out(self.benches[which].state, seq, reason, count=1), "AA")

    def enter_late(self) -> None:
        """The second batch is half done when it comes."""
        chance, now = self.chance, self.clock().at
        started, since = self.benches[1].state.started, now - timedelta(hours=chance.choice([1, 3]))
        cooling = (("cooling", since),)
        rows = [
            PlacedPieces("waiting", started, 20),
            PlacedPieces("waiting", started, 30, clocks=cooling),
            PlacedPieces("load", started, 20, 1, stands="over", began=since, ended=since),
            PlacedPieces("load", started, 20, 1, stands="runs", began=since),
            PlacedPieces("load", started, 30, 1, clocks=cooling),
        ]
        self.do(1, EnterLate((chance.choice(rows),), now), "LL")
        assert self.benches[1].state.late is not None

    def strike(self, which: int) -> None:
        """One entry or several, often of the last; strikes too, and what was told."""
        chance = self.chance
        likely = (
            "proved",
            "waived",
            "struck_out",
            "disturbed",
            "step_done",
            "setup_taken_down",
            "lot_opened",
            "released",
            "counted",
            "cycle_ended",
            "cycle_started",
            "set_aside",
            "out_decided",
            "measured_again",
            "before_decided",
            "run_put_back",
            "surplus_taken_out",
            "surplus_brought_back",
        )
        for _ in range(chance.choice([1, 1, 2, 3])):
            batch = self.benches[which].state
            live = [entry for entry in batch.entries if entry.seq not in batch.struck]
            wanted = [entry for entry in live if entry.kind in likely[: chance.choice([5, 7, 18])]]
            if wanted:
                entry = chance.choice(wanted[-chance.choice([3, 12, 200]) :])
                self.do(which, StrikeOut(entry.seq, "entered wrong"), chance.choice([entry.by, "AA", "AA", "LL"]))

    def disturb(self, which: int) -> None:
        batch = self.benches[which].state
        what = self.chance.choice([*VOIDS])
        loads = [load.number for load in batch.list_live_loads()]
        self.do(
            which,
            Disturb(
                self.chance.choice(["mill", "mill", "oven"]),
                what,
                self.chance.choice(loads) if loads and what == "lifted" else None,
                1 if what == "tool changed" else None,
            ),
            "AA",
        )
        self.do(which, Note("looks odd"), "AA")

    def open_lot(self, which: int) -> None:
        """Another lot, into a load under way or not, which goes on with what it has; it may be struck out after."""
        chance = self.chance
        for load in [load for load in self.benches[which].state.list_live_loads() if load.at == 30]:
            if load.run is None:
                self.do(which, BeginRun(load.number), "AA")
            self._go_on(which, load.number, until=chance.choice(["measured 1", "load step 1"]))
        loads = [run.load for run in list_uncounted_runs(self.benches[which].state, "bags")]
        into = tuple(load for load in loads if chance.random() < 0.5)
        if not self.do(which, OpenLot("bags", f"K5-{self.benches[which].state.seq}", into=into), "AA"):
            return
        opened = self.benches[which].state.seq
        for load in loads if chance.random() < 0.7 else ():
            self._go_on(which, load)
        if chance.random() < 0.4:
            self.do(which, StrikeOut(opened, "entered wrong"), "AA")

    def correct_lot(self, which: int) -> None:
        """A lot is corrected, also one that was struck out, which comes back by that."""
        batch, chance = self.benches[which].state, self.chance
        entries = [entry.seq for entry in batch.entries if find_lot_gate(batch, entry) is not None]
        if entries:
            lot = chance.choice(["K1", "K2", f"K6-{batch.seq}"])
            self.do(which, CorrectLot(chance.choice(entries), lot, "", "typed wrong"), chance.choice(["AA", "LL"]))

    def release_anew(self, which: int) -> None:
        """A lead takes back a release that is in question, decided or not; the load goes on to it once more."""
        chance, bench = self.chance, self.benches[which]
        for entry in [entry for entry in bench.state.entries if entry.kind == "released"][-3:]:
            run, load = entry.body["run"], entry.body["load"]
            if bench.state.loads[load].run is not None or bench.state.loads[load].dissolved is not None:
                continue
            self._strike_proof(which, run, 0)
            self.look()
            for one in find_open_unproved_work(bench.state) if chance.random() < 0.6 else ():
                self._settle(which, one)
            before = bench.state.seq
            if self.do(which, StrikeOut(entry.seq, "not released yet"), "LL"):
                self._go_on(which, load)
                self.look()
                self._strike_proof(which, run, before)

    def _strike_proof(self, which: int, run: int, after: int) -> None:
        """Something that a run proved after an entry."""
        entries = self.benches[which].state.entries[after:]
        proved = [one.seq for one in entries if one.kind == "proved" and one.body["run"] == run]
        if proved:
            self.do(which, StrikeOut(self.chance.choice(proved), "entered wrong"), "AA")

    def aside(self, which: int) -> None:
        loads = self.benches[which].state.list_live_loads()
        if loads:
            load = self.chance.choice(loads).number
            self.do(which, SetPiecesAside(self.chance.choice(["scrap", "hold"]), "fell down", load, count=1), "AA")

    def put_back(self, which: int) -> None:
        runs = self.benches[which].state.list_open_runs()
        if runs:
            self.do(which, PutBack(self.chance.choice(runs).number), "AA")

    def surplus(self, which: int) -> None:
        """Taken out where the order is filled, and taken back."""
        chance, out = self.chance, list_pieces_out_of_work(self.benches[which].state)
        if out and chance.random() < 0.5:
            where, op, rework, _ = chance.choice(out)
            self.do(which, BringBackSurplus(op, "wanted", where, rework), chance.choice(["AA", "LL"]))  # type: ignore[arg-type]
        else:
            self.do(which, TakeOutSurplus(chance.choice(["spare", "stopped"]), "too many"), chance.choice(["AA", "LL"]))

    def decide(self, which: int) -> None:
        """A lead holds back, settles what he is shown, or decides on held pieces."""
        bench, chance = self.benches[which], self.chance
        for one in find_open_unproved_work(bench.state)[:1]:
            if chance.random() < 0.5:
                self._settle(which, one)
            else:
                self.do(which, HoldBack(min(one.runs - one.held), "not proved"), "LL")
        for piece in bench.state.held():
            self.do(which, Dispose((piece,), chance.choice(["use as is", "scrap"]), "looked", "", True), "LL")

    def _settle(self, which: int, one: Unproved) -> None:
        at = self.benches[which].state.seq + 1
        if self.do(which, SettleUnproved(one.strike, "use as is", "measured all of them"), "LL"):
            self.shown[which, at] = one.pairs

    # --- what has to hold

    def look(self) -> None:
        for which, bench in enumerate(self.benches):
            batch = bench.state
            conserved(batch)
            if batch.closed is None:
                self._nothing_lost_unseen(which, batch)
        self._told_alike()

    def _nothing_lost_unseen(self, which: int, batch: Batch) -> None:
        replay, lost = Oracle(self.record, self.part).lost(which)
        questions = find_open_unproved_work(batch)
        for (run, line), at in lost.items():
            if self._decided(which, batch, run, line, at):
                continue
            doubtful = {piece for piece in replay.doubtful[run] if batch.places[piece].where not in AWAY}
            asked = [one for one in questions if run in one.runs - one.held and (run, line) in one.pairs]
            seen = set().union(*(find_unproved_pieces(batch, one) for one in asked))
            out = [one.among for one in batch.list_open_out_of_limits() if (one.run, one.line) == (run, line)]
            seen |= set().union(*out)  # its row says that it is to be decided
            assert doubtful <= seen, f"run {run} has lost {line}, and nobody is asked about {doubtful - seen}"
            assert not doubtful or {"unproved", "out"} & {point.kind for point in open_points(batch)}
        unmet = {(run, line) for run, line, _ in replay.unmet} | {
            pair
            for one in questions
            for pair in one.pairs
            if pair[1].startswith(("cured", "setup step")) or replay.runs[pair[0]].late  # the rules may ask for more
        }
        idle = [one.pairs for one in questions if not one.pairs & unmet]
        assert not idle, f"asked about what nothing was lost of: {idle}"

    def _decided(self, which: int, batch: Batch, run: int, line: str, at: int) -> bool:
        """Whether a lead decided on it since it was lost, and the decision stands."""
        later = [entry for one, entry in self.record[at:] if one == which and entry.seq not in batch.struck]
        return any(
            (entry.kind == "unproved_settled" and (run, line) in self.shown.get((which, entry.seq), ()))
            or (entry.kind == "set_aside" and entry.body.get("of_run") == run)
            for entry in later
        )

    def _told_alike(self) -> None:
        """What one batch told the other stands in both, or in neither; no station is set up for both.

        A closed batch is told nothing more: its record stays as it was. That a probing set a zero anew stands where
        the probing is struck out: it may have, so that the other one probes again.
        """
        for which, bench in enumerate(self.benches):
            mine, theirs = bench.state, self.benches[1 - which].state
            for entry in theirs.entries if theirs.closed is None else ():
                hash_, _, seq = entry.body.get("told", "").partition(" ")
                if hash_ == mine.entries[0].hash[:16]:
                    if mine.entries[int(seq) - 1].kind == "proved":
                        assert entry.seq not in theirs.struck
                        continue
                    assert (int(seq) in mine.struck) == (entry.seq in theirs.struck), f"entry {seq} stands in one only"
        standing = [bench.state.find_setup("mill") for bench in self.benches if bench.state.closed is None]
        assert None in standing or len(standing) < 2, "the mill is set up for both batches"


def play(seed: int) -> None:
    Game(seed).play()


@pytest.mark.parametrize("seed", range(8))
def test_no_proof_is_lost_unseen(seed: int) -> None:
    play(seed)


def test_no_proof_is_lost_unseen_where_lots_are_corrected(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Game, "corrects", True)
    play(3)


@pytest.mark.parametrize("guard", GUARDS, ids=lambda guard: guard.name)
def test_the_games_find_a_guard_that_is_taken_out(guard: Guard) -> None:
    with guard.taken_out():
        assert next(games(range(guard.game, guard.game + 20)), None), "no game finds it: is it needed no longer?"


def games(seeds: range) -> Iterator[tuple[int, str]]:
    """Those that go wrong, and what they say."""
    for seed in seeds:
        try:
            play(seed)
        except AssertionError as error:
            yield seed, str(error).partition("\n")[0]


if __name__ == "__main__":
    first, count = int(sys.argv[1]), int(sys.argv[2])
    failed = 0
    for seed, said in games(range(first, first + count)):
        failed += 1
        print(f"seed {seed}: {said}")  # noqa: T201 - a trial run by hand
    print(f"{count} games, {failed} failed")  # noqa: T201
