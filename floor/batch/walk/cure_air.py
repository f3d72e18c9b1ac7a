"""How far cold or damp air puts off the opening of a timer's window.

A timer states the air that its times hold for, by the coating's data sheet. Colder or damper air lengthens the time to
its opening by `floor.figures.drying.CureRule`; nothing shortens it, and the closing never moves.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from typing import NamedTuple

from floor.batch.open_items import ClockJump
from floor.batch.state import Batch
from floor.batch.walk.clock_jumps import compute_shift_since
from floor.checklist.operation import Clock
from floor.wall import shift_time

READ_BEFORE = timedelta(hours=12)
"""How long before a coat went on its air may have been read (shop decision: a shift and its break)."""
FARTHEST = 30 * 86400.0
"""Seconds ahead of the latest opening that is forecast: a cure that stands still has none (shop decision)."""
SLIGHT = 0.01
"""Seconds that the sum of a cure may be off."""


class Opening(NamedTuple):
    """When a window opens, on the present clock."""

    at: datetime
    """Now, if it is open."""
    rate: float = 1.0
    """What a second is worth now, 0 to 1: less than 1 in air colder or damper than stated."""


Slow = Callable[[datetime, float], Opening]
"""From the start of a timer and the seconds to its opening, when it opens in the air that was read."""


def find_slowing(batch: Batch, clock: Clock, jumps: Sequence[ClockJump], now: datetime) -> Slow | None:
    """How the air puts off the openings of a timer; None if it states no air, or none was read."""
    if (clock.temperature is None and clock.humidity is None) or not batch.air:
        return None
    from floor.figures.drying import CureRule, RoomReading, compute_cure_progress

    usual = CureRule()
    warm = clock.temperature.base if clock.temperature is not None else usual.standard_temperature
    rule = CureRule(
        standard_temperature=warm,
        stops_at=min(usual.stops_at, warm),
        standard_humidity=clock.humidity.base if clock.humidity is not None else usual.standard_humidity,
    )
    read = [(shift_time(one.at, compute_shift_since(jumps, one.seq)), one) for one in batch.air]

    def slow(start: datetime, seconds: float) -> Opening:
        readings = [
            RoomReading(at.timestamp(), one.temperature, one.humidity) for at, one in read if at >= start - READ_BEFORE
        ]
        if not readings:
            return Opening(shift_time(start, seconds))
        progress = compute_cure_progress(readings, start.timestamp(), max(start, now).timestamp(), rule)
        rest = progress.estimate_rest(seconds)
        return Opening(shift_time(max(start, now), min(rest, FARTHEST)) if rest > SLIGHT else now, progress.rate)

    return slow
