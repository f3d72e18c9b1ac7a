"""Windows of two timers at once: counted from the end of a run, or by the clock."""

from __future__ import annotations

from datetime import datetime, timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from floor.figures.schedule import StartSpan, StartWindow
from floor.planning.cure_windows import intersect_spans, intersect_windows, list_windows_after_end
from floor.planning.durations import compute_run_duration
from floor.planning.snapshot import take_snapshot
from tests.batch.factory import part
from tests.batch.test_cure_air import CLOSING, coated, curing, read_air
from tests.planning.planned import MORNING, ONE_SHIFT

WINDOWS = st.lists(
    st.builds(
        lambda earliest, length: StartWindow(earliest, None if length is None else earliest + length),
        st.integers(0, 30).map(float),
        st.one_of(st.none(), st.integers(0, 20).map(float)),
    ),
    max_size=3,
)


def is_in(windows: list[StartWindow] | tuple[StartWindow, ...], at: float) -> bool:
    return any(one.earliest <= at and (one.latest is None or at <= one.latest) for one in windows)


@settings(max_examples=40)
@given(WINDOWS, WINDOWS)
def test_a_moment_is_in_both_where_it_is_in_each(some: list[StartWindow], others: list[StartWindow]) -> None:
    both = intersect_windows(some, others)
    for at in (n / 2 for n in range(120)):
        assert is_in(both, at) == (is_in(some, at) and is_in(others, at))


INSTANTS = st.one_of(st.none(), st.integers(0, 30))
SPANS = st.lists(st.tuples(INSTANTS, INSTANTS), max_size=3)


def spans(pairs: list[tuple[int | None, int | None]]) -> tuple[StartSpan, ...]:
    def at(minutes: int | None) -> datetime | None:
        return None if minutes is None else MORNING + timedelta(minutes=minutes)

    return tuple(StartSpan(at(opens), at(shuts)) for opens, shuts in pairs)


def is_open(some: tuple[StartSpan, ...], at: datetime) -> bool:
    return any(
        (one.earliest is None or one.earliest <= at) and (one.latest is None or at <= one.latest) for one in some
    )


@settings(max_examples=40)
@given(SPANS, SPANS)
def test_an_instant_is_in_both_where_it_is_in_each(
    some: list[tuple[int | None, int | None]], others: list[tuple[int | None, int | None]]
) -> None:
    both = intersect_spans(spans(some), spans(others))
    for at in (MORNING + timedelta(seconds=30 * n) for n in range(-2, 64)):
        assert is_open(both, at) == (is_open(spans(some), at) and is_open(spans(others), at))


def test_windows_are_counted_from_the_end_of_the_run_or_of_the_cure_that_ends_it() -> None:
    """Recoat within 1 h or after 48 h. Nothing follows the coat in its run; the cure that ends it takes 12 h."""
    operation = part().ops[20]
    clock = next(clock for clock in operation.clocks if clock.id == "recoat")
    each = compute_run_duration(operation, 4)
    assert list_windows_after_end(operation, clock, each, 0.0) == (StartWindow(0.0, 60.0), StartWindow(48 * 60.0))
    assert list_windows_after_end(operation, clock, each, 12 * 60.0) == (StartWindow(36 * 60.0),)


def test_a_window_that_cold_air_keeps_shut_is_said_with_what_helps() -> None:
    """At 15 degC, 12 h take 24; the window closes after 20."""
    bench, load = curing(lambda: coated(CLOSING))
    assert take_snapshot([bench.state], bench.clock(), ONE_SHIFT).ways[0].obstacles == ()
    read_air(bench, 15, 50)
    (obstacle,) = take_snapshot([bench.state], bench.clock(), ONE_SHIFT).ways[0].obstacles
    assert obstacle.wrong == f"for load {load}, cure closes before it is ready"
    assert obstacle.remedy == "Warm or dry the air if a cure is slow, then record it, or set pieces aside"
