"""What rings: each task once it is ready, each window once before it closes, nothing at the first check."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from floor.batch.worklist.due_alarms import SAME_WINDOW, DueAlarms
from floor.batch.worklist.due_task import CLOSING_SOON, DueTask

NOON = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)
MINUTE = timedelta(minutes=1)


def task(**more: object) -> DueTask:
    given = {"urgency": "now", "when": None, "batch": "B0001", "what": "Cut free", "where": "Mill", "load": 3, "op": 30}
    return DueTask(**{**given, **more})  # type: ignore[arg-type]


def test_a_task_rings_once_when_it_has_become_ready() -> None:
    """It names what is to be done now, not the wait that is over."""
    alarms = DueAlarms()
    waits = task(urgency="later", when=NOON + MINUTE, what="Wait for the cure")

    assert alarms.list_news([waits], NOON) == []
    assert alarms.list_news([waits], NOON) == []
    ready = alarms.list_news([task()], NOON + MINUTE)
    assert ready == ["Cut free · 30  · Mill, load 3 · B0001"]
    assert alarms.list_news([task()], NOON + 2 * MINUTE) == []


def test_what_was_ready_at_the_first_check_rings_never() -> None:
    """Whoever starts the program has the list in front of them."""
    alarms = DueAlarms()
    assert alarms.list_news([task()], NOON) == []
    assert alarms.list_news([task()], NOON + MINUTE) == []


def test_a_task_that_goes_away_before_its_time_does_not_ring() -> None:
    alarms = DueAlarms()
    alarms.list_news([task(when=NOON + 5 * MINUTE)], NOON)
    assert alarms.list_news([], NOON + MINUTE) == []


def test_a_window_rings_once_half_an_hour_before_it_closes() -> None:
    alarms = DueAlarms()
    closes = NOON + CLOSING_SOON + MINUTE
    window = task(closes=closes)

    assert alarms.list_news([window], NOON) == []
    assert alarms.list_news([window], NOON + MINUTE) == []  # exactly half an hour left
    (said,) = alarms.list_news([window], NOON + 2 * MINUTE)
    assert said == "Do by 12:31: Cut free · 30  · Mill · B0001"
    assert alarms.list_news([window], NOON + 3 * MINUTE) == []


def test_a_window_that_has_moved_is_news_again() -> None:
    alarms = DueAlarms()
    alarms.list_news([], NOON)
    assert len(alarms.list_news([task(closes=NOON + 20 * MINUTE)], NOON)) == 1
    assert alarms.list_news([task(closes=NOON + 20 * MINUTE + SAME_WINDOW)], NOON) == []
    assert len(alarms.list_news([task(closes=NOON + 22 * MINUTE)], NOON)) == 1
    assert len(alarms.list_news([task(closes=NOON + 22 * MINUTE, load=4)], NOON)) == 1, "another load's window"
