"""How far cold or damp air puts off the opening of a timer's window.

A timer states the air that its times hold for, by the coating's data sheet. Colder or damper air lengthens the time to
its opening by `floor.figures.drying.CureRule`; nothing shortens it, and the closing never moves: a window may close
before it opens.

After the last reading that one holds for as long as nobody reads another, so what will be ready is a forecast. A window
that will close before it opens is reported at once: afterwards it is too late to warm the room.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from datetime import datetime, timedelta
from typing import NamedTuple

from floor.batch.open_items import ClockJump
from floor.batch.proof import AirReading
from floor.batch.state import Batch
from floor.batch.walk.clock_jumps import compute_shift_since
from floor.checklist.operation import Clock
from floor.wall import shift_time

READ_BEFORE = timedelta(hours=12)
"""How long before a coat went on its air may have been read (shop decision: a shift and its break)."""
FARTHEST = 30 * 86400.0
"""Seconds ahead of the latest opening that is forecast: a cure that stands still has none (shop decision)."""


class Opening(NamedTuple):
    """When a window opens, on the present clock."""

    at: datetime
    """A forecast while it is still to come."""
    rate: float = 1.0
    """What a second is worth now, 0 to 1: less than 1 in air colder or damper than stated."""


Slow = Callable[[datetime, float], Opening]
"""From the start of a timer and the seconds to its opening, when it opens in the air that was read."""


def find_slowing(batch: Batch, clock: Clock, jumps: Sequence[ClockJump], now: datetime) -> Slow | None:
    """How the air puts off the openings of a timer; None if it states no air, or none was read."""
    if (clock.temperature is None and clock.humidity is None) or not batch.air:
        return None
    from floor.figures.drying import SLIGHT, CureRule, RoomReading, compute_cure_progress

    usual = CureRule()
    warm = clock.temperature.base if clock.temperature is not None else usual.standard_temperature
    rule = CureRule(
        standard_temperature=warm,
        stops_at=min(usual.stops_at, warm),
        standard_humidity=clock.humidity.base if clock.humidity is not None else usual.standard_humidity,
    )

    def slow(start: datetime, seconds: float) -> Opening:
        readings = [
            RoomReading(at.timestamp(), one.temperature, one.humidity)
            for at, one in _list_readings(batch, jumps, start - READ_BEFORE)
        ]
        if not readings:
            return Opening(shift_time(start, seconds))
        progress = compute_cure_progress(readings, start.timestamp(), max(start, now).timestamp(), rule)
        gone = max((now - start).total_seconds(), 0.0)
        took = max(seconds, min(progress.estimate_end(seconds) - start.timestamp(), gone + FARTHEST))
        return Opening(shift_time(start, gone if seconds <= gone < took <= gone + SLIGHT else took), progress.rate)

    return slow


def _list_readings(batch: Batch, jumps: Sequence[ClockJump], since: datetime) -> Iterator[tuple[datetime, AirReading]]:
    """The readings from a moment on, each with its time on the present clock.

    Months of readings are looked at for every timer on a screen: only those that may be late enough are shifted.
    """
    farthest = max(compute_shift_since(jumps, seq) for seq in (0, *(jump.seq for jump in jumps)))
    earliest = shift_time(since, -farthest)
    for one in batch.air:
        if one.at >= earliest:
            at = shift_time(one.at, compute_shift_since(jumps, one.seq))
            if at >= since:
                yield at, one
