"""What the records of an order cost by keys, against the budgets and against paper."""

from __future__ import annotations

from collections import Counter, defaultdict
from datetime import timedelta
from functools import cache

import pytest

from floor.app import FloorApp
from floor.batch.lifecycle.commands import OpenBatch
from floor.batch.state import Batch
from floor.batch.worklist.due_task import DueTask
from floor.batch.worklist.tasks import list_due_tasks
from floor.checklist.gates import Soaked
from floor.shop import Shop
from floor.shop.simulation import ManualClock, SimulatedOperator
from tests.batch.factory import Bench, open_bench, thermal_break
from tests.language import ROOT
from tests.screens.cost import KINDS, Cost, cost, steps, table
from tests.screens.keys import PIN
from tests.screens.operator import Operator

ROUTINE = ("cautions_read", "step_done", "cycle_started", "cycle_ended", "released")


async def test_the_keys_pressed_are_those_the_model_counts(shop: Shop, clock: ManualClock) -> None:
    """A pallet of sixteen through milling and pouring, and a second one begun: every kind of record of the round."""
    batch = shop.open_batch(
        OpenBatch(shop.find_next_id(), thermal_break(), "-", "thermal-break-plate.toml", 16, 16), "LL"
    ).id
    shop.set_pin("BB", PIN, "BB")
    app = FloorApp(shop, who="AA", ticking=False)
    keys = Operator(app, clock, "BB")
    found = {10: [("B3", "chatter"), ("D4", "chatter")]}
    async with app.run_test(size=(80, 24)):
        await keys.work_on(lambda state: len(state.runs) == 2 and state.runs[2].released is not None, batch, found)
    state = shop.batch(batch)

    marking = [act.keys for act in keys.acts if act.kind == "mark"]
    assert [len(pressed) for pressed in marking] == [steps("A1", "B3", 4, 4) + 1, steps("B3", "D4", 4, 4) + 1]
    marks = sum(map(len, marking))
    told = {act.entry.seq: act for act in keys.acts if act.entry is not None}
    assert {entry.kind for entry in (act.entry for act in told.values()) if entry} <= set(KINDS)
    for seq, act in told.items():
        entry = state.entries[seq - 1]
        pressed = len(act.keys) + (marks if entry.body.get("marks") else 0)
        if entry.kind in ("run_begun", "load_formed"):
            assert pressed <= 4, (
                "what is to be done next stands near the top: two keys to the line, one asks, one records"
            )
        else:
            assert pressed == cost(state, entry).keys, f"{entry.kind} {entry.body}: {act.keys}"
    assert len(told) == state.seq - 2, "nothing is recorded but by a key; the opening itself was a command"


@pytest.mark.parametrize(
    ("what", "one", "seconds"),
    [("routine, one key", Cost(1, 1, 0), 2.0), ("scrap with reason and count", Cost(4, 3, 0), 5.6)],
)
def test_the_model_gives_the_worked_figures(what: str, one: Cost, seconds: float) -> None:
    """H+M+K and H+3M+4K, worked out apart from this program from the operators of Card, Moran & Newell 1980."""
    assert one.seconds == pytest.approx(seconds, abs=0.05), what


def test_paper_takes_nine_seconds_for_twelve_characters() -> None:
    """H+M and 0.6 s for each character: time, initials, count (an unmeasured estimate, common practice, no source)."""
    assert Cost(0, 1, 12).paper == pytest.approx(9.0, abs=0.1)


def test_scrapping_any_one_piece_keeps_to_its_budget() -> None:
    """Eight seconds for scrap with its reason and the count, from the corner of a pallet of sixteen to any place;
    six keys on the average (design budgets on the model of Card, Moran & Newell 1980)."""
    places = [f"{row}{column}" for row in "ABCD" for column in range(1, 5)]
    each = [Cost(3 + steps("A1", place, 4, 4), 3, 0) for place in places]
    assert sum(one.keys for one in each) / len(each) <= 6
    assert max(one.seconds for one in each) <= 8


class Alone(Bench):
    """A bench that also tells what is next, for a hand that follows it."""

    def due(self) -> list[DueTask]:
        return list_due_tasks([self.state], self.clock())


@cache
def whole_order() -> Batch:
    """The demo order of 96 worked through, on good days, by one person who goes home at night."""
    opened = open_bench(thermal_break, 108, 96)
    bench = Alone(opened.clock, opened.state)
    hand = SimulatedOperator(bench, "", "AA", bench.clock, second="BB")  # type: ignore[arg-type]
    while bench.state.total("finished") < 108:
        morning = bench.clock().at
        hand.shift(morning + timedelta(hours=10))
        bench.clock.until(morning + timedelta(hours=24))
    return bench.state


def test_the_whole_order_costs_less_than_paper() -> None:
    """The same list of records, written by hand with time and initials, takes longer; both totals are published in
    tests/bench/FIGURES.md (`python -m tests.screens.test_cost`)."""
    state = whole_order()
    entries = [entry for entry in state.entries if entry.kind in KINDS]
    costs = [cost(state, entry) for entry in entries]
    routine = [one for entry, one in zip(entries, costs, strict=True) if entry.kind in ROUTINE]
    assert all(one.seconds <= 4 and one.keys <= 3 for one in routine)
    assert len(routine) > 0.45 * len(entries), "the rest are values, counts and words"
    assert sum(one.seconds for one in costs) < sum(one.paper for one in costs)
    assert Counter(entry.kind for entry in entries)["released"] == len(state.runs)


def test_no_list_of_a_pause_takes_longer_than_90_s() -> None:
    """A pause list takes about a minute; past 60 to 90 s people take shortcuts (Gawande 2009, as quoted by others)."""
    state = whole_order()
    lists: dict[tuple[int, str], float] = defaultdict(float)
    for entry in state.entries:
        if entry.kind in ("step_done", "proved"):
            run = state.runs[entry.body["run"]]
            step = dict(state.find_operation(run).numbered_steps)[entry.body["line"]]
            if not isinstance(step, Soaked):  # its readings are taken one by one over hours, at no pause
                lists[run.number, step.at] += cost(state, entry).seconds
    assert len(lists) > len(state.runs)
    assert max(lists.values()) <= 90, max(lists, key=lambda one: lists[one])


def test_the_published_table_is_that_of_the_model_and_says_what_it_leaves_out() -> None:
    """Keys and seconds of the whole order beside paper, as a lower bound (Card, Moran & Newell 1980, as quoted)."""
    said = (ROOT / "tests/bench/FIGURES.md").read_text(encoding="utf-8")
    state = whole_order()
    assert table(state, state.entries) in said
    assert "a lower bound" in said


if __name__ == "__main__":
    done = whole_order()
    print(table(done, done.entries))  # noqa: T201
