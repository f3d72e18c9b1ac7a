"""Pieces moved and operations done before their turn, at random: nothing is lost, left out or done twice."""

from __future__ import annotations

import copy
from collections import Counter
from random import Random

from hypothesis import strategies as st
from hypothesis.stateful import initialize, rule

from floor.batch.command import Command
from floor.batch.moving.commands import MovePieces
from floor.batch.proof import OffsetKey
from floor.batch.search.trace import trace
from floor.batch.state import Batch
from floor.batch.walk.any_order import list_later_ops
from floor.batch.walk.commands import BeginRun
from tests.batch.factory import by_hand, open_bench, part, went_its_way
from tests.batch.test_out_of_list import line_of_ops
from tests.batch.test_random_batch import CHANCE, PEOPLE, RandomBatch, shorter


def nothing_done_twice(batch: Batch) -> None:
    """A piece that nobody sent back or set aside was counted once at each operation it passed."""
    live = [entry for entry in batch.entries if entry.seq not in batch.struck]
    odd = {piece for entry in live if entry.kind in ("disposed", "set_aside") for piece in entry.body["pieces"]}
    odd |= {
        piece for entry in live if entry.kind == "counted" for mark in entry.body["marks"] for piece in mark["pieces"]
    }
    counted = Counter((piece, run.op) for run in batch.runs.values() if run.count is not None for piece in run.pieces)
    assert [key for key, many in counted.items() if many > 1 and key[0] not in odd] == []


class RandomMoves(RandomBatch):
    """Nothing but forming, moving, walking and counting: what was true of each piece before a move is true after it."""

    ahead: set[int]
    """The pieces that were let past an operation at some time."""

    hand_over = clock_is_moved = goes_to_another_machine = surplus = stop = waive = out_of_limits = None  # type: ignore

    @initialize(start=st.integers(5, 12), chance=CHANCE, ahead=st.integers(0, 12))
    def opened(self, start: int, chance: Random, ahead: int) -> None:
        self.bench, self.ahead = open_bench(chance.choice([part, by_hand, line_of_ops]), start=start), set()
        self.push_on(chance, "AA", ahead)

    @rule(chance=CHANCE, by=PEOPLE, how=st.sampled_from(["split", "join", "turn", "fill"]))
    def move_well(self, chance: Random, by: str, how: str) -> None:
        """What somebody who knows what they do asks for."""
        batch = self.bench.state
        loads = [load for load in batch.list_live_loads() if load.run is None and batch.present(load)]
        for load in chance.sample(loads, len(loads)):
            kind, there = batch.find_carrier(load.number), list(batch.present(load))
            used = {one.carrier_number for one in batch.list_live_loads() if one.carrier == kind.id}
            free = [number for number in range(1, kind.count + 1) if number not in used]
            others = [one for one in loads if one is not load and (one.carrier, one.at) == (load.carrier, load.at)]
            room = {one.number: kind.capacity - len(batch.present(one)) - len(batch.sitting(one)) for one in loads}
            some = tuple(chance.sample(there, chance.randint(1, len(there))))
            loose = tuple(batch.waiting(load.at or 0, load.rework))[: room[load.number]]
            if how == "split" and free:
                self.try_(MovePieces(load.number, some, free[0]), by)
            elif how == "join" and others:
                onto = others[0]
                self.try_(MovePieces(load.number, tuple(there[: room[onto.number]]), onto.carrier_number), by)
            elif how == "turn" and kind.positions:
                taken = {batch.format_slot(load, piece) for piece in batch.sitting(load)}
                names = [name for name in kind.positions if name not in taken]
                places = tuple(chance.sample(names, len(there)))
                self.try_(MovePieces(load.number, tuple(there), load.carrier_number, places), by)
            elif how == "fill" and loose:
                pool = {"op": load.at, "rework": load.rework}
                self.try_(MovePieces(None, loose, load.carrier_number, **pool), by)  # type: ignore[arg-type]
            else:
                continue
            return

    @rule(chance=CHANCE, by=PEOPLE, lines=st.sampled_from([1, 8, 100, 100]))
    def go_ahead(self, chance: Random, by: str, lines: int) -> None:
        """A later operation on the carrier first."""
        batch = self.bench.state
        loads = [load for load in batch.list_live_loads() if list_later_ops(batch, load)]
        if loads:
            load = chance.choice(loads)
            op = chance.choice(list_later_ops(batch, load))
            self.try_(BeginRun(load.number, "still to be done", True, ahead=op, ahead_why="the oven is hot"), "LL")
            self.work(chance, load.number, by, lines)

    def try_(self, command: Command, by: str) -> None:
        if not isinstance(command, MovePieces):
            super().try_(command, by)
            self.ahead |= self.bench.state.turn.keys()
            return
        batch, seq = self.bench.state, self.bench.state.seq
        clocks, ends = copy.deepcopy((batch.piece_clocks, batch.batch_clocks)), dict(batch.places)
        told = {piece: trace(batch, piece).stays for piece in batch.places}
        mine = {piece: {one.run.number for one in stays} for piece, stays in told.items()}
        waived = {one.seq for one in batch.list_open_waivers()}
        proofs, next_ops = dict(batch.proofs), {piece: batch.find_next_op(piece) for piece in batch.places}
        super().try_(command, by)
        batch = self.bench.state
        if batch.seq == seq:
            return
        assert (batch.piece_clocks, batch.batch_clocks) == clocks, "a clock was touched"
        assert {one.seq for one in batch.list_open_waivers()} == waived
        assert set(batch.proofs) <= set(proofs), "moving proves nothing"
        event = batch.entries[-1].body
        touched = {*event.get("left", ()), event.get("joined"), event.get("load")}
        assert not any(isinstance(key, OffsetKey) and key.load in touched for key in batch.proofs)
        for piece, was in ends.items():
            place, stays = batch.places[piece], trace(batch, piece).stays
            assert batch.find_next_op(piece) == next_ops[piece]
            assert was.where == place.where or {was.where, place.where} == {"load", "waiting"}
            for before, now in zip(told[piece], [one for one in stays if one.run.number in mine[piece]], strict=True):
                assert (before.run.number, before.lots, before.waivers) == (now.run.number, now.lots, now.waivers)
                if before.candidates == now.candidates:  # in a heap it may have been any of the others
                    assert (before.position, before.condition) == (now.position, now.condition)

    def teardown(self) -> None:
        if hasattr(self, "bench"):
            for piece, place in self.bench.state.places.items():
                if place.where == "finished" and piece not in self.ahead:
                    went_its_way(self.bench.state, piece)
            nothing_done_twice(self.bench.state)
        super().teardown()


TestRandomMoves = shorter(RandomMoves, examples=30)
