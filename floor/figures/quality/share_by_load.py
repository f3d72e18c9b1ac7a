"""A share of pieces that came in loads, which share their luck: how many pieces it is worth, and its interval."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from floor.dataclass import dataclass
from floor.figures.distributions import find_student_t_quantile
from floor.figures.quality.intervals import Interval, compute_exact_interval
from floor.figures.quality.missing import Missing


class LoadCount(NamedTuple):
    """Of one load."""

    good: int
    pieces: int


@dataclass(frozen=True, slots=True)
class ShareByLoad:
    """What loads say of a share."""

    good: int
    pieces: int
    worth: float
    """Pieces, each with luck of its own, that would tell as much; never more than there were."""
    interval: Interval | Missing

    @property
    def share(self) -> float:
        return self.good / self.pieces


def compute_share_by_load(loads: Sequence[LoadCount], confidence: float = 0.95) -> ShareByLoad | Missing:
    """The share of all pieces, from how much the loads differ.

    The loads' own variance over that of single pieces is the design effect; the exact interval is that of so many fewer
    pieces, and of fewer yet because few loads tell their variance badly.

    Source: Korn and Graubard, *Survey Methodology* 24 (1998), 193-201, as the U.S. National Center for Health
    Statistics uses it (Vital and Health Statistics 2-175, 2017; both from memory).

    Args:
        loads: those without pieces are left out; of one alone, nothing tells how much loads differ.
    """
    counted = [load for load in loads if load.pieces]
    pieces, good = sum(load.pieces for load in counted), sum(load.good for load in counted)
    if not pieces:
        return Missing.EMPTY
    if len(counted) < 2:
        return ShareByLoad(good, pieces, float(counted[0].pieces), Missing.TOO_FEW)
    many, share = len(counted), good / pieces
    effect = 1.0
    if 0 < good < pieces:
        between = math.fsum((load.good - share * load.pieces) ** 2 for load in counted)
        variance = many / (many - 1) * between / pieces**2
        effect = max(variance * pieces / (share * (1 - share)), 1.0)
    worth = pieces / effect
    surely = (1 + confidence) / 2
    blur = find_student_t_quantile(surely, pieces - 1) / find_student_t_quantile(surely, many - 1)
    known = worth * min(blur, 1.0) ** 2
    return ShareByLoad(good, pieces, worth, compute_exact_interval(share * known, known, confidence))
