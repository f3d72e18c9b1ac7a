"""Outcomes of pieces along a route, against the fundamental matrix of the whole chain and textbook examples."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from floor.figures.errors import ImpossibleOrder, ImpossibleYield
from floor.figures.route_yields import OperationYield, compute_mean_flow, compute_piece_outcomes, compute_route_yield

GOOD, SCRAP = "good", "scrap"


def absorbed(moves: dict[object, dict[object, float]], start: object) -> tuple[float, dict[object, float]]:
    """(chance to end good, mean visits by state) by N = (I − Q)⁻¹, Kemeny and Snell, Finite Markov Chains, 3.2–3.3."""
    states = list(moves)
    stay = np.array([[moves[a].get(b, 0.0) for b in states] for a in states])
    fundamental = np.linalg.inv(np.eye(len(states)) - stay)
    visits = fundamental[states.index(start)]
    return float(visits @ [moves[a].get(GOOD, 0.0) for a in states]), dict(zip(states, visits, strict=True))


@settings(deadline=None)
@given(
    good=st.floats(0.3, 0.98),
    sent=st.floats(0, 1),
    mends=st.floats(0.05, 1),
    passes=st.integers(0, 5),
)
def test_rework_at_the_operation_equals_the_absorbing_chain(
    good: float, sent: float, mends: float, passes: int
) -> None:
    rework = sent * (1 - good)
    again = sent * (1 - mends)
    moves: dict[object, dict[object, float]] = {"first": {GOOD: good, 0: rework}}
    for k in range(passes):
        moves[k] = {GOOD: mends, k + 1: again}
    moves[passes] = {}

    (fate,) = compute_piece_outcomes([OperationYield("drill", good, rework, mends, passes)])
    ends_good, visits = absorbed(moves, "first")

    assert fate.passed == pytest.approx(ends_good, abs=1e-12)
    assert fate.reworks == pytest.approx(sum(visits[k] for k in range(passes)), abs=1e-12)


@settings(deadline=None)
@given(yields=st.tuples(*[st.floats(0.5, 0.95)] * 3), mends=st.floats(0.1, 1), passes=st.integers(0, 4))
def test_rework_sent_back_equals_the_absorbing_chain(
    yields: tuple[float, float, float], mends: float, passes: int
) -> None:
    """Operation 3 sends half its rejects back to operation 1: states are (operation, passes used)."""
    rework = (1 - yields[2]) / 2
    moves: dict[object, dict[object, float]] = {}
    for used in range(passes + 1):
        moves[0, used] = {(1, used): yields[0]}
        moves[1, used] = {(2, used): yields[1]}
        moves[2, used] = {GOOD: yields[2]} | ({(0, used + 1): rework * mends} if used < passes else {})
    operations = [
        OperationYield("cut", yields[0]),
        OperationYield("fill", yields[1]),
        OperationYield("inspect", yields[2], rework, mends, passes, back_to=0),
    ]

    ends_good, visits = absorbed(moves, (0, 0))
    seen = compute_mean_flow(1000, operations)

    assert compute_route_yield(operations) == pytest.approx(ends_good, abs=1e-12)
    for at in range(3):
        expected = 1000 * sum(visits[at, used] for used in range(passes + 1))
        assert seen[at].visits == pytest.approx(expected, rel=1e-9)


def test_unlimited_rework_is_the_limit_of_many_passes() -> None:
    endless, many = (
        compute_piece_outcomes([OperationYield("polish", 0.7, 0.25, 0.6, passes)])[0].passed for passes in (None, 400)
    )

    assert endless == pytest.approx(many, abs=1e-14)


def test_shares_that_add_up_to_one_but_for_rounding() -> None:
    """A yield of one with a rounding trace of rework is not a division by zero."""
    (fate,) = compute_piece_outcomes([OperationYield("lap", 1.0, 1e-17, 0.5, 3)])

    assert fate.passed == 1.0


def test_flow_of_the_textbook_scrap_example() -> None:
    """97,000 good of three operations with 4, 1 and 3 % scrap (Tompkins et al., Facilities Planning): 105,219 start."""
    operations = [OperationYield("1", 0.96), OperationYield("2", 0.99), OperationYield("3", 0.97)]

    assert [round(step.entering) for step in compute_mean_flow(105_219, operations)] == [105_219, 101_010, 100_000]
    assert compute_mean_flow(105_219, operations)[-1].leaving == pytest.approx(97_000, abs=1)


@settings(deadline=None)
@given(
    steps=st.lists(
        st.tuples(st.floats(0.2, 1), st.floats(0, 1), st.integers(0, 3), st.integers(0, 3)), min_size=1, max_size=6
    ),
    started=st.integers(100, 5000),
)
def test_pieces_are_conserved_on_average(steps: list[tuple[float, float, int, int]], started: int) -> None:
    """What enters an operation leaves it, is used as a test or is scrap; nothing appears."""
    operations = [
        OperationYield(str(n), good, (1 - good) * sent, 0.5, passes, tests=tests)
        for n, (good, sent, passes, tests) in enumerate(steps)
    ]
    seen = compute_mean_flow(started, operations)

    for before, after in zip(seen, seen[1:], strict=False):
        assert after.entering == before.leaving
    for step, operation, fate in zip(seen, operations, compute_piece_outcomes(operations), strict=True):
        assert step.leaving == pytest.approx(max(0, step.entering * fate.passed - operation.tests), abs=1e-9)
        assert 0 <= step.leaving <= step.entering <= step.visits + 1e-9


@pytest.mark.parametrize(
    ("operation", "words"),
    [
        (OperationYield("lap", 0.0), "no piece can pass lap"),
        (OperationYield("lap", 1.2), "yield of lap is 1.2"),
        (OperationYield("lap", -0.1), "yield of lap is -0.1"),
        (OperationYield("lap", float("nan")), "yield of lap is nan"),
        (OperationYield("lap", 0.9, 0.2), "add up to more than 1"),
        (OperationYield("lap", 0.9, 0.1, passes=-1), "-1 rework passes at lap"),
        (OperationYield("lap", 0.9, 0.1, back_to=1), "send it back, not ahead"),
        (OperationYield("lap", tests=-1), "fewer than no test pieces at lap"),
        (OperationYield("lap", tests_per_load=1), "give how many pieces a load holds"),
        (OperationYield("lap", tests_per_load=1, load=0), "a load of 0 pieces at lap"),
        (OperationYield("lap", 0.0, 1.0, 1.0, None, back_to=0), "rework at lap never ends"),
    ],
)
def test_impossible_operations_are_named_with_the_way_out(operation: OperationYield, words: str) -> None:
    with pytest.raises(ImpossibleYield, match=words):
        compute_piece_outcomes([operation])


def test_nothing_started_is_refused() -> None:
    with pytest.raises(ImpossibleOrder, match="start at least one"):
        compute_mean_flow(0, [OperationYield("lap")])
