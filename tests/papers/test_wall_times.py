"""Every time shown is the wall-clock time of that moment, across both daylight-saving changes.

The same work is done in a shop whose wall shows UTC and in one with a zone. What the first says is turned into moments,
and those by the IANA time zone database, as `zoneinfo` of Python's library reads it, into what the second has to say.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from contextlib import suppress
from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from floor.batch.command import Refused
from floor.batch.corrections.commands import Note
from floor.batch.corrections.from_paper import TranscribeAct
from floor.batch.describe import describe
from floor.batch.handover.commands import OfferHandover
from floor.batch.handover.page import build_handover_page
from floor.batch.stations.out_of_service import TakeOutOfService
from floor.batch.walk.commands import BeginRun
from floor.batch.walk.load_clocks import list_load_clocks
from floor.batch.worklist.due_task import say_when
from floor.batch.worklist.tasks import list_due_tasks
from floor.papers.closeout import write_close_out
from floor.papers.handover import write_handover_sheet
from floor.papers.history import write_history
from floor.papers.status import write_status_text
from floor.papers.trace import write_trace
from floor.papers.traveler import write_traveler
from tests.batch.factory import Bench, open_bench

DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
TIME = re.compile(rf"(?:(\d{{4}}-\d\d-\d\d) |({'|'.join(DAYS)}) )?(?<![\d:+-])(\d\d:\d\d)(?![\d:])")
CHANGES = {
    "Europe/Vienna": ("2026-03-29T01:00", "2026-10-25T01:00"),
    "America/New_York": ("2026-03-08T07:00", "2026-11-01T06:00"),
    "Australia/Lord_Howe": ("2026-04-04T15:00", "2026-10-03T15:30"),
}
"""IANA time zone database 2025: UTC of both changes of a year; an hour in the first two, half an hour in the third."""


def moment(date: str, day: str, clock: str, now: datetime) -> datetime:
    """What a time that was shown at ``now``, by a wall that shows UTC, stands for; a weekday is the nearest one."""
    at = time.fromisoformat(clock)
    if date:
        return datetime.combine(datetime.fromisoformat(date), at, UTC)
    away = (DAYS.index(day) - now.weekday() + 3) % 7 - 3 if day else 0
    return datetime.combine(now.date() + timedelta(days=away), at, UTC)


def on_the_wall(at: datetime, now: datetime, zone: ZoneInfo, dated: bool) -> tuple[str, ...]:
    """How it is written; what the record says of itself has its weekday on the same day too."""
    there, today = at.astimezone(zone), now.astimezone(zone).date()
    if dated:
        return (f"{there:%Y-%m-%d %H:%M}",)
    named = f"{DAYS[there.weekday()]} {there:%H:%M}"
    return (f"{there:%H:%M}", named) if there.date() == today else (named,)


def compared(said: str, here: str, now: datetime, zone: ZoneInfo) -> int:
    """How many times a text shows, each compared with the other's."""
    said, here = " ".join(said.split()), " ".join(here.split())
    shown, there = list(TIME.finditer(said)), [found.group() for found in TIME.finditer(here)]
    expected = [
        on_the_wall(moment(date or "", day or "", clock, now), now, zone, bool(date))
        for date, day, clock in (found.groups() for found in shown)
    ]
    assert len(there) == len(expected), f"at {now}: {said}\n{here}"
    for one, found, right in zip(shown, there, expected, strict=True):
        assert found in right, f"at {now}: {said[max(one.start() - 90, 0) : one.end()]} reads {found}, not {right[0]}"
    return len(shown)


def texts(bench: Bench) -> Iterator[str]:
    """What the screens and the papers say of a batch now."""
    batch, now = bench.state, bench.clock()
    hash_ = "0" * 64
    for due in list_due_tasks([batch], now):
        yield f"{say_when(due, now.at)}: {due.sentence} {due.where}"
    for load in batch.list_live_loads():
        yield "; ".join(sentence for _, _, sentence, _ in list_load_clocks(batch, load, now))
        if load.run is not None:
            for line in bench.walk(load.number).lines:
                verdict = f"{line.verdict.why} {line.verdict.clear}" if line.verdict else ""
                yield f"{line.title} {line.evidence} {verdict}"
        yield write_traveler(batch, load.number, now, hash_)
    for section in build_handover_page(batch, now):
        yield "; ".join(line.text for line in section.lines)
    yield write_close_out(batch, now, hash_)
    # An act from paper is shown beside the time of its own entry, whatever the day: tested below.
    yield re.sub(r"\(from\s+paper[^)]*\)", "", write_history(batch, now, hash_))
    yield write_handover_sheet(batch, now, hash_, {}, "AA")
    yield write_status_text([batch], list_due_tasks([batch], now), now)
    yield write_trace(batch, 1, now, hash_)


def first_cut(bench: Bench) -> None:
    bench.form(10, 4)
    bench.through(1)


def coat(bench: Bench) -> None:
    bench.through(1)


def begin_another(bench: Bench) -> None:
    bench.form(10, 4)
    bench.through(2)
    bench.until(2, "count")


def break_down(bench: Bench) -> None:
    back = bench.clock().at + timedelta(hours=30)
    bench.say(TakeOutOfService("oven", "waiting for parts", back))


def from_paper(bench: Bench) -> None:
    with suppress(Refused):  # a clock set back may put that time into the other load's run
        bench.say(TranscribeAct(BeginRun(1, anyway=True), bench.clock().at - timedelta(minutes=20)))


def hand_over(bench: Bench) -> None:
    bench.say(OfferHandover("the oven is down"))


WORK: tuple[Callable[[Bench], None], ...] = (first_cut, coat, begin_another, break_down, from_paper, hand_over)


@given(
    st.sampled_from(sorted(CHANGES)), st.sampled_from((0, 1)), st.integers(-28 * 60, 6 * 60),
    st.lists(st.integers(20, 9 * 60), min_size=len(WORK), max_size=len(WORK)),
    st.lists(st.sampled_from((0, 0, 0, -3700, 5000)), min_size=len(WORK), max_size=len(WORK)),
)  # fmt: skip
@example("Europe/Vienna", 0, -600, [30, 30, 30, 30, 300, 30], [0] * 6)
@example("Europe/Vienna", 1, -600, [30, 30, 30, 30, 300, 30], [0] * 6)
@example("America/New_York", 0, 0, [20, 20, 20, 20, 51, 20], [0, 0, 0, 0, -3700, 0])
@settings(max_examples=8, deadline=None)
@example("America/New_York", 0, 0, [20, 111, 540, 20, 20, 20], [0, -3700, 5000, 0, 0, 0])  # a caution lapses at a line
def test_everything_shown_of_a_batch_is_in_wall_clock_time(
    zone: str, which: int, begins: int, pauses: list[int], steps: list[int]
) -> None:
    start = datetime.fromisoformat(CHANGES[zone][which]).replace(tzinfo=UTC) + timedelta(minutes=begins)
    rules = ZoneInfo(zone)
    plain, there = open_bench(at=start), open_bench(at=start.astimezone(rules))
    seen = 0
    for act, pause, step in zip(WORK, pauses, steps, strict=True):
        for bench in (plain, there):
            bench.clock.forward(60 * pause)
            bench.clock.step(step)
            bench.say(Note("looked"))
            act(bench)
        if act in (first_cut, begin_another, break_down):
            continue
        now = plain.clock().at
        assert there.clock().at == now
        for said, here in zip(texts(plain), texts(there), strict=True):
            seen += compared(said, here, now, rules)
    assert seen > 100


def test_the_trial_would_see_an_hour_that_is_wrong() -> None:
    now = datetime(2026, 3, 28, 20, 0, tzinfo=UTC)
    zone = ZoneInfo("Europe/Vienna")

    assert compared("ripe at Sun 07:00, begun 19:00", "ripe at Sun 09:00, begun 20:00", now, zone) == 2
    with pytest.raises(AssertionError):
        compared("ripe at Sun 07:00", "ripe at Sun 08:00", now, zone)


@pytest.mark.parametrize(("paper", "said"), [
    ("2026-10-25T00:30+02:00", "(from paper: done 00:30, entered 08:00)"),
    ("2026-10-24T23:50+02:00", "(from paper: done Sat 23:50, entered 08:00)"),
])  # fmt: skip
def test_an_act_from_paper_is_shown_in_the_wall_clock_time_of_then(paper: str, said: str) -> None:
    """Entered after the clocks went back, done before."""
    zone = ZoneInfo("Europe/Vienna")
    bench = open_bench(at=datetime(2026, 10, 24, 18, 0, tzinfo=zone))
    bench.form(10, 4)
    bench.clock.until(datetime(2026, 10, 25, 7, 0, tzinfo=UTC))

    bench.say(TranscribeAct(BeginRun(1, anyway=True), datetime.fromisoformat(paper)))

    assert said in describe(bench.state, bench.state.entries[-1])
