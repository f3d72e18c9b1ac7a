"""Who loads a carrier takes what has waited longest: the loads that the plan begins first have those pieces."""

from __future__ import annotations

from dataclasses import replace

from floor.batch.nextup import next_up
from floor.batch.state import Batch
from floor.figures.schedule import Plan, Span
from floor.planning.advice import advise
from floor.planning.dealing import dealt
from floor.planning.loads import Work
from floor.planning.plan import ShopPlan, make_plan, stood
from floor.planning.problem import Asked, ask
from tests.batch.factory import open_bench
from tests.planning.planned import MORNING, ONE_SHIFT, planned, potted


def small_first() -> tuple[ShopPlan, Plan, Asked]:
    """A plan of 15 pieces on pallets of 13 and of 2, and the same with the small load before the full one."""
    made = planned(open_bench(potted, start=15).state)
    asked = made.asked
    full, small = (run for run in made.plan.runs if asked.works[run.run].op == 10)
    turned = [replace(small, start=full.start), replace(full, start=small.start)]
    others = [run for run in made.plan.runs if run not in (full, small)]
    order = (small.run, full.run, *(run.run for run in others))
    return made, replace(made.plan, runs=(*turned, *others), order=order), asked


def pieces_at(works: dict[str, Work], op: int) -> dict[int, tuple[int, ...]]:
    """By how many they are: the pieces of each load at an operation."""
    return {work.pieces: work.pieces_of for work in works.values() if work.op == op}


def test_the_load_that_is_begun_first_has_the_pieces_that_are_taken_first() -> None:
    _, turned, asked = small_first()
    assert pieces_at(dict(asked.works), 10) == {13: tuple(range(1, 14)), 2: (14, 15)}

    works = dealt(asked.works, asked.problem, turned)

    assert pieces_at(works, 10) == {2: (1, 2), 13: tuple(range(3, 16))}
    assert pieces_at(works, 30) == {2: (1, 2), 13: tuple(range(3, 16))}, "the load takes them along"
    assert sorted(piece for work in works.values() if work.op == 40 for piece in work.pieces_of) == list(range(1, 16))


def test_pieces_that_the_record_lets_start_at_other_times_keep_their_loads() -> None:
    _, turned, asked = small_first()
    small = next(id for id, work in asked.works.items() if work.op == 30 and work.pieces == 2)
    later = (Span(MORNING, None),)

    loads = tuple(
        replace(load, runs=tuple(replace(run, allowed=later) if run.id == small else run for run in load.runs))
        for load in asked.problem.loads
    )

    assert dealt(asked.works, replace(asked.problem, loads=loads), turned) == asked.works


def test_pieces_of_which_some_are_not_in_the_plan_keep_their_loads() -> None:
    _, turned, asked = small_first()
    less = replace(turned, runs=tuple(run for run in turned.runs if asked.works[run.run].pieces != 13))

    assert dealt(asked.works, asked.problem, less) == asked.works


def test_pieces_in_rework_keep_their_loads() -> None:
    _, turned, asked = small_first()
    works = {id: replace(work, forms=(10, "again") if work.forms else None) for id, work in asked.works.items()}

    assert dealt(works, asked.problem, turned) == works


def of_two(small: bool) -> tuple[ShopPlan, Batch]:
    """The plan of a batch whose first load in the plan is its small or its full one."""
    made, turned, asked = small_first()
    if small:
        made = replace(made, plan=turned, asked=replace(asked, works=dealt(asked.works, asked.problem, turned)))
    return made, open_bench(potted, start=15).state


def test_what_is_loaded_now_is_what_the_plan_loads_first() -> None:
    for small, pieces in ((True, 2), (False, 13)):
        made, batch = of_two(small)
        bench = open_bench(potted, start=15)

        first = advise(next_up([batch], bench.clock()), made, MORNING)[0].due

        assert first.what == f"Load {pieces} of 15 pieces on Pallet"
        assert first.loading is not None
        assert first.loading.pieces == pieces


def test_a_load_formed_as_planned_keeps_its_place_in_the_order_of_work() -> None:
    made, _ = of_two(small=True)
    bench = open_bench(potted, start=15)
    load = bench.form(10, count=2)

    after = ask([bench.state], bench.clock(), ONE_SHIFT)
    begun = [after.works[run].load for run in stood(made, after.works).order if after.works[run].op == 10]

    assert begun == [load, None]
    assert make_plan([after], effort=0, previous=made, hold=True).whole
