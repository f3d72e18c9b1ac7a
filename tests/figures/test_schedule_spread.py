"""The spread of the finish over uncertain times and yields, beside a simulation of the shop made with numpy."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from floor.figures.calendar import Calendar
from floor.figures.schedule import (
    After,
    Batch,
    Kind,
    Load,
    MakeUp,
    Phase,
    Problem,
    Redo,
    Run,
    Station,
    draws,
    plan,
    spread,
)
from floor.figures.yields import Beta
from tests.figures.schedule_shops import MONDAY

GOOD, AGAIN = Beta(40, 6), Beta(6, 2)
PIECES, LOADS = 8, 3
SHORT = ((0.2, 45.0), (0.1, 90.0))
"""Chances of a shortage, and minutes at the mill to make up for it."""


def one_mill() -> Problem:
    """Three loads of eight one after the other, rework of 5 min and 4 a piece, and loads to make up for scrap."""
    redo = Redo(PIECES, GOOD, AGAIN, (Phase(Kind.UNATTENDED, 5),), (4.0,))
    phase = Phase(Kind.UNATTENDED, 60, spread=0.1)
    loads = tuple(Load(f"{n}", "B", (Run(f"{n}", "cut", "mill", (phase,), redo=redo),)) for n in range(LOADS))
    more = tuple(
        MakeUp(chance, (Load(f"more {minutes}", "B", (
            Run(f"more {minutes}", "cut anew", "mill", (Phase(Kind.UNATTENDED, minutes),), (After("2"),)),)),))
        for chance, minutes in SHORT)  # fmt: skip
    return Problem(MONDAY, Calendar.always(), (Station("mill"),), {}, 1, (Batch("B", make_up=more),), loads)


def simulated(runs: int, rework: bool = True, make_up: bool = True) -> np.ndarray:
    """Minutes to the finish. Half of a time's variance is its operation's, half the run's; yields are shared too."""
    rng = np.random.default_rng(7)
    sigma = np.sqrt(np.log(1.01))
    z = np.sqrt(0.5) * rng.normal(size=(runs, 1)) + np.sqrt(0.5) * rng.normal(size=(runs, LOADS))
    total = (60 * np.exp(sigma * z - sigma**2 / 2)).sum(axis=1)
    if rework:
        share = (1 - rng.beta(GOOD.good, GOOD.bad, runs)) * rng.beta(AGAIN.good, AGAIN.bad, runs)
        back = rng.binomial(PIECES, share[:, None], (runs, LOADS))
        total += (np.where(back, 5, 0) + 4 * back).sum(axis=1)
    if make_up:
        draw = rng.random(runs)
        total += np.select([draw < SHORT[0][0], draw < SHORT[0][0] + SHORT[1][0]], [SHORT[0][1], SHORT[1][1]], 0.0)
    return total


@pytest.mark.parametrize(("rework", "make_up"), [(True, True), (True, False), (False, True)])
def test_rework_and_make_up_are_inside_the_band_as_in_the_simulated_shop(rework: bool, make_up: bool) -> None:
    problem = one_mill()
    if not rework:
        problem = replace(problem, loads=tuple(
            replace(load, runs=(replace(load.runs[0], redo=None),)) for load in problem.loads))
    if not make_up:
        problem = replace(problem, batches=(Batch("B"),))
    sample = simulated(100_000, rework, make_up)
    due = float(np.quantile(sample, 0.75))
    problem = replace(problem, batches=tuple(replace(batch, due=MONDAY + timedelta(minutes=due))
                                             for batch in problem.batches))

    found = spread(problem, plan(problem), samples=6000)

    got = [(at - MONDAY).total_seconds() / 60 for at in (found.end.early, found.end.middle, found.end.late)]
    assert got == pytest.approx(list(np.quantile(sample, [0.1, 0.5, 0.9])), abs=4.0)
    assert found.batches["B"].on_time == pytest.approx((sample <= due).mean(), abs=0.035)
    assert found.end.late - found.end.early > timedelta(minutes=60 if make_up else 20)


def test_pieces_that_go_back_to_cure_give_the_station_up() -> None:
    """Every piece goes back once: 10 min at the mill and an hour of cure, while the next load is cut."""
    redo = Redo(2, Beta(0, 1), Beta(1, 0), (Phase(Kind.ATTENDED, 10), Phase(Kind.CURE, 60)), (0.0, 0.0))
    loads = tuple(
        Load(n, "B", (Run(f"{n} cut", "cut", "mill", (Phase(Kind.UNATTENDED, 30),), redo=redo),)) for n in "12")
    problem = Problem(MONDAY, Calendar.always(), (Station("mill"),), {}, 1, (Batch("B"),), loads)

    found = spread(problem, plan(problem), samples=5)

    assert found.end.early == found.end.late == MONDAY + timedelta(minutes=2 * 40 + 60)


@pytest.mark.parametrize(("runs", "most", "drawn"), [(84, 60, 60), (84, 80, 80), (1600, 60, 40), (3200, 60, 20),
                                                     (100_000, 60, 20), (100_000, 5, 5)])  # fmt: skip
def test_a_large_plan_is_drawn_less_often_but_often_enough_for_tenths(runs: int, most: int, drawn: int) -> None:
    one = Run("r", "Mill", None, (Phase(Kind.ATTENDED, 10),))
    many = replace(one_mill(), loads=tuple(Load(str(n), "B", (replace(one, id=str(n)),)) for n in range(runs)))
    assert draws(many, most) == drawn
