"""Windows of two timers at once."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from floor.figures.schedule import StartWindow
from floor.planning.cure_windows import intersect_windows

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


@given(WINDOWS, WINDOWS)
def test_a_moment_is_in_both_where_it_is_in_each(some: list[StartWindow], others: list[StartWindow]) -> None:
    both = intersect_windows(some, others)
    for at in (n / 2 for n in range(120)):
        assert is_in(both, at) == (is_in(some, at) and is_in(others, at))
