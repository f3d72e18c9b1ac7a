"""A drift in words, for the walk and the charts."""

from __future__ import annotations

from typing import TYPE_CHECKING

from floor.batch.state import Batch
from floor.text import format_count

if TYPE_CHECKING:
    from floor.batch.quality.drifts import Drifting


def describe_drift(one: Drifting) -> str:
    """``groove depth drifts up: about 40 more pieces, at least 22 to its limit 3.1 mm``."""
    way = "up" if one.drift.slope > 0 else "down"
    left = one.to_limit
    if left is None:
        return f"{one.shape.what} drifts {way}"
    limit = one.shape.high if one.drift.slope > 0 else one.shape.low
    more = f"about {format_count(left.about, 'more piece')}, at least {left.at_least}"
    return f"{one.shape.what} drifts {way}: {more} to its limit {f'{limit:.6g} {one.shape.unit}'.strip()}"


def list_drift_warnings(batch: Batch, drifts: list[Drifting], op: int) -> list[str]:
    """The drifts of an operation that reach their limit before its last piece is made, the nearest first."""
    if not drifts:
        return []
    from floor.batch.quality.drifts import count_pieces_to_come  # the first screen asks nothing

    to_come = count_pieces_to_come(batch, op)
    near = [one for one in drifts if one.shape.op == op and one.to_limit is not None and one.to_limit.about < to_come]
    return [describe_drift(one) for one in sorted(near, key=lambda one: one.to_limit.about if one.to_limit else 0)]
