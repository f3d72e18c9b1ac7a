"""One random realization, continued if lost pieces must be made up for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields, replace

from floor.figures.schedule import (
    LoadModel,
    Phase,
    PhaseKind,
    Precedence,
    RunModel,
    RunOutcomes,
    StartSpan,
    YieldBeliefs,
)
from floor.figures.schedule.random_outcomes import RandomDraws, RealizationSampler, RunSequence
from floor.figures.yields import Beta
from tests.figures.schedule_shops import MONDAY
from tests.figures.test_schedule_spread import cut, one_mill


def test_earlier_draws_stay_when_more_is_started_to_make_up_for_losses() -> None:
    problem = one_mill(YieldBeliefs(Beta(4, 4)), wanted=21)
    more = LoadModel("more", "B", (cut("more", 50, RunOutcomes((100, 101), (), YieldBeliefs(Beta(4, 4))), spread=0.1),))
    drawing = RealizationSampler(RandomDraws(5, lambda people: 480.0))
    first = drawing.go(RunSequence(problem))
    lost = list(first.lost)

    then = drawing.go(RunSequence(problem).with_make_up([more]))

    assert lost, "else nothing has to be made up for"
    assert then.problem.loads[:-1] == first.problem.loads
    assert then.lost[: len(lost)] == lost
    assert then.problem.loads[-1].runs[0].phases != more.runs[0].phases, "theirs are drawn"


def test_a_drawing_gone_on_with_is_that_of_the_whole_route() -> None:
    """Starting more does not change the luck of what was there before."""
    problem = one_mill(YieldBeliefs(Beta(4, 4)), wanted=21)
    whole = RunSequence(problem).with_make_up(
        [LoadModel("more", "B", (cut("more", 50, RunOutcomes((100,)), spread=0.1),))]
    )
    in_two = RealizationSampler(RandomDraws(5, lambda people: 480.0))
    in_two.go(RunSequence(problem))

    assert in_two.go(whole) == RealizationSampler(RandomDraws(5, lambda people: 480.0)).go(whole)


def test_a_drawn_run_differs_from_the_planned_one_in_its_lengths_only() -> None:
    """With no default values: anything omitted in the copy would come back as its default."""
    phase = Phase(
        PhaseKind.ATTENDED, 60.0, hands=2, interruptible=True, outlasts_shift=False, spread=0.2, wait=5.0, joined=True,
        stands=False,
    )  # fmt: skip
    assert all(getattr(phase, field.name) != field.default for field in fields(Phase))
    planned = RunModel(
        "r", "op", "mill", (phase,), (Precedence("before"),), 2, phase, "family", (StartSpan(MONDAY),), True,
        RunOutcomes((1, 2), (10.0,), None), (("other", 1),),
    )  # fmt: skip
    assert all(getattr(planned, field.name) != field.default for field in fields(RunModel))

    drawn = RandomDraws(5, lambda people: 480.0).run("B", planned, 1)

    (long,), setup = drawn.phases, drawn.setup
    assert setup is not None
    assert len({long.minutes, setup.minutes, 60.0}) == 3
    assert replace(drawn, phases=(replace(long, minutes=60.0),), setup=replace(setup, minutes=60.0)) == planned


def test_what_becomes_of_pieces_does_not_hang_on_what_is_left_of_their_run() -> None:
    """The run before its start, with its set-up, and when only its end is left."""
    yields = YieldBeliefs(Beta(6, 3), None, None)
    whole = cut("r", fate=RunOutcomes(tuple(range(12)), (), yields), spread=0.2)
    whole = replace(whole, phases=whole.phases * 3, setup=Phase(PhaseKind.ATTENDED, 20, spread=0.3))
    begun = replace(whole, phases=whole.phases[:1], setup=None, under_way=True)

    def lost(run: RunModel, seed: int) -> Sequence[tuple[str, str, int]]:
        problem = replace(one_mill(yields), loads=(LoadModel("1", "B", (run,)),))
        return RealizationSampler(RandomDraws(seed, lambda people: 480.0)).go(RunSequence(problem)).lost

    assert [lost(whole, seed) for seed in range(9)] == [lost(begun, seed) for seed in range(9)]
    assert len({str(lost(whole, seed)) for seed in range(9)}) > 3


def test_the_luck_of_a_piece_does_not_hang_on_what_is_drawn_before_it() -> None:
    """Of forty pieces the first ten are done: the outcome of the others at this operation, and its time, stay."""

    def drawn(first: int) -> dict[int, tuple[tuple[Phase, ...], int]]:
        yields = YieldBeliefs(Beta(9, 3), None, None)
        loads = tuple(
            LoadModel(
                f"{n} of {first}",
                "B",
                (cut(f"{n} of {first}", fate=RunOutcomes(tuple(range(n, n + 5)), (), yields), spread=0.2),),
            )
            for n in range(first, 40, 5)
        )
        going = RealizationSampler(RandomDraws(5, lambda people: 480.0)).go(
            RunSequence(replace(one_mill(yields), loads=loads))
        )
        lost = {run: many for _, run, many in going.lost}
        return {int(load.id.split()[0]): (load.runs[0].phases, lost.get(load.id, 0)) for load in going.problem.loads}

    whole, rest = drawn(0), drawn(10)

    assert rest == {first: what for first, what in whole.items() if first >= 10}
    assert len({many for _, many in rest.values()}) > 1
    assert len({phases for phases, _ in rest.values()}) == len(rest)
