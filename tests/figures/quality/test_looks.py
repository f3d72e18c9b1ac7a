"""How tests share the 5 %."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from floor.figures.errors import ImpossibleFigure
from floor.figures.quality.looks import (
    FALSE_ALARMS,
    Look,
    adjust_for_tries,
    adjust_for_tries_and_looks,
    find_look,
)


def test_holm_by_hand() -> None:
    """`multipletests` of statsmodels 0.15.0, method holm."""
    found = adjust_for_tries([0.04, 0.001, 0.5, 0.02, 0.03])

    assert found == pytest.approx([0.09, 0.005, 0.5, 0.08, 0.09])
    assert adjust_for_tries([]) == []
    assert adjust_for_tries([0.7, 0.6]) == [1, 1]


@given(st.lists(st.floats(0, 1), max_size=20))
def test_holm_names_step_by_step(p_values: list[float]) -> None:
    """As Holm 1979 puts it: compare the smallest with alpha / m, the next with alpha / (m - 1), and stop at the first
    that fails. `false_discovery_control` of scipy is never stricter."""
    named = set()
    for done, n in enumerate(sorted(range(len(p_values)), key=p_values.__getitem__)):
        if p_values[n] * (len(p_values) - done) > 0.05:
            break
        named.add(n)
    adjusted = adjust_for_tries(p_values)
    assert {n for n, p in enumerate(adjusted) if p <= 0.05} == named
    if p_values:
        assert all(stats.false_discovery_control(p_values) <= [p + 1e-12 for p in adjusted])


def test_all_looks_together_spend_the_whole() -> None:
    """Sum of 1 / (k (k + 1)) over all k is 1 (a telescoping series)."""
    spent = sum(Look(k, 0, 0).alpha for k in range(1, 100_000))

    assert spent == pytest.approx(FALSE_ALARMS, rel=2e-5)
    assert spent < FALSE_ALARMS


def test_p_values_after_tries_and_looks() -> None:
    """Named at look k just when Holm's p is at most 5 % / (k (k + 1))."""
    look = Look(3, 10, 9)

    assert adjust_for_tries_and_looks([0.001, 0.5], look) == pytest.approx([0.001 * 2 * 12, 1])
    assert adjust_for_tries_and_looks([look.alpha / 2 * 0.999, 1.0], look)[0] <= FALSE_ALARMS
    assert adjust_for_tries_and_looks([look.alpha / 2 * 1.001, 1.0], look)[0] > FALSE_ALARMS


@pytest.mark.parametrize(("counts", "look"), [
    ([], None),
    ([3, 0, 2], None),
    ([3, 0, 2, 1], Look(1, 4, 6)),
    ([3, 0, 2, 1, 0, 0], Look(1, 4, 6)),
    ([6, 2], Look(2, 2, 8)),
    ([7, 1], Look(1, 1, 7)),
    ([7, 1, 1], Look(2, 3, 9)),
    ([100, 24], Look(1, 1, 100)),
    ([100, 25], Look(2, 2, 125)),
])  # fmt: skip
def test_a_look_is_due_when_a_quarter_more_are_bad(counts: list[int], look: Look | None) -> None:
    assert find_look(counts) == look


def test_a_batch_has_few_looks() -> None:
    look = find_look([1] * 400)

    assert look is not None
    assert look.number == 18
    assert (look.count, look.next_count) == (337, 422)


@given(st.lists(st.integers(0, 9), max_size=60))
def test_a_look_stays_until_the_next(counts: list[int]) -> None:
    """Folding one load more either keeps the look or makes the next one, which covers all loads."""
    before = find_look(counts[:-1])
    after = find_look(counts)
    if after != before:
        assert after is not None
        assert (after.entries, after.count) == (len(counts), sum(counts))
        assert after.number == (before.number + 1 if before else 1)
        assert before is None or sum(counts) >= before.next_count
    elif before is not None:
        assert sum(counts) < before.next_count


def test_what_cannot_be_counted() -> None:
    with pytest.raises(ImpossibleFigure):
        find_look([-1])
    with pytest.raises(ImpossibleFigure):
        find_look([1], first=0)
    assert find_look([1], first=1) == Look(1, 1, 1)
