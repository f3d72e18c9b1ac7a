"""What is read from two meters: the place, the clock that matters, what blocks, the words of cautions."""

from __future__ import annotations

from datetime import timedelta

from floor.batch.walk.commands import BeginRun
from floor.batch.worklist.large_view_content import LargeView, build_large_view
from floor.batch.worklist.tasks import list_due_tasks
from tests.batch.factory import Bench, open_bench
from tests.papers.half_done import half_done


def seen(bench: Bench, load: int) -> LargeView:
    """The load's run as it stands now."""
    now, run = bench.clock(), bench.state.loads[load].run
    dues = [due for due in list_due_tasks([bench.state], now) if due.load == load]
    return build_large_view(bench.state, now, dues[0] if dues else None, run, "AA")


def at(bench: Bench, title: str, load: int | None = None) -> int:
    """A load worked until this line is the current one."""
    load = bench.hand("AA").form(10) if load is None else load
    assert not bench.hand("AA").work(load, stop=lambda line: title in (line.title, line.kind))
    return load


def test_a_step_with_a_caution_says_its_word() -> None:
    bench = open_bench()
    load = at(bench, "Shut the door")

    found = seen(bench, load)

    assert (found.job, found.operation, found.carrier) == ("B0001", "Op 10", "Pallet 1 of 3")
    assert (found.kind, found.time, found.doing) == ("now", "", "Shut the door")
    assert found.cautions == ("WARNING",)
    assert found.full.startswith("Step 9 of ")


def test_a_caution_still_to_be_read_stands_for_its_step() -> None:
    bench = open_bench()
    load = at(bench, "caution")

    assert seen(bench, load).doing == "Shut the door"
    assert seen(bench, load).cautions == ("WARNING",)


def test_a_cycle_shows_what_it_still_takes_and_then_by_how_much_it_is_over() -> None:
    """The cycle of the test part takes 20 min (its checklist)."""
    bench = open_bench()
    load = at(bench, "Watch the first cut")
    started = bench.state.runs[1].started
    assert started is not None
    assert (seen(bench, load).kind, seen(bench, load).doing) == ("runs", "Watch the first cut")

    at(bench, "end", load)
    bench.clock.until(started + timedelta(minutes=13, seconds=30))
    assert (seen(bench, load).kind, seen(bench, load).time) == ("runs", "6 min")
    assert seen(bench, load).doing == "then Brush the chips off"

    bench.clock.until(started + timedelta(minutes=27))
    assert (seen(bench, load).kind, seen(bench, load).time) == ("over", "7 min")


def test_a_cure_shows_when_it_is_done() -> None:
    bench = open_bench()
    load = bench.hand("AA").form(10)
    assert bench.hand("AA").work(load)
    assert bench.hand("AA").work(load)
    before = seen(bench, load)
    assert (before.kind, before.doing) == ("waits", "Wait for cure")
    assert before.time

    bench.say(BeginRun(load, anyway=True))
    assert (seen(bench, load).kind, seen(bench, load).time) == ("waits", before.time)
    assert "cure" in seen(bench, load).full


def test_nothing_that_is_blocked_is_hidden() -> None:
    """A taken station, and a window that closed while the load waited."""
    bench = open_bench(start=12)
    hand = bench.hand("AA")
    first = hand.form(10)
    for _ in (10, 20, 30):
        assert hand.work(first)
    assert hand.work(hand.form(40))
    packed = hand.form(50)
    bench.clock.forward(9 * 3600)
    bench.say(BeginRun(packed, anyway=True))
    at(bench, "Clamp the pallet")
    taken = hand.form(10)

    assert (seen(bench, packed).kind, "time limit" in seen(bench, packed).doing.casefold()) == ("blocked", True)
    assert (seen(bench, taken).kind, seen(bench, taken).doing[:10]) == ("blocked", "Mill busy:")


def test_whatever_is_due_is_shown_and_as_urgent_as_it_is() -> None:
    bench = half_done()
    kinds = set()
    for hours in (0, 1, 9, 30, 60):
        bench.clock.forward(3600 * hours)
        now = bench.clock()
        for due in list_due_tasks([bench.state], now):
            found = build_large_view(bench.state, now, due)
            kinds.add(found.kind)
            assert found.job == bench.state.id
            started_by_it = f": {due.title}" if due.go in ("begin", "form") and found.kind != "waits" else ""
            assert found.doing == f"{due.what}{started_by_it}"
            assert (due.urgency == "later") == (found.kind in ("waits", "runs")), due
    assert {"now", "waits"} <= kinds


def test_a_window_about_to_close_is_reported() -> None:
    """The coat of the test part is baked within its window (its checklist)."""
    bench = half_done()
    for due in list_due_tasks([bench.state], bench.clock()):
        if due.closes is not None:
            bench.clock.until(due.closes - timedelta(minutes=12))
            assert build_large_view(bench.state, bench.clock(), due).closes == "12 min"
            assert not build_large_view(
                bench.state, bench.clock(), due.__class__(**{**_fields(due), "closes": None})
            ).closes
            return
    raise AssertionError("the half-done batch has a window open")


def _fields(due: object) -> dict[str, object]:
    return {name: getattr(due, name) for name in due.__slots__}  # type: ignore[attr-defined]


def test_a_load_that_is_released_says_so() -> None:
    bench = open_bench()
    load = at(bench, "Clamp the pallet")
    run = bench.state.loads[load].run
    assert bench.hand("AA").work(load)

    assert build_large_view(bench.state, bench.clock(), None, run) == LargeView(
        "B0001", "Op 10", "Pallet 1 of 3", "through", "", "Released", closes="", full="The load is released"
    )
