"""How many more pieces, at what cost, and when to warn."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from floor.figures.errors import Impossible
from floor.figures.forecast import WorkInProcess, forecast_good_count
from floor.figures.top_up import WarningDecision, compute_top_up, decide_warning
from floor.figures.yields import Beta, OperationBelief

ROUTE = [
    OperationBelief(Beta(45, 5)),
    OperationBelief(Beta(95, 5), Beta(2, 2), Beta(8, 2)),
    OperationBelief(Beta(30, 0)),
]
HAND = [WorkInProcess(0), WorkInProcess(60), WorkInProcess(30, 1)]


def test_known_yield_needs_what_the_negative_binomial_says() -> None:
    """With a yield known from a thousand million pieces, an empty shop needs scipy's nbinom quantile."""
    more = compute_top_up(
        100, 0, [WorkInProcess()], [OperationBelief(Beta(9e8, 1e8))], level=0.95, at=0, minutes=[1], most=5000
    )

    assert more is not None
    assert more.pieces == 100 + stats.nbinom.ppf(0.95, 100, 0.9) == 117


def test_uncertain_yield_needs_what_the_beta_binomial_says() -> None:
    """Posterior Beta(36, 4): the least n with betabinom.sf(69, n, 36, 4) ≥ 0.9 (scipy)."""
    more = compute_top_up(
        70, 0, [WorkInProcess(75)], [OperationBelief(Beta(36, 4))], level=0.9, at=0, minutes=[1], most=5000
    )

    assert more is not None
    assert 75 + more.pieces == next(n for n in range(70, 200) if stats.betabinom.sf(69, n, 36, 4) >= 0.9)


def test_fewest_pieces_at_each_place_and_their_hours() -> None:
    """Later operations need fewer; the work is each pass times the pieces that reach it (by hand)."""
    ways = [
        compute_top_up(90, 0, HAND, ROUTE, level=0.9, at=at, minutes=[6, 2, 1], most=5000, rework_minutes=[0, 10, 0])
        for at in range(3)
    ]

    for at, way in enumerate(ways):
        assert way is not None
        for pieces, enough in ((way.pieces, True), (way.pieces - 1, False)):
            hand = list(HAND)
            hand[at] = WorkInProcess(hand[at].waiting + pieces, hand[at].rework)
            assert (forecast_good_count(90, 0, hand, ROUTE).probability >= 0.9) is enough
    first, second, third = (way for way in ways if way)
    assert first.pieces >= second.pieces >= third.pieces
    passed = 0.95 + 0.05 * 0.5 * 0.8
    assert third.hours == pytest.approx(third.pieces * 1 / 60)
    assert second.hours == pytest.approx(second.pieces * (2 + 0.025 * 10 + passed) / 60)
    assert first.hours == pytest.approx(first.pieces * (6 + 0.9 * (2 + 0.025 * 10 + passed)) / 60)


def test_enough_already_costs_nothing() -> None:
    more = compute_top_up(50, 0, HAND, ROUTE, level=0.9, at=0, minutes=[6, 2, 1], most=5000)

    assert more is not None
    assert (more.pieces, more.hours) == (0, 0)


def test_out_of_reach_is_reported_and_not_searched_forever() -> None:
    assert compute_top_up(500, 0, HAND, ROUTE, level=0.9, at=0, minutes=[6, 2, 1], most=50) is None


@pytest.mark.parametrize(
    ("level", "at", "minutes"), [(1.0, 0, [1] * 3), (0.0, 0, [1] * 3), (0.9, 3, [1] * 3), (0.9, 0, [1])]
)
def test_impossible_questions_are_refused(level: float, at: int, minutes: list[float]) -> None:
    with pytest.raises(Impossible):
        compute_top_up(90, 0, HAND, ROUTE, level=level, at=at, minutes=minutes, most=5000)


class TestShouldSay:
    def test_once_quietly(self) -> None:
        """Falls under 0.9, hovers about it, recovers well clear, falls again: two words in all."""
        armed, said = True, []
        for probability in (0.97, 0.91, 0.89, 0.80, 0.91, 0.89, 0.92, 0.94, 0.89, 0.5):
            answer = decide_warning(armed, probability, 0.9)
            armed = answer.armed
            said.append(answer.say)

        assert [n for n, spoke in enumerate(said) if spoke] == [2, 8]

    def test_a_batch_that_starts_low_is_spoken_of(self) -> None:
        assert decide_warning(True, 0.2, 0.9) == WarningDecision(True, False)

    def test_near_certainty_half_the_way_there_is_clear(self) -> None:
        """At 0.98 no chance is 0.03 above the level: it is clear of it from 0.99 on, and not before."""
        assert decide_warning(False, 0.9899, 0.98) == WarningDecision(False, False)
        assert decide_warning(False, 0.9901, 0.98) == WarningDecision(False, True)

    @settings(max_examples=50, deadline=None)
    @given(history=st.lists(st.floats(0, 1), max_size=40), level=st.floats(0.05, 0.999))
    def test_never_twice_without_a_recovery_between(self, history: list[float], level: float) -> None:
        armed, recovered = True, True
        for probability in history:
            answer = decide_warning(armed, probability, level)
            assert not answer.say or (recovered and probability < level)
            assert answer.say or probability >= level or not armed
            recovered = not answer.say and (recovered or probability >= level + min(0.03, (1 - level) / 2))
            armed = answer.armed
