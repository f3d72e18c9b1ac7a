"""The spread of the finish over uncertain times and outcomes, against a simulation with numpy."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from random import Random

import numpy as np
import pytest

from floor.figures.calendar import Calendar
from floor.figures.schedule import (
    BatchModel,
    LoadModel,
    MakeUpLoads,
    Phase,
    PhaseKind,
    ReworkLeg,
    ReworkPath,
    RunModel,
    RunOutcomes,
    SchedulingProblem,
    StationModel,
    YieldBeliefs,
    choose_draw_count,
    simulate_finishes,
    solve_schedule,
)
from floor.figures.schedule.random_outcomes import _chosen
from floor.figures.schedule.uncertainty import Band, compute_band
from floor.figures.yields import Beta
from tests.figures.schedule_shops import MONDAY

GOOD, AGAIN = Beta(40, 6), Beta(6, 2)
SURE, NEVER = Beta(1, 0), Beta(0, 1)
PIECES, LOADS = 8, 3
WANTED = 21
"""Of 24."""


def cut(id: str, minutes: float = 60, fate: RunOutcomes | None = None, spread: float = 0.0) -> RunModel:
    return RunModel(id, "cut", "mill", (Phase(PhaseKind.UNATTENDED, minutes, spread=spread),), fate=fate)


def pieces(load: int, many: int = PIECES) -> tuple[int, ...]:
    return tuple(range(load * many, (load + 1) * many))


def one_mill(yields: YieldBeliefs, *ways: ReworkPath, wanted: int | None = None) -> SchedulingProblem:
    """Three loads of eight in a row; making up takes 20 min plus 5 a piece."""
    loads = tuple(
        LoadModel(f"{n}", "B", (cut(f"{n}", fate=RunOutcomes(pieces(n), (), yields, ways=ways), spread=0.1),))
        for n in range(LOADS)
    )
    anew = (cut(f"more {many}", 20 + 5 * many, RunOutcomes(pieces(0, many))) for many in range(1, 25))
    more = tuple(MakeUpLoads(many, (LoadModel("more", "B", (run,)),)) for many, run in enumerate(anew, 1))
    batch = BatchModel("B", wanted=wanted, passing=0.8, make_up=more if wanted else ())
    return SchedulingProblem(MONDAY, Calendar.always(), (StationModel("mill"),), {}, 1, (batch,), loads)


def in_place(*phases: Phase, each: float = 0.0) -> ReworkPath:
    again = RunModel("again", "cut", "mill", phases, fate=RunOutcomes((0,), (each, *[0.0] * (len(phases) - 1)), None))
    return ReworkPath(1.0, False, (ReworkLeg(None, (again,)),))


def simulated(runs: int, rework: bool) -> np.ndarray:
    """Minutes to the finish. Half of a time's variance is its operation's, half the run's; yields are shared too."""
    rng = np.random.default_rng(7)
    sigma = np.sqrt(np.log(1.01))
    z = np.sqrt(0.5) * rng.normal(size=(runs, 1)) + np.sqrt(0.5) * rng.normal(size=(runs, LOADS))
    total = (60 * np.exp(sigma * z - sigma**2 / 2)).sum(axis=1)
    bad = rng.binomial(PIECES, 1 - rng.beta(GOOD.good, GOOD.bad, (runs, 1)), (runs, LOADS))
    back = rng.binomial(bad, rng.beta(AGAIN.good, AGAIN.bad, (runs, 1))) if rework else np.zeros_like(bad)
    total += np.where(back, 5 + 4 * back, 0).sum(axis=1)  # the others wait for those that go back
    short = np.maximum((bad - back).sum(axis=1) - (PIECES * LOADS - WANTED), 0)
    return total + np.where(short, 20 + 5 * np.ceil(short / 0.8), 0)


@pytest.mark.parametrize("rework", [True, False])
def test_rework_and_make_up_are_inside_the_band_as_in_the_simulated_shop(rework: bool) -> None:
    way = in_place(Phase(PhaseKind.UNATTENDED, 9), each=4.0)
    problem = one_mill(*((YieldBeliefs(GOOD, AGAIN, SURE), way) if rework else (YieldBeliefs(GOOD),)), wanted=WANTED)
    sample = simulated(100_000, rework)
    due = float(np.quantile(sample, 0.75))
    problem = replace(problem, batches=(replace(problem.batches[0], due=MONDAY + timedelta(minutes=due)),))

    found = simulate_finishes(problem, solve_schedule(problem), samples=2000)

    early, middle, late = ((at - MONDAY) / timedelta(minutes=1) for at in band_ends(found.end))
    least, half, most = np.quantile(sample, [0.1, 0.5, 0.9])
    assert least - 15 - 4.0 <= early <= least + 4.0, "rounded down to a quarter hour"
    assert most - 4.0 <= late <= most + 15 + 4.0, "rounded up to one"
    assert middle == pytest.approx(half, abs=7.5 + 4.0)
    assert found.batches["B"].on_time == pytest.approx((sample <= due).mean(), abs=0.035)


def test_an_order_is_through_with_the_last_piece_that_is_wanted() -> None:
    problem = one_mill(YieldBeliefs(SURE), wanted=2 * PIECES)
    steady = replace(problem, loads=tuple(
        replace(load, runs=(cut(load.id, fate=load.runs[0].fate),)) for load in problem.loads))  # fmt: skip

    found = simulate_finishes(steady, solve_schedule(steady), samples=3)

    assert found.batches["B"].late == MONDAY + timedelta(minutes=120), "the third load is not needed"
    assert solve_schedule(steady).end == MONDAY + timedelta(minutes=180)


def test_pieces_that_are_lost_take_no_time_any_more() -> None:
    """All are lost at the first operation or none: the second takes 10 min a piece, or nothing."""
    first = cut("first", fate=RunOutcomes(pieces(0), (), YieldBeliefs(NEVER)))
    second = replace(cut("second", 80, RunOutcomes(pieces(0), (10.0,))), operation="turn", station=None)
    problem = SchedulingProblem(
        MONDAY,
        Calendar.always(),
        (StationModel("mill"),),
        {},
        1,
        (BatchModel("B"),),
        (LoadModel("1", "B", (first, second)),),
    )

    found = simulate_finishes(problem, solve_schedule(problem), samples=3)

    assert found.end.early == found.end.late == MONDAY + timedelta(minutes=60)


def test_what_waits_for_its_load_alone_is_through_with_it() -> None:
    """The first load is done with its own piece after 60 min and has two more aboard: three are wanted."""
    problem = one_mill(YieldBeliefs(SURE), wanted=3)
    first = cut("0", 60, RunOutcomes((1,), (), None, waiting=2))
    steady = replace(problem, loads=(LoadModel("0", "B", (first,)), *problem.loads[1:]))

    assert simulate_finishes(steady, solve_schedule(steady), samples=3).batches["B"].late == MONDAY + timedelta(
        minutes=60
    )


def test_pieces_that_go_back_to_cure_give_the_station_up() -> None:
    """Every piece goes back once: 10 min at the mill and an hour of cure, while the next load is cut."""
    way = in_place(Phase(PhaseKind.ATTENDED, 10), Phase(PhaseKind.CURE, 60))
    loads = tuple(
        LoadModel(
            n, "B", (cut(n, 30, RunOutcomes(pieces(int(n), 2), (), YieldBeliefs(NEVER, SURE, SURE), ways=(way,))),)
        )
        for n in "12"
    )
    problem = SchedulingProblem(MONDAY, Calendar.always(), (StationModel("mill"),), {}, 1, (BatchModel("B"),), loads)

    found = simulate_finishes(problem, solve_schedule(problem), samples=5)

    assert found.end.early == found.end.late == MONDAY + timedelta(minutes=2 * 40 + 60)


@pytest.mark.parametrize(("own", "through"), [(True, 70), (False, 160)])
def test_what_rides_on_its_own_load_holds_up_no_others(own: bool, through: int) -> None:
    """About half of the pieces go back to cure for 90 min; packing the others, which are wanted, waits or does not."""
    again = RunModel("again", "coat", None, (Phase(PhaseKind.CURE, 90),), fate=RunOutcomes((0,), (0.0,), None))
    way = ReworkPath(1.0, own, (ReworkLeg(None, (again,)),))
    first = cut("first", fate=RunOutcomes(tuple(range(40)), (), YieldBeliefs(Beta(1e9, 1e9), SURE, SURE), ways=(way,)))
    pack = RunModel("pack", "pack", None, (Phase(PhaseKind.CURE, 10),), fate=RunOutcomes(tuple(range(40))))
    problem = SchedulingProblem(
        MONDAY,
        Calendar.always(),
        (StationModel("mill"),),
        {},
        1,
        (BatchModel("B", wanted=4),),
        (LoadModel("1", "B", (first, pack)),),
    )

    found = simulate_finishes(problem, solve_schedule(problem), samples=20)

    assert found.batches["B"].early == found.batches["B"].late == MONDAY + timedelta(minutes=through)


def test_a_lost_piece_is_started_again_as_soon_as_known_and_may_be_lost_again() -> None:
    """The first of two operations passes three of five; replacements do not wait for the second one."""
    some = YieldBeliefs(Beta(3e9, 2e9))

    def load(id: str, fate: RunOutcomes) -> LoadModel:
        slow = RunModel(f"{id} slow", "soak", None, (Phase(PhaseKind.CURE, 600),), fate=RunOutcomes(fate.pieces))
        return LoadModel(id, "B", (cut(f"{id} cut", 60, fate), slow))

    other = RunModel("2", "rest", None, (Phase(PhaseKind.CURE, 600),), fate=RunOutcomes((2,)))
    problem = SchedulingProblem(MONDAY, Calendar.always(), (StationModel("mill"),), {}, 1, (
        BatchModel("B", wanted=2, make_up=(MakeUpLoads(1, (load("more", RunOutcomes((1,), (), some)),)),)),), (
        load("1", RunOutcomes((1,), (), some)), LoadModel("2", "B", (other,)),
    ))  # fmt: skip

    found = simulate_finishes(problem, solve_schedule(problem), samples=400)

    minutes = [(at - MONDAY).total_seconds() / 60 for at in (found.end.early, found.end.late)]
    assert minutes == [660, 660 + 2 * 60], "84 of 100 are lost once at the most, 94 twice"


@pytest.mark.parametrize(("runs", "most", "drawn"), [(84, 60, 60), (84, 80, 80), (400, 80, 20),
    (1000, 60, 8), (1143, 60, 6), (3200, 60, 6), (8000, 60, 6), (100_000, 5, 5)])  # fmt: skip
def test_a_large_plan_is_drawn_less_often_but_often_enough_for_tenths(runs: int, most: int, drawn: int) -> None:
    one = RunModel("r", "Mill", None, (Phase(PhaseKind.ATTENDED, 10),))
    loads = tuple(LoadModel(str(n), "B", (replace(one, id=str(n)),)) for n in range(runs))
    many = replace(one_mill(YieldBeliefs(SURE)), loads=loads)
    assert choose_draw_count(many, most) == drawn


@pytest.mark.parametrize("draws", [6, 12, 20, 60, 200])
def test_the_next_end_lies_in_the_band_eight_times_in_ten_however_few_draws_it_has(draws: int) -> None:
    """Ranks alone, or a distribution taken as known, would give a band that holds seven ends in ten."""
    problem, random = one_mill(YieldBeliefs(SURE)), np.random.default_rng(1)
    now = int(MONDAY.timestamp())
    ends = now + np.round(86_400 * random.lognormal(1.0, 0.3, (3000, draws + 1))).astype(int)
    due = MONDAY + timedelta(days=3)

    bands = [compute_band(problem, mine.tolist(), due) for mine in ends[:, :-1]]

    early = np.array([band.early.timestamp() for band in bands])
    late = np.array([band.late.timestamp() for band in bands])
    assert np.mean((early <= ends[:, -1]) & (ends[:, -1] <= late)) == pytest.approx(0.8, abs=0.02)
    assert np.mean([band.on_time for band in bands]) == pytest.approx(np.mean(ends <= due.timestamp()), abs=0.01)
    assert np.mean([band.middle.timestamp() for band in bands]) == pytest.approx(np.median(ends), abs=0.05 * 86_400)


def band_ends(band: Band) -> tuple[datetime, datetime, datetime]:
    return band.early, band.middle, band.late


@pytest.mark.parametrize(("draws", "least", "half", "most"), [
    ([*range(100, 130)], 90, 114.5, 135),  # of thirty the 3rd and the 28th: of 31 gaps a tenth at either end
    ([100] * 15 + [900] * 15, 90, 900, 900),  # a night between them: the later of the two next to the middle
    ([100] * 15 + [160] * 15, 90, 130, 165),  # an hour between them
    # 300 min in the middle of the logarithms, which spread by 1.158; t(0.9, 9) = 1.383: times or by exp 1.68
    ([100] * 5 + [900] * 5, 45, 105, 1620),
    ([100] * 30, 100, 100, 100),
])  # fmt: skip
def test_a_band_is_rounded_to_quarter_hours_and_its_middle_is_near_a_draw(
    draws: list[int], least: float, half: float, most: float
) -> None:
    now = int(MONDAY.timestamp())

    found = compute_band(one_mill(YieldBeliefs(SURE)), [now + 60 * end for end in draws], None)

    assert tuple((at - MONDAY) / timedelta(minutes=1) for at in band_ends(found)) == (least, half, most)


def test_the_middle_of_a_band_over_an_hour_wide_is_rounded_too() -> None:
    now = int(MONDAY.timestamp())
    hour, more = (
        compute_band(one_mill(YieldBeliefs(SURE)), [now + 6000] * 15 + [now + 6000 + wide] * 15, None).middle
        for wide in (3600, 3601)
    )
    assert (hour, more) == (MONDAY + timedelta(minutes=130), MONDAY + timedelta(minutes=135))


def test_each_way_of_rework_is_gone_as_often_as_its_share() -> None:
    ways = [ReworkPath(share, False, ()) for share in (1.0, 6.0, 3.0)]
    random = Random(3)

    gone = [_chosen(ways, random) for _ in range(4000)]

    assert [gone.count(n) / 4000 for n in range(3)] == pytest.approx([0.1, 0.6, 0.3], abs=0.03)
    assert _chosen(ways[:1], random) == 0


def test_a_band_does_not_start_before_now() -> None:
    problem = replace(one_mill(YieldBeliefs(SURE)), now=MONDAY + timedelta(minutes=5))
    now = int(problem.now.timestamp())

    assert compute_band(problem, [now + 60 * end for end in range(1, 31)], None).early == problem.now
    assert compute_band(problem, [now + 60] * 20 + [now + 7200] * 10, None).middle == problem.now


def test_a_band_of_one_draw_is_that_draw() -> None:
    end = int(MONDAY.timestamp()) + 3600
    found = compute_band(one_mill(YieldBeliefs(SURE)), [end], None)
    assert found.early == found.middle == found.late == MONDAY + timedelta(hours=1)
