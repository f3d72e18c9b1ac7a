"""Is the stated chance to fill an order right, when the yields of a part vary from batch to batch?

An invented part: each operation has a mean yield; each batch draws its own yields around them (Beta, correlation ρ),
and each load its own around its batch's, with a fifth of the odds of that. The checklist states what a shop knew at
first: the share good of `WEIGHT` pieces of one early batch. For a new order the pieces to start are chosen at 90 and
95 %, by the checklist alone, by the checklist and all pieces of earlier batches counted each as one, and by
`combine_yields`; the new batch is then drawn, and the order filled or not. Nothing of the calculation is used to draw.

``.venv/bin/python -m tests.bench.earlier [TRIALS [SEED]]``
"""

from __future__ import annotations

import random
import sys
from collections.abc import Sequence
from typing import NamedTuple

from floor.figures.earlier_yields import BatchYield, combine_yields
from floor.figures.errors import Impossible
from floor.figures.quality.missing import Missing
from floor.figures.quality.share_by_load import LoadCount, compute_share_by_load
from floor.figures.route_yields import OperationYield
from floor.figures.start_at_estimated_yields import estimate_start_quantity

WEIGHT = 30.0
"""Pieces behind the checklist's estimates, as where it states none."""
ORDER = 60
LOAD = 12
MEANS = (0.97, 0.93, 0.985)
LEVELS = (0.9, 0.95)


class Guess(NamedTuple):
    """What one way of planning believes of an operation."""

    good: float
    weight: float


def draw_beta(random_: random.Random, mean: float, correlation: float) -> float:
    if correlation <= 0:
        return mean
    pieces = 1 / correlation - 1
    return random_.betavariate(mean * pieces, (1 - mean) * pieces)


def draw_loads(random_: random.Random, own: float, pieces: int, within: float) -> list[LoadCount]:
    """What the loads of a batch with this yield count good."""
    loads = []
    for first in range(0, pieces, LOAD):
        size = min(LOAD, pieces - first)
        share = draw_beta(random_, min(max(own, 1e-6), 1 - 1e-6), within)
        loads.append(LoadCount(sum(random_.random() < share for _ in range(size)), size))
    return loads


def guess_all(stated: float, batches: Sequence[tuple[list[LoadCount], float]]) -> dict[str, Guess]:
    """What each way of planning believes of an operation from (loads, age in days) of earlier batches."""
    told = []
    good = pieces = 0
    for loads, days in batches:
        share = compute_share_by_load(loads)
        if not isinstance(share, Missing):
            told.append(BatchYield(share.share, share.worth, days))
            good, pieces = good + share.good, pieces + share.pieces
    found = combine_yields(stated, WEIGHT, 0.0, told)
    return {
        "checklist alone": Guess(stated, WEIGHT),
        "every piece counts": Guess((stated * WEIGHT + good) / (WEIGHT + pieces), WEIGHT + pieces),
        "with earlier batches": Guess(found.good, found.weight),
    }


def run_trial(random_: random.Random, many: int, correlation: float) -> dict[tuple[str, float], tuple[bool, int, int]]:
    """(way, level) → (filled, started, good) of one new batch after so many earlier ones."""
    within = correlation / 5
    means = [draw_beta(random_, mean, 0.01) for mean in MEANS]
    guesses: list[dict[str, Guess]] = []
    for mean in means:
        early = draw_loads(random_, draw_beta(random_, mean, correlation), int(WEIGHT), within)
        stated = min(max(sum(load.good for load in early) / WEIGHT, 0.5), 1 - 0.5 / WEIGHT)
        history = [
            (draw_loads(random_, draw_beta(random_, mean, correlation), 72, within), 60.0 * (n + 1))
            for n in range(many)
        ]
        guesses.append(guess_all(stated, history))
    own = [draw_beta(random_, mean, correlation) for mean in means]
    found = {}
    for way in guesses[0]:
        beliefs = [guess[way] for guess in guesses]
        yields = [OperationYield(f"op {n}", one.good) for n, one in enumerate(beliefs)]
        for level in LEVELS:
            try:
                started = estimate_start_quantity(ORDER, level, yields, [one.weight for one in beliefs]).pieces
            except Impossible:
                continue
            left = started
            for share in own:
                left = sum(load.good for load in draw_loads(random_, share, left, within))
            found[way, level] = left >= ORDER, started, left
    return found


def measure(trials: int = 200, seed: int = 1) -> dict[tuple[float, int, str, float], tuple[float, float]]:
    """(correlation, earlier batches, way, level) → (share of orders filled, mean pieces started)."""
    random_ = random.Random(seed)
    told: dict[tuple[float, int, str, float], list[tuple[bool, int]]] = {}
    for correlation in (0.0, 0.01, 0.03):
        for many in (0, 1, 3, 8):
            for _ in range(trials):
                for (way, level), (filled, started, _) in run_trial(random_, many, correlation).items():
                    told.setdefault((correlation, many, way, level), []).append((filled, started))
    return {
        key: (sum(filled for filled, _ in rows) / len(rows), sum(started for _, started in rows) / len(rows))
        for key, rows in told.items()
    }


def main() -> None:
    trials, seed = (int(text) for text in (*sys.argv[1:], "200", "1")[:2])
    out = sys.stdout.write
    out(f"{'rho':>5} {'earlier':>7}  {'way':<22} {'wanted':>6} {'filled':>6} {'started':>7}\n")
    for (correlation, many, way, level), (filled, started) in measure(trials, seed).items():
        out(f"{correlation:>5} {many:>7}  {way:<22} {level:>6.0%} {filled:>6.1%} {started:>7.1f}\n")


if __name__ == "__main__":
    main()
