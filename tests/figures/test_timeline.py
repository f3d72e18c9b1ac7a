"""Free places over time: what was taken and given back leaves no trace, and every step changes something."""

from __future__ import annotations

from datetime import UTC, datetime, time
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from floor.figures.calendar import Calendar, WorkingTime
from floor.figures.schedule.timeline import CapacityProfile, FreeHands

MONDAY = int(datetime(2026, 3, 2, tzinfo=UTC).timestamp())
SHIFTS = Calendar.weekly("UTC", range(5), time(7), time(15), (time(11), time(12)))
HOUR = 3600

taken = st.lists(st.tuples(st.integers(0, 60), st.integers(0, 8), st.integers(1, 2)), max_size=12)
"""(hour, hours, places) of each."""


@given(taken, st.data())
def test_free_places_are_all_but_those_taken_in_as_few_steps_as_possible(
    taken: list[tuple[int, int, int]], data: st.DataObject
) -> None:
    back = data.draw(st.sets(st.integers(0, max(0, len(taken) - 1)), max_size=len(taken)))
    profile = CapacityProfile(0, 5)
    for start, hours, places in taken:
        profile.take(start, start + hours, places)
    for n in sorted(back & set(range(len(taken)))):
        start, hours, places = taken[n]
        profile.take(start, start + hours, -places)
    left = [one for n, one in enumerate(taken) if n not in back]

    def free(at: int) -> int:
        return 5 - sum(places for start, hours, places in left if start <= at < start + hours)

    assert all(one != other for one, other in pairwise(profile.free))
    assert [profile.clash(at, at + 1, 3) < 0 for at in range(70)] == [free(at) >= 3 for at in range(70)]


@given(taken)
def test_hands_given_back_are_as_if_nobody_had_been_busy(taken: list[tuple[int, int, int]]) -> None:
    crew, rested = (FreeHands(WorkingTime(SHIFTS, MONDAY, 2)) for _ in range(2))
    for start, hours, hands in taken:
        crew.take(MONDAY + start * HOUR, MONDAY + (start + hours) * HOUR, hands)
    for start, hours, hands in taken:
        crew.take(MONDAY + start * HOUR, MONDAY + (start + hours) * HOUR, -hands)

    assert (crew.times, crew.free, crew.present) == (rested.times, rested.free, rested.present)
    assert crew.fit_paused(MONDAY, 40 * HOUR, 2) == rested.fit_paused(MONDAY, 40 * HOUR, 2)


NIGHTS = Calendar.weekly("UTC", range(7), time(15), time(6), (time(22), time(23)))
"""Shifts that run over midnight, where days are added to what is known: eight weeks at a time."""


@given(st.integers(0, 24) | st.integers(53 * 24, 57 * 24), st.integers(1, 14 * 60), st.sampled_from((SHIFTS, NIGHTS)))
def test_where_nobody_is_busy_work_fits_as_into_the_calendar(hour: int, minutes: int, shifts: Calendar) -> None:
    start, length, hours = MONDAY + hour * HOUR, 60 * minutes, WorkingTime(shifts, MONDAY, 1)
    crew = FreeHands(WorkingTime(shifts, MONDAY, 1))

    paused = crew.fit_paused(start, length, 1)

    assert paused is not None
    assert (paused[0][0], paused[-1][1]) == hours.fit(start, length, interruptible=True)
    assert sum(end - begin for begin, end in paused) == length
    if length <= hours.find_longest_stretch():
        assert crew.fit(start, length, 1) == hours.fit(start, length)


@given(taken, st.integers(0, 70), st.integers(1, 6), st.integers(1, 5))
def test_where_places_are_short_it_is_tried_again_when_there_are_enough(
    taken: list[tuple[int, int, int]], start: int, hours: int, need: int
) -> None:
    profile = CapacityProfile(0, 5)
    for at, long, places in taken:
        profile.take(at, at + long, places)

    def free(at: int) -> int:
        return 5 - sum(places for begin, long, places in taken if begin <= at < begin + long)

    short = next((at for at in range(start, start + hours) if free(at) < need), None)
    again = None if short is None else next((at for at in range(short, 999) if free(at) >= need), None)
    if short is None or again is not None:
        assert profile.clash(start, start + hours, need) == (-1 if short is None else again)
