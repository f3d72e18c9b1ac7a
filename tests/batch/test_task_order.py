"""In which order tasks are listed (shop decisions: the most pressing first, nothing moves under a hand)."""

from __future__ import annotations

from datetime import UTC, datetime

from floor.batch.worklist.due_task import DueTask
from floor.batch.worklist.task_order import find_own_task, keep_order, rank_tasks
from tests.batch.factory import open_bench

NINE = datetime(2026, 3, 2, 9, tzinfo=UTC)


def task(what: str, urgency: str = "now", go: str = "run", **more: object) -> DueTask:
    return DueTask(urgency, None, "B0001", what, "Mill", go=go, **more)  # type: ignore[arg-type]


OVER, NEXT, LOAD = task("over", over_since=NINE), task("next"), task("load", go="form")
DECIDE, LATER = task("decide", go="hold", needs_lead=True), task("later", "later")
ALL = [LATER, DECIDE, LOAD, NEXT, OVER]


def names(due: list[DueTask]) -> list[str]:
    return [one.what for one in due]


def test_a_cycle_that_is_over_comes_first_and_what_waits_last() -> None:
    assert names(rank_tasks(ALL, None, lead=True)) == ["over", "decide", "load", "next", "later"]


def test_what_needs_a_lead_stands_below_what_an_operator_may_do() -> None:
    assert names(rank_tasks(ALL, None, lead=False)) == ["over", "load", "next", "decide", "later"]


def test_the_run_that_somebody_is_at_does_not_sink_below_other_work() -> None:
    assert names(rank_tasks(ALL, NEXT, lead=False)) == ["over", "next", "load", "decide", "later"]
    assert names(rank_tasks(ALL, NEXT, lead=True)) == ["over", "decide", "next", "load", "later"]
    assert names(rank_tasks(ALL, LATER, lead=False))[-1] == "later", "what waits, waits"


def test_nothing_is_pulled_away_but_what_waits_now() -> None:
    stood = {NEXT.key: 0, OVER.key: 1, LATER.key: 2}
    new = task("new", go="close")
    assert names(keep_order([new, OVER, LATER, NEXT], {**stood})) == ["next", "over", "new", "later"]


def test_ones_own_is_the_run_that_one_touched_last() -> None:
    bench = open_bench(start=8)
    load = bench.form(10)
    bench.until(load, "probed 1")
    due = [NEXT, task("at", load=load, run=bench.run_of(load).number)]
    found = [find_own_task(due, lambda _: bench.state, who) for who in ("AA", "BB", "")]
    assert found == [due[1], None, None]
