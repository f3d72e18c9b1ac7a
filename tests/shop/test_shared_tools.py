"""A tool used by several batches wears for all of them, never counted too little, whatever happens in between."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from floor.batch.command import Refused
from floor.batch.corrections.commands import StrikeOut
from floor.batch.describe import describe
from floor.batch.fold import fold
from floor.batch.lifecycle.commands import CloseBatch, OpenBatch, SetPiecesAside
from floor.batch.lifecycle.transfer import TakeInBatch, TransferBatch
from floor.batch.state import Batch
from floor.batch.stations.commands import Disturb
from floor.batch.walk.commands import EndCycle, StartCycle
from floor.batch.walk.stop_cycle import StopCycle
from floor.ledger import Journal, WriteFailed
from floor.ledger.files import REAL_FILES, Files
from floor.shop import Shop
from floor.shop.simulation import SimulatedOperator
from tests.batch.factory import MORNING, StepClock, part

MILL = ("mill", 1)
PER_PIECE = 5 * 60.0
"""Seconds of tool 1 for a piece, as the test part says; its life is 60 min."""


@pytest.fixture
def clock() -> StepClock:
    return StepClock(MORNING)


@pytest.fixture
def shop(tmp_path: Path, clock: StepClock) -> Iterator[Shop]:
    shop = peopled(tmp_path, clock)
    yield shop
    shop.close()


def peopled(folder: Path, clock: StepClock) -> Shop:
    shop = Shop(folder, clock)
    shop.add_person("LL", "Lee Lead", True, by="-")
    shop.add_person("AA", "Ann", False, by="LL")
    shop.add_person("BB", "Bo", False, by="LL")
    return shop


def opened(shop: Shop, start: int = 12) -> str:
    return shop.open_batch(OpenBatch(shop.find_next_id(), part(), "digest", "part.toml", 1, start), "AA").id


def hand(shop: Shop, id: str, clock: StepClock) -> SimulatedOperator:
    return SimulatedOperator(shop, id, "AA", clock, second="BB")


def cut(shop: Shop, id: str, clock: StepClock, pieces: int) -> int:
    """Mill so many pieces of a batch; the load, its pallet emptied again by scrapping what is on it."""
    worker = hand(shop, id, clock)
    load = worker.form(10, pieces)
    assert worker.work(load)
    shop.do(id, SetPiecesAside("scrap", "only for wear", load=load, count=pieces), "AA")
    return load


def used(shop: Shop, id: str) -> float | None:
    state = shop.batch(id).tools.get(MILL)
    return state.used if state is not None else None


def test_what_one_batch_cuts_wears_the_tool_of_the_other(shop: Shop, clock: StepClock) -> None:
    one, two = opened(shop), opened(shop)
    cut(shop, one, clock, 1)
    cut(shop, two, clock, 2)

    assert used(shop, one) == used(shop, two) == 3 * PER_PIECE
    told = next(entry for entry in shop.batch(one).entries if entry.kind == "tool_worn")
    assert describe(shop.batch(one), told) == f"mill: tool 1 25 % used up, after a cycle of {two}"


def test_a_load_is_blocked_by_what_another_batch_took_of_the_tool(shop: Shop, clock: StepClock) -> None:
    """60 min of life, 5 min for a piece: after three loads of four nothing is left, whichever batch cut them."""
    one, two = opened(shop), opened(shop)
    cut(shop, one, clock, 4)
    cut(shop, two, clock, 4)
    cut(shop, one, clock, 4)
    worker = hand(shop, two, clock)
    load = worker.form(10, 1)
    reached = worker.work(load, stop=lambda line: line.verdict is not None and line.verdict.status == "blocked")

    line = worker.current(load)
    assert not reached
    assert line is not None
    assert line.verdict is not None
    assert line.verdict.why == "tool 1 has 0 s left, this load takes 5 min"


def test_a_tool_changed_is_new_for_all_also_for_one_whose_set_up_is_down(shop: Shop, clock: StepClock) -> None:
    one, two = opened(shop), opened(shop)
    cut(shop, one, clock, 4)
    cut(shop, two, clock, 1)

    shop.do(two, Disturb("mill", "tool changed", tool=1), "AA")

    assert used(shop, one) is None
    cut(shop, one, clock, 1)
    assert used(shop, one) == PER_PIECE


def test_nothing_is_written_anywhere_else_where_no_tool_is_shared(
    shop: Shop, clock: StepClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A cycle end costs one sync, as before: only batches that hold the tool are told."""
    one, two = opened(shop), opened(shop)
    worker = hand(shop, one, clock)
    load = worker.form(10, 1)
    worker.work(load, stop=lambda line: line.kind == "end")
    synced = []
    real = type(REAL_FILES).sync

    def sync(files: Files, fd: int) -> None:
        synced.append(fd)
        real(files, fd)

    monkeypatch.setattr(type(REAL_FILES), "sync", sync)
    before = shop.batch(two).seq

    worker.do(EndCycle(worker.run(load).number))

    assert len(synced) == 1
    assert shop.batch(two).seq == before


def test_a_cycle_end_pressed_too_early_and_struck_wears_the_tool_once(shop: Shop, clock: StepClock) -> None:
    one, two = opened(shop), opened(shop)
    cut(shop, one, clock, 1)
    cut(shop, two, clock, 1)
    worker = hand(shop, two, clock)
    load = worker.form(10, 1)
    worker.work(load, stop=lambda line: line.kind == "end")
    run = worker.run(load).number
    ended = worker.do(EndCycle(run))[0]
    worker.do(StrikeOut(ended.seq, "too early"))
    assert (used(shop, one), used(shop, two)) == (3 * PER_PIECE, 2 * PER_PIECE), "too much until it ends again"

    worker.do(EndCycle(run))

    assert used(shop, one) == used(shop, two) == 3 * PER_PIECE


def test_a_tool_that_was_not_changed_after_all_is_as_worn_as_before_for_all(shop: Shop, clock: StepClock) -> None:
    one, two = opened(shop), opened(shop)
    cut(shop, one, clock, 2)
    changed = shop.do(one, Disturb("mill", "tool changed", tool=1), "AA")[0]
    cut(shop, two, clock, 1)
    assert used(shop, two) == PER_PIECE

    shop.do(one, StrikeOut(changed.seq, "it was tool 2"), "AA")

    assert used(shop, one) == used(shop, two) == 2 * PER_PIECE
    # What two cut in between was told to nobody, for one held no such tool then; its next cycle tells it.


def test_a_change_of_tool_is_struck_out_also_after_the_proof_that_followed_it_was(shop: Shop, clock: StepClock) -> None:
    one = opened(shop)
    cut(shop, one, clock, 2)
    changed = shop.do(one, Disturb("mill", "tool changed", tool=1), "AA")[0]
    worker = hand(shop, one, clock)
    load = worker.form(10, 1)
    worker.work(load, stop=lambda line: shop.batch(one).entries[-1].body.get("gate") == "tool loaded")
    shop.do(one, StrikeOut(shop.batch(one).seq, "wrong holder"), "AA")

    shop.do(one, StrikeOut(changed.seq, "it was tool 2"), "AA")

    assert used(shop, one) == 2 * PER_PIECE


def test_what_was_told_is_not_struck_out_where_it_was_told(shop: Shop, clock: StepClock) -> None:
    one, two = opened(shop), opened(shop)
    cut(shop, one, clock, 1)
    cut(shop, two, clock, 1)
    told = next(entry for entry in shop.batch(one).entries if entry.kind == "tool_worn")

    with pytest.raises(Refused, match="locked"):
        shop.do(one, StrikeOut(told.seq, "not mine"), "LL")


def test_a_closed_batch_leaves_its_worn_tool_to_the_next(shop: Shop, tmp_path: Path, clock: StepClock) -> None:
    one = opened(shop, 2)
    cut(shop, one, clock, 2)
    shop.do(one, CloseBatch("only for wear"), "LL")
    shop.close()
    again = Shop(tmp_path, clock)
    two = opened(again)

    cut(again, two, clock, 1)

    assert used(again, two) == 3 * PER_PIECE
    again.do(two, Disturb("mill", "tool changed", tool=1), "AA")
    three = opened(again)
    cut(again, three, clock, 1)
    assert used(again, three) == PER_PIECE
    again.close()


def test_a_batch_that_comes_back_learns_what_was_cut_meanwhile(shop: Shop, clock: StepClock) -> None:
    one, two = opened(shop), opened(shop)
    cut(shop, one, clock, 1)
    shop.do(one, TransferBatch("the other shop"), "LL")
    cut(shop, two, clock, 2)
    assert (used(shop, one), used(shop, two)) == (PER_PIECE, 3 * PER_PIECE), "one that is away is told nothing"

    shop.do(one, TakeInBatch("never sent", withdrawn=True), "LL")

    assert used(shop, one) == 3 * PER_PIECE


def test_what_a_cycle_that_was_given_up_cut_is_told_too(shop: Shop, clock: StepClock) -> None:
    one, two = opened(shop), opened(shop)
    cut(shop, one, clock, 1)
    worker = hand(shop, two, clock)
    load = worker.form(10, 2)
    worker.work(load, stop=lambda line: line.kind == "end")
    shop.do(two, StopCycle(worker.run(load).number, "alarm"), "AA")

    shop.do(two, SetPiecesAside("scrap", "spoilt", load=load, count=2), "AA")

    assert used(shop, one) == used(shop, two) == 3 * PER_PIECE


def test_a_change_by_mistake_that_is_struck_out_forgets_nothing(shop: Shop, clock: StepClock) -> None:
    """Said in a batch that never loaded the tool, of wear that a batch which is gone left behind."""
    one = opened(shop, 2)
    cut(shop, one, clock, 2)
    shop.do(one, CloseBatch("only for wear"), "LL")
    two, three = opened(shop), opened(shop)
    changed = shop.do(two, Disturb("mill", "tool changed", tool=1), "AA")[0]
    cut(shop, three, clock, 1)

    shop.do(two, StrikeOut(changed.seq, "was not changed"), "AA")

    assert used(shop, three) == 3 * PER_PIECE
    cut(shop, two, clock, 1)
    assert used(shop, two) == used(shop, three) == 4 * PER_PIECE
    shop.refresh()
    for id in (two, three):
        assert shop.batch(id) == fold(shop.batch(id).entries)


def test_a_loading_struck_out_does_not_forget_what_the_tool_has_cut(shop: Shop, clock: StepClock) -> None:
    one = opened(shop)
    cut(shop, one, clock, 2)
    loaded = next(entry for entry in shop.batch(one).entries if entry.body.get("gate") == "tool loaded")

    shop.do(one, StrikeOut(loaded.seq, "wrong length"), "AA")

    assert used(shop, one) == 2 * PER_PIECE
    cut(shop, one, clock, 1)
    assert used(shop, one) == 3 * PER_PIECE


def test_nor_does_it_when_what_it_took_over_was_left_by_a_batch_that_is_closed(shop: Shop, clock: StepClock) -> None:
    one = opened(shop, 2)
    cut(shop, one, clock, 2)
    shop.do(one, CloseBatch("only for wear"), "LL")
    two = opened(shop)
    cut(shop, two, clock, 1)
    loaded = next(entry for entry in shop.batch(two).entries if entry.body.get("gate") == "tool loaded")

    shop.do(two, StrikeOut(loaded.seq, "wrong length"), "AA")

    cut(shop, two, clock, 1)
    assert used(shop, two) == 4 * PER_PIECE
    shop.refresh()
    assert shop.batch(two) == fold(shop.batch(two).entries)


class Disk:
    """Lets the command's own write fail after the others were told, as a power cut in between does."""

    def __init__(self, patch: pytest.MonkeyPatch) -> None:
        self.fails = ""
        real = Journal._append

        def append(journal: Journal, drafts: Any, moment: Any, by: str) -> Any:
            if journal.name == self.fails and drafts and drafts[0].kind == "cycle_ended":
                raise WriteFailed("power failure")
            return real(journal, drafts, moment, by)

        patch.setattr(Journal, "_append", append)


def holders(shop: Shop) -> list[Batch]:
    return [batch for batch in shop.batches if MILL in batch.tools and not batch.gone]


STEP = st.tuples(
    st.sampled_from(["cut", "cut", "cut", "crash", "early", "change", "unload", "close", "reopen"]), st.integers(0, 2)
)


@settings(max_examples=12, deadline=None)
@given(steps=st.lists(STEP, min_size=3, max_size=12), seed=st.integers(0, 2**16))
@example([("cut", 0), ("close", 0), ("cut", 0), ("unload", 0), ("cut", 0)], 0)
def test_no_batch_ever_takes_a_tool_for_less_worn_than_it_is(steps: list[tuple[str, int]], seed: int) -> None:
    """The oracle is the tool itself: the pieces it has cut since it was put in, whichever batch they belong to."""
    chance, clock = Random(seed), StepClock(MORNING)
    with TemporaryDirectory() as folder, pytest.MonkeyPatch.context() as patch:
        disk = Disk(patch)
        shop = peopled(Path(folder), clock)
        ids = [opened(shop, 60) for _ in range(3)]
        truly, exact = 0.0, True
        for what, which in steps:
            id = ids[which]
            worker = hand(shop, id, clock)
            if what in ("cut", "crash", "early"):
                pieces = chance.randint(1, 2)
                load = worker.form(10, pieces)
                worker.work(load, stop=lambda line: line.kind == "end" or _worn_out(line))
                if _worn_out(worker.current(load)):
                    worker.do(Disturb("mill", "tool changed", tool=1))
                    truly = 0.0
                    worker.work(load, stop=lambda line: line.kind == "end")
                if what == "crash":
                    disk.fails = id
                    with pytest.raises(WriteFailed):
                        worker.do(EndCycle(worker.run(load).number))
                    disk.fails = ""
                if what == "early":
                    worker.do(StrikeOut(worker.do(EndCycle(worker.run(load).number))[0].seq, "too early"))
                truly += pieces * PER_PIECE
                assert worker.work(load)
                shop.do(id, SetPiecesAside("scrap", "only for wear", load=load, count=pieces), "AA")
            elif what == "change":
                worker.do(Disturb("mill", "tool changed", tool=1))
                truly = 0.0
            elif what == "unload":
                loaded = [
                    entry
                    for entry in shop.batch(id).entries
                    if entry.body.get("gate") == "tool loaded"
                    and entry.body["key"][2] == 1
                    and entry.seq not in shop.batch(id).struck
                ]
                if loaded:
                    worker.do(StrikeOut(loaded[-1].seq, "wrong length"))
                    exact = False  # what it had taken over is known to it again when the tool is loaded again
            elif what == "close":
                left = shop.batch(id).total("waiting")
                shop.do(id, SetPiecesAside("scrap", "stopped", op=10, count=left), "LL")
                shop.do(id, CloseBatch("stopped"), "LL")
                ids[which] = opened(shop, 60)
            else:
                shop.close()
                shop = Shop(Path(folder), clock)
            for batch in holders(shop):
                assert batch == fold(batch.entries)
                proved = ("tool loaded", *MILL) in batch.proofs
                if proved or exact:
                    assert batch.tools[MILL].used == truly
        shop.close()


def _worn_out(line: Any) -> bool:
    return line is not None and line.verdict is not None and line.verdict.status == "blocked"


def test_a_tool_that_broke_in_the_cycle_of_one_batch_is_a_new_one_for_all(shop: Shop, clock: StepClock) -> None:
    one, two = opened(shop), opened(shop)
    cut(shop, one, clock, 4)
    cut(shop, two, clock, 2)
    gone = opened(shop)
    cut(shop, gone, clock, 1)
    shop.do(gone, SetPiecesAside("scrap", "only for wear", op=10, count=11), "AA")
    shop.do(gone, CloseBatch("short"), "LL")
    assert shop.people.worn[MILL] == used(shop, two) == 7 * PER_PIECE
    worker = hand(shop, one, clock)
    load = worker.form(10, 2)
    assert not worker.work(load, stop=lambda line: line.key == "end")
    shop.do(one, StopCycle(worker.run(load).number, "tool broke", tool=1), "AA")

    assert used(shop, one) is used(shop, two) is None
    assert MILL not in shop.people.worn
    assert worker.work(load)
    assert used(shop, one) == 2 * PER_PIECE


def test_a_wasted_cut_wears_the_tool_for_all_before_the_cycle_restarts(shop: Shop, clock: StepClock) -> None:
    one, two = opened(shop), opened(shop)
    cut(shop, two, clock, 1)
    worker = hand(shop, one, clock)
    load = worker.form(10, 2)
    assert not worker.work(load, stop=lambda line: line.key == "end")
    run = worker.run(load).number
    shop.do(one, StopCycle(run, "stopped"), "AA")
    assert not worker.work(load, stop=lambda line: line.key == "start")

    shop.do(one, StartCycle(run, anew=True), "AA")

    assert used(shop, one) == used(shop, two) == 3 * PER_PIECE


def test_a_change_struck_out_where_the_others_had_forgotten_the_tool_tells_them_its_wear(
    shop: Shop, clock: StepClock
) -> None:
    one, two = opened(shop), opened(shop)
    cut(shop, one, clock, 1)
    cut(shop, two, clock, 1)
    changed = shop.do(one, Disturb("mill", "tool changed", tool=1), "AA")[0]
    cut(shop, one, clock, 2)
    assert (used(shop, one), used(shop, two)) == (2 * PER_PIECE, None)

    shop.do(one, StrikeOut(changed.seq, "was not changed"), "AA")

    assert used(shop, one) == used(shop, two) == 4 * PER_PIECE
