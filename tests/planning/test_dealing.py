"""Operators load the pieces that have waited longest, so the loads the plan starts first get those."""

from __future__ import annotations

from dataclasses import replace

import pytest

from floor.batch.state import Batch
from floor.batch.worklist.due_task import Loading
from floor.batch.worklist.tasks import list_due_tasks
from floor.checklist.model import Checklist
from floor.entry import Moment
from floor.figures.schedule import Plan, StartSpan
from floor.planning.dispatch_list import rank_dues
from floor.planning.piece_assignment import assign_pieces
from floor.planning.plan import ShopPlan, make_plan, rename_runs
from floor.planning.planned_loads import PlannedWork
from floor.planning.problem import PlanningRequest, build_planning_request
from tests.batch.factory import open_bench
from tests.planning.planned import MORNING, ONE_SHIFT, planned, potted


def small_first() -> tuple[ShopPlan, Plan, PlanningRequest]:
    """A plan of 15 pieces on pallets of 13 and of 2, and the same with the small load before the full one."""
    made = planned(open_bench(potted, start=15).state)
    asked = made.asked
    full, small = (run for run in made.plan.runs if asked.works[run.run].op == 10)
    turned = [replace(small, start=full.start), replace(full, start=small.start)]
    others = [run for run in made.plan.runs if run not in (full, small)]
    order = (small.run, full.run, *(run.run for run in others))
    return made, replace(made.plan, runs=(*turned, *others), order=order), asked


def pieces_at(works: dict[str, PlannedWork], op: int) -> dict[int, tuple[int, ...]]:
    """Size → the pieces of the load of that size at an operation."""
    return {work.pieces: work.pieces_of for work in works.values() if work.op == op}


def test_the_load_started_first_has_the_pieces_taken_first() -> None:
    _, turned, asked = small_first()
    assert pieces_at(dict(asked.works), 10) == {13: tuple(range(1, 14)), 2: (14, 15)}

    works = assign_pieces(asked.works, asked.problem, turned)

    assert pieces_at(works, 10) == {2: (1, 2), 13: tuple(range(3, 16))}
    assert pieces_at(works, 30) == {2: (1, 2), 13: tuple(range(3, 16))}, "the load takes them along"
    assert sorted(piece for work in works.values() if work.op == 40 for piece in work.pieces_of) == list(range(1, 16))


def test_pieces_that_may_start_at_different_times_keep_their_loads() -> None:
    _, turned, asked = small_first()
    small = next(id for id, work in asked.works.items() if work.op == 30 and work.pieces == 2)
    later = (StartSpan(MORNING, None),)

    loads = tuple(
        replace(load, runs=tuple(replace(run, allowed=later) if run.id == small else run for run in load.runs))
        for load in asked.problem.loads
    )

    assert assign_pieces(asked.works, replace(asked.problem, loads=loads), turned) == asked.works


def test_pieces_keep_their_loads_where_some_are_not_in_the_plan() -> None:
    _, turned, asked = small_first()
    less = replace(turned, runs=tuple(run for run in turned.runs if asked.works[run.run].pieces != 13))

    assert assign_pieces(asked.works, asked.problem, less) == asked.works


def test_pieces_in_rework_keep_their_loads() -> None:
    _, turned, asked = small_first()
    works = {id: replace(work, forms=(10, "again") if work.forms else None) for id, work in asked.works.items()}

    assert assign_pieces(works, asked.problem, turned) == works


def of_two(small: bool) -> tuple[ShopPlan, Batch]:
    """The plan of a batch that begins with its small load, or with its full one."""
    made, turned, asked = small_first()
    if small:
        made = replace(made, plan=turned, asked=replace(asked, works=assign_pieces(asked.works, asked.problem, turned)))
    return made, open_bench(potted, start=15).state


@pytest.mark.parametrize("small", [True, False])
def test_a_plan_comes_out_the_same_where_nothing_was_done(small: bool) -> None:
    made, batch = of_two(small)
    if not small:
        made = make_plan(
            [build_planning_request([batch], Moment(MORNING), ONE_SHIFT)], effort=0, previous=made, hold=True
        )

    again = make_plan([build_planning_request([batch], Moment(MORNING), ONE_SHIFT)], effort=0, previous=made, hold=True)

    assert next(again.work(run).pieces_of for run in again.plan.runs) == ((1, 2) if small else tuple(range(1, 14)))
    assert sizes(again, 10) == sizes(made, 10)


def sizes(made: ShopPlan, op: int) -> list[int]:
    """Of the loads at an operation, in order of work."""
    return [made.asked.works[run].pieces for run in made.plan.order if made.asked.works[run].op == op]


def test_a_batch_keeps_its_pieces_when_those_of_another_are_dealt() -> None:
    one, other = (replace(open_bench(potted, start=15).state, id=id) for id in ("B1", "B2"))
    asked = build_planning_request([one, other], Moment(MORNING), ONE_SHIFT)
    made = make_plan([asked], effort=0)
    full, small = (run for run in made.plan.runs if (work := asked.works[run.run]).op == 10 and work.batch == "B1")
    first, last = sorted((full, small), key=lambda run: asked.works[run.run].pieces)
    others = tuple(run for run in made.plan.runs if run not in (full, small))

    works = assign_pieces(asked.works, asked.problem, replace(made.plan, runs=(first, last, *others)))

    assert works[first.run].pieces_of == (1, 2)
    assert {id: work for id, work in works.items() if work.batch == "B2"} == {
        id: work for id, work in asked.works.items() if work.batch == "B2"
    }


@pytest.mark.parametrize(("small", "formed", "pieces"), [
    (False, 13, 2),  # the plan loads thirteen first, and they are loaded
    (True, 2, 13),  # it loads two first, and they are
    (True, 14, 1),  # of neither of its loads all pieces wait
])  # fmt: skip
def test_a_plan_of_a_moment_ago_says_nothing_of_what_was_loaded_since(small: bool, formed: int, pieces: int) -> None:
    made, _ = of_two(small)
    bench = open_bench(roomy, start=15)
    bench.form(10, count=formed)

    dues = rank_dues(list_due_tasks([bench.state], bench.clock()), made, MORNING)

    those = tuple(range(formed + 1, 16))
    assert [one.due.loading for one in dues if one.due.go == "form"] == [
        Loading(pieces, those, "Pallet", fit=len(those))
    ]


def roomy() -> Checklist:
    """The potted lid, a pallet of which holds fifteen."""
    carriers = tuple(replace(one, capacity=15) for one in potted().carriers)
    return replace(potted(), carriers=carriers)


def test_what_is_loaded_now_is_what_the_plan_loads_first() -> None:
    for small, pieces, why in ((True, 2, " (13 fit; the plan starts with 2)"), (False, 13, "")):
        made, batch = of_two(small)
        bench = open_bench(potted, start=15)

        first = rank_dues(list_due_tasks([batch], bench.clock()), made, MORNING)[0].due

        assert first.what == f"Load {pieces} of 15 pieces on Pallet{why}"
        assert first.loading is not None
        assert first.loading.pieces == pieces


def test_a_load_formed_as_planned_keeps_its_place_in_the_order_of_work() -> None:
    made, _ = of_two(small=True)
    bench = open_bench(potted, start=15)
    load = bench.form(10, count=2)

    after = build_planning_request([bench.state], bench.clock(), ONE_SHIFT)
    begun = [after.works[run].load for run in rename_runs(made, after.works).order if after.works[run].op == 10]

    assert begun == [load, None]
    assert make_plan([after], effort=0, previous=made, hold=True).whole


def test_what_is_left_of_a_pool_keeps_its_places_when_one_load_of_it_is_formed() -> None:
    """Two full loads with the two left over between them; the first is loaded, the small one is still the next."""
    state = open_bench(potted, start=28).state
    made, laid = planned(state), build_planning_request([state], Moment(MORNING), ONE_SHIFT)
    begun = (run for run in made.plan.order if made.asked.works[run].op == 10)
    full, other, small = sorted(begun, key=lambda run: -made.asked.works[run].pieces)
    order = (full, small, other, *(run for run in made.plan.order if run not in (full, small, other)))
    runs = tuple(sorted(made.plan.runs, key=lambda run: order.index(run.run)))
    between = replace(made.plan, order=order, runs=runs)
    works = assign_pieces(laid.works, laid.problem, between)
    made = replace(made, plan=between, asked=replace(laid, works=works))
    bench = open_bench(potted, start=28)
    load = bench.form(10)

    after = build_planning_request([bench.state], bench.clock(), ONE_SHIFT)
    left = [after.works[run] for run in rename_runs(made, after.works).order if after.works[run].op == 10]

    assert [(work.load, work.pieces) for work in left] == [(load, 13), (None, 2), (None, 13)]


def test_a_load_with_a_piece_that_the_plan_did_not_know_keeps_the_place_of_the_others() -> None:
    made = planned(open_bench(potted, start=15).state)
    works = {id: replace(work, pieces_of=(99, *work.pieces_of), forms=None) for id, work in made.asked.works.items()}

    assert rename_runs(made, works).order == made.plan.order


def test_a_load_whose_pieces_were_taken_is_no_longer_planned() -> None:
    """The plan has the two left over first; a full pallet is loaded instead, which leaves two that were to be later."""
    made, _ = of_two(small=True)
    small, full = (run for run in made.plan.runs if made.asked.works[run.run].op == 10)
    bench = open_bench(potted, start=15)
    bench.form(10)

    after = build_planning_request([bench.state], bench.clock(), ONE_SHIFT)
    begun = {
        after.works[run.run].pieces: run.start
        for run in rename_runs(made, after.works).runs
        if after.works[run.run].op == 10
    }

    assert begun == {13: small.start, 2: full.start}
