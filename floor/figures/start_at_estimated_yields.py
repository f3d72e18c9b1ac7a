"""Start quantity from estimated yields: the same distribution as the forecast of the running batch.

`compute_start_quantity` takes each yield as certain, which is right only if the estimates are exact. They never are:
each is a Beta variable that weighs so many pieces, and its spread means starting more. A batch started with this figure
is not told a moment later to start more.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from contextlib import suppress

from floor.figures.beta_mixture import build_mixture, choose_slice_counts, compute_yield_deviation, match_moments
from floor.figures.distributions import reaches_level
from floor.figures.errors import ImpossibleOrder
from floor.figures.fewest_pieces import find_fewest, normal_quantile
from floor.figures.forecast import EXACT_PIECES, WorkInProcess, compute_good_count_distribution
from floor.figures.pass_probability import NODES, InversionTooCoarse, build_pass_probability
from floor.figures.route_yields import OperationYield, count_pieces_tested
from floor.figures.start_at_known_yields import LARGEST_START, StartQuantity, compute_mean_based_start
from floor.figures.yields import OperationBelief, YieldCounts, update_beliefs

MOST_CARRIED = 10_000
"""Most pieces to ask the forecast for; above, it would take too long."""


def estimate_start_quantity(
    ordered: int,
    confidence: float,
    operations: Sequence[OperationYield],
    weights: Sequence[float],
    *,
    lot: int | None = None,
) -> StartQuantity:
    """Like `compute_start_quantity`, over estimated yields: the fewest pieces to start, and the fewest whole lots.

    Args:
        weights: Pieces that each operation's estimate weighs, as in `update_beliefs`.

    Raises:
        ImpossibleOrder: an order or confidence out of range, or more pieces needed than are searched for.
        ImpossibleYield: as `update_beliefs`.
    """
    if not 0 < confidence < 1:
        raise ImpossibleOrder(
            f"a confidence of {100 * confidence:g} %",
            "choose one above 0 and below 100 %; certainty would need endless pieces",
        )
    if not 1 <= ordered <= LARGEST_START:
        raise ImpossibleOrder(f"an order of {ordered:,} pieces", f"order at least one and at most {LARGEST_START:,}")
    if lot is not None and lot < 1:
        raise ImpossibleOrder(f"a lot of {lot} pieces", "a blank or load holds at least one piece")
    beliefs = update_beliefs(operations, weights, [YieldCounts()] * len(operations))
    mean_based = compute_mean_based_start(ordered, operations)
    tests = count_pieces_tested(ordered, operations)
    while True:
        # More pieces may mean more loads and so more tests: from below, tests and pieces settle on the least pair.
        guess = max(mean_based, _guess(ordered, confidence, beliefs, sum(tests)))
        chance, most = _chance(ordered, guess, beliefs, tests)
        known = ordered + sum(tests) - 1
        found = find_fewest(chance, confidence, known=(known, 0.0), guess=guess, most=most)
        if found is None:
            raise ImpossibleOrder(
                f"{ordered} good pieces with a confidence of {100 * confidence:g} %",
                f"more than {most:,} would have to be started while the yields are known so little; ask for less "
                "confidence, or give the estimates more weight",
            )
        before, tests = tests, count_pieces_tested(found[0], operations)
        if tests == before:
            break
    pieces, probability = found

    def fills(started: int) -> float:
        taken = count_pieces_tested(started, operations)
        return chance(started) if taken == tests else _chance(ordered, started, beliefs, taken)[0](started)

    rounded = -(-pieces // lot) * lot if lot else pieces
    while lot and not reaches_level(fills(rounded), confidence):
        rounded += lot
    return StartQuantity(
        ordered=ordered,
        confidence=confidence,
        piece_yield=math.prod((belief.mean for belief in beliefs), start=1.0),
        pieces=pieces,
        probability=probability,
        tests=sum(tests),
        rounded=rounded,
        rounded_probability=fills(rounded) if rounded != pieces else probability,
        lots=rounded // lot if lot else None,
        mean_based=mean_based,
        mean_based_probability=fills(mean_based),
    )


def estimate_fill_probability(
    started: int, ordered: int, operations: Sequence[OperationYield], weights: Sequence[float]
) -> float:
    """P(good ≥ ordered) for so many pieces started, over estimated yields; equals the forecast of the new batch.

    Raises:
        ImpossibleOrder: nothing ordered.
        ImpossibleYield: as `update_beliefs`.
    """
    if ordered < 1:
        raise ImpossibleOrder(f"an order of {ordered} pieces", "order at least one")
    if started < ordered:
        return 0.0
    beliefs = update_beliefs(operations, weights, [YieldCounts()] * len(operations))
    return _chance(ordered, started, beliefs, count_pieces_tested(started, operations))[0](started)


def _guess(ordered: int, confidence: float, beliefs: Sequence[OperationBelief], tests: int) -> int:
    """Roughly how many pieces give the confidence."""
    mean = math.prod((belief.mean for belief in beliefs), start=1.0)
    square = math.prod((match_moments(belief).mean_square for belief in beliefs), start=1.0)
    wanted = max(0.0, normal_quantile(confidence))
    needed = ordered + tests + wanted * math.sqrt(ordered * (1 - mean))
    return math.ceil(needed / max(mean - wanted * math.sqrt(max(0.0, square - mean * mean)), mean / 4))


def _chance(
    ordered: int, near: int, beliefs: Sequence[OperationBelief], tests: Sequence[int]
) -> tuple[Callable[[int], float], int]:
    """P(good ≥ ordered) as a function of the pieces started, near ``near``; and the most to ask it for."""
    reworked = any(belief.reworkable is not None for belief in beliefs)
    # With few pieces rework is followed case by case, and only the forecast does that.
    if near > EXACT_PIECES and not any(tests) and not (reworked and ordered <= EXACT_PIECES):
        with suppress(InversionTooCoarse):
            # Every piece enters at the start, so each doubt affects the good count by its own deviation.
            cut = choose_slice_counts([compute_yield_deviation(belief) for belief in beliefs])
            laws = [build_mixture(belief, most) for belief, most in zip(beliefs, cut, strict=True)]
            # If the forecast can take over, spend little more time than single Betas would take.
            nodes = 3 * NODES * len(laws) // sum(map(len, laws)) if laws and near <= MOST_CARRIED else NODES
            return build_pass_probability(ordered, laws, near, nodes), 4 * LARGEST_START
    return lambda started: _forecast(started, ordered, beliefs, tests), MOST_CARRIED


def _forecast(started: int, ordered: int, beliefs: Sequence[OperationBelief], tests: Sequence[int]) -> float:
    if not beliefs:
        return float(started >= ordered)
    hand = [WorkInProcess(started if at == 0 else 0, 0, taken) for at, taken in enumerate(tests)]
    return compute_good_count_distribution(0, tuple(hand), tuple(beliefs)).at_least(ordered)
