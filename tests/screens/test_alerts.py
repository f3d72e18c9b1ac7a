"""How often the program alerts over a shift with a whole order under way."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest

from floor.app import FloorApp
from floor.batch.lifecycle.commands import OpenBatch
from floor.shop import Shop
from floor.shop.simulation import ManualClock, SimulatedOperator
from tests.batch.factory import thermal_break

LOOK = 30.0
"""Seconds from one look of the program to the next, in this test."""


class Watched(ManualClock):
    """A clock that lets the program check now and then while it moves."""

    def __init__(self, at: datetime) -> None:
        super().__init__(at)
        self.app: FloorApp | None = None

    def forward(self, seconds: float) -> None:
        while self.app is not None and seconds > LOOK:
            super().forward(LOOK)
            self.app.announce_due()
            seconds -= LOOK
        super().forward(seconds)
        if self.app is not None:
            self.app.announce_due()


@pytest.fixture
def clock() -> Watched:
    from tests.screens.conftest import MORNING

    return Watched(MORNING)


def test_a_shift_rings_as_often_as_a_person_can_bear(
    shop: Shop, clock: Watched, monkeypatch: pytest.MonkeyPatch
) -> None:
    """About one alert in ten minutes is acceptable, two are the most, more than ten in ten minutes are a flood
    (ISA-18.2, IEC 62682, EEMUA 191, from memory); the same alert within a minute counts as chatter."""
    rung: list[tuple[datetime, str]] = []
    monkeypatch.setattr(FloorApp, "tell", lambda app, news: rung.extend((clock().at, one) for one in news))
    opening = OpenBatch(shop.find_next_id(), thermal_break(), "-", "thermal-break-plate.toml", 96, 108)
    hand = SimulatedOperator(shop, shop.open_batch(opening, "LL").id, "AA", clock, second="BB")
    for _ in range(3):
        morning = clock().at
        hand.shift(morning + timedelta(hours=8))
        clock.until(morning + timedelta(hours=24))

    clock.app = FloorApp(shop, who="AA", ticking=False)
    began = clock().at
    hand.shift(began + timedelta(hours=8))

    assert rung, "a shift with cures and cycles is not silent"
    windows = [
        sum(1 for at, _ in rung if timedelta(0) <= at - began - timedelta(minutes=10 * n) < timedelta(minutes=10))
        for n in range(48)
    ]
    assert sum(windows) / len(windows) <= 1.0, f"{sum(windows)} in the shift"
    assert max(windows) <= 10, "a flood"
    assert sum(1 for many in windows if many > 2) <= len(windows) // 20, windows
    at_once = [text for _, text in rung if text.startswith("Do by ")]
    assert 0 < len(at_once) <= len(rung) / 10, "few are of the highest priority (5 %, ISA-18.2, from memory)"
    for n, (at, text) in enumerate(rung):
        assert not any(text == other and at - before < timedelta(minutes=1) for before, other in rung[:n]), text
