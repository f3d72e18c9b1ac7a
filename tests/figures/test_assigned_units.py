"""Numbers of places and people: from one, the lowest that is free."""

from __future__ import annotations

import pytest

from floor.figures.calendar import Calendar
from floor.figures.schedule import (
    BatchModel,
    LoadModel,
    Phase,
    PhaseKind,
    RunModel,
    SchedulingProblem,
    StationModel,
    solve_schedule,
)
from floor.figures.schedule.assigned_units import Booking, assign_units
from tests.figures.schedule_shops import MONDAY


def test_the_lowest_free_units_are_given_and_one_is_free_as_soon_as_it_is_given_back() -> None:
    """Task 0 has two from 0 to 10, task 1 one from 5 to 20; at 10 two are free again, at 15 none of the first three."""
    given = assign_units(
        [Booking(15, 16, 1, 3, 0), Booking(0, 10, 2, 0, 0), Booking(10, 20, 2, 2, 1), Booking(5, 20, 1, 1, 0)]
    )
    assert given == {(0, 0): (1, 2), (1, 0): (3,), (2, 1): (1, 2), (3, 0): (4,)}


@pytest.mark.parametrize("setup", [None, Phase(PhaseKind.ATTENDED, 5)])
def test_the_places_of_a_station_are_numbered_from_one_with_set_ups_or_without(setup: Phase | None) -> None:
    loads = tuple(
        LoadModel(
            str(n),
            "B",
            (RunModel(f"{n} cut", "cut", "mill", (Phase(PhaseKind.UNATTENDED, 60),), setup=setup, family="a"),),
        )
        for n in range(2)
    )
    made = solve_schedule(
        SchedulingProblem(
            MONDAY, Calendar.always(), (StationModel("mill", places=2),), {}, 2, (BatchModel("B"),), loads
        )
    )
    assert sorted(run.places for run in made.runs) == [(1,), (2,)]
