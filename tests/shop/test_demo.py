"""The demo shop: what its two and a half days hold, and that nothing somebody entered is ever cleared with it."""

from __future__ import annotations

import tempfile
from datetime import UTC, date, datetime, timedelta, timezone
from pathlib import Path

import pytest

from floor.entry import Moment
from floor.shop import Shop
from floor.shop.demo import MARKER, NotADemo, clear_demo, hold_demo, list_entered, make_demo
from floor.shop.simulation import ManualClock

NOW = datetime(2026, 5, 6, 10, tzinfo=timezone(timedelta(hours=2)))
UP = 500_000.0


def test_the_demo_is_a_half_done_batch_made_by_commands_up_to_this_minute(tmp_path: Path) -> None:
    """One test and not five: it is made once, which takes seconds."""
    clock = ManualClock(NOW)
    clock.moment = Moment(NOW, "m-1", UP)
    demo = make_demo(tmp_path / "new" / "shop", clock)
    three_people_work_one_order_that_is_due_in_six_days(demo)
    it_begins_52_hours_ago_by_a_clock_that_was_never_set_and_ends_before_now(demo)
    two_days_and_a_morning_are_worked_up_to_the_minute(demo)
    it_is_handed_over_twice_with_every_count_and_every_timer_read_back(demo)
    its_gauges_fall_due_one_after_the_other(demo)
    demo.close()


def three_people_work_one_order_that_is_due_in_six_days(demo: Shop) -> None:
    [batch] = demo.batches
    assert [(one.initials, one.name, one.lead, one.has_pin) for one in demo.people.active] == [
        ("RK", "Rosa Keel", True, False), ("TN", "Tomas Nye", False, False), ("MO", "Mina Ode", False, False)
    ]  # fmt: skip
    assert (batch.id, batch.order, len(batch.places), batch.reference) == ("B0001", 96, 108, "PO 7731")
    assert (batch.due, batch.file) == (date(2026, 5, 12), "thermal-break-plate.toml")
    assert [entry.by for entry in batch.entries[:1]] == ["TN"]


def it_begins_52_hours_ago_by_a_clock_that_was_never_set_and_ends_before_now(demo: Shop) -> None:
    [batch] = demo.batches
    first, last = batch.entries[0], batch.entries[-1]

    assert NOW - first.time == timedelta(hours=52)
    assert timedelta() <= NOW - last.time <= timedelta(minutes=25)
    assert {(one.boot, NOW - one.time == timedelta(seconds=UP - one.up)) for one in batch.entries} == {("m-1", True)}
    assert demo.now() == Moment(NOW, "m-1", UP)
    assert not demo.troubles


def two_days_and_a_morning_are_worked_up_to_the_minute(demo: Shop) -> None:
    """Pieces that came in good and out of how many, at each count: the times follow from the checklist's."""
    [batch] = demo.batches
    counts = [entry for entry in batch.entries if entry.kind == "counted"]
    assert [(f"{one.time:%d %H:%M:%S}", one.by, *map(one.body.get, ("op", "good", "in"))) for one in counts] == [
        ("04 07:10:28", "TN", 10, 15, 16), ("04 07:18:00", "TN", 20, 15, 15), ("04 08:24:44", "TN", 10, 16, 16),
        ("04 08:31:12", "TN", 20, 16, 16), ("04 09:37:56", "TN", 10, 16, 16), ("04 09:44:24", "TN", 20, 16, 16),
        ("04 10:51:08", "TN", 10, 16, 16), ("04 10:57:36", "TN", 20, 16, 16), ("04 12:04:20", "TN", 10, 16, 16),
        ("04 12:10:48", "TN", 20, 16, 16), ("04 13:22:20", "TN", 10, 16, 16), ("04 13:28:48", "TN", 20, 16, 16),
        ("05 08:13:52", "MO", 30, 12, 15), ("05 08:22:28", "MO", 20, 2, 2), ("05 09:24:00", "MO", 30, 16, 16),
        ("05 10:49:44", "MO", 40, 15, 16), ("05 11:48:12", "MO", 30, 16, 16), ("06 05:30:01", "TN", 40, 16, 16),
        ("06 06:30:21", "TN", 30, 16, 16), ("06 07:54:13", "TN", 40, 16, 16), ("06 07:59:17", "TN", 50, 15, 15),
        ("06 08:58:29", "TN", 30, 16, 16), ("06 09:07:49", "TN", 60, 2, 4), ("06 09:19:33", "TN", 50, 16, 16),
        ("06 09:25:53", "TN", 70, 2, 2), ("06 09:35:29", "TN", 60, 4, 4),
    ]  # fmt: skip
    marks = [(mark["reason"], mark["to"], *mark["places"]) for one in counts for mark in one.body["marks"]]
    assert marks == [
        ("chatter", "scrap", "B3"), ("void", "rework", "A4", "D1"), ("bridge", "scrap", "C1"),
        ("tab tear", "scrap", "B2"), ("seat depth", "scrap", "A2"), ("fill loose", "hold", "A3"),
    ]  # fmt: skip
    assert [(f"{one.time:%d %H:%M:%S}", one.body["tool"]) for one in batch.entries if one.kind == "disturbed"] == [
        ("04 12:15:36", 1)
    ]
    assert {run.station: f"{run.started:%H:%M:%S}" for run in batch.list_open_runs() if run.started is not None} == {
        "router": "09:01:09", "oven": "08:10:25", "mill": "09:38:25"
    }  # fmt: skip
    assert (batch.total("scrap"), batch.total("hold")) == (4, 1)


def it_is_handed_over_twice_with_every_count_and_every_timer_read_back(demo: Shop) -> None:
    [batch] = demo.batches
    said = ("unattended", "from")
    told = [
        (f"{one.time:%d %H:%M:%S}", one.kind, one.by, *(one.body[key] for key in said if key in one.body))
        for one in batch.entries
        if one.kind in ("handover_offered", "page_read", "handover_accepted", "noted", "waived")
    ]
    assert told == [
        ("04 14:00:00", "noted", "TN"),
        ("04 14:00:00", "handover_offered", "TN", False),
        ("04 14:02:00", "page_read", "MO"),
        ("04 14:05:55", "handover_accepted", "MO", "TN"),
        ("05 13:00:00", "handover_offered", "MO", True),
        ("06 04:02:00", "page_read", "TN"),
        ("06 04:05:05", "handover_accepted", "TN", "MO"),
        ("06 07:37:25", "waived", "RK"),
    ]
    kinds = [entry.kind for entry in batch.entries]
    assert (kinds.count("carrier_counted"), kinds.count("read_back")) == (14, 7)
    [waived] = [entry for entry in batch.entries if entry.kind == "waived"]
    assert (waived.body["op"], waived.body["title"]) == (40, "Measure width across the flats")
    assert list(batch.waivers) == [waived.seq]
    assert not batch.list_open_differences()
    [note] = [one.body for one in batch.entries if one.kind == "noted"]
    assert note["abnormal"]
    assert note["next_shift"]


def its_gauges_fall_due_one_after_the_other(demo: Shop) -> None:
    due = [gauge.due for _, gauge in sorted(demo.people.gauges.items())]
    assert len(due) > 3
    assert due == [NOW.date() + timedelta(days=20 * n) for n in range(1, len(due) + 1)]


def describe_day(folder: Path, at: datetime) -> tuple[list[str], list[tuple[str, str]], dict[str, int]]:
    """What the demo opened at this moment holds: kinds of entries, what is due now, and what became of pieces."""
    clock = ManualClock(at)
    clock.moment = Moment(at, "m-1", UP)
    demo = make_demo(folder / "shop", clock)
    [batch] = demo.batches
    due = [(one.urgency, one.sentence) for one in demo.due() if one.urgency in ("overdue", "now", "soon")]
    counts = {where: batch.total(where) for where in ("scrap", "hold", "finished")}
    kinds = [entry.kind for entry in batch.entries]
    demo.close()
    return kinds, due, counts


@pytest.mark.parametrize("at", [datetime(2026, 3, 1, 23, 7, tzinfo=UTC)], ids=["Sunday night"])
def test_it_shows_the_same_good_day_whenever_it_is_opened(tmp_path: Path, at: datetime) -> None:
    """All hours of a week: ``python -m tests.shop.test_demo``."""
    usual = describe_day(tmp_path / "usual", NOW)
    assert len(usual[1]) >= 5, "there is something to do now"
    assert describe_day(tmp_path / "then", at) == usual


def compare_week() -> None:
    """The demo at every hour of a week beside the one of a Wednesday morning; it takes about a quarter of an hour."""
    with tempfile.TemporaryDirectory() as home:
        usual = describe_day(Path(home) / "usual", NOW)
        for hour in range(7 * 24):
            at = datetime(2026, 3, 2, 0, 7, tzinfo=UTC) + timedelta(hours=hour)
            assert describe_day(Path(home) / str(hour), at) == usual, at


def holding(folder: Path, *names: str) -> Path:
    for name in names:
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text("x")
    return folder


BARE = (MARKER, "record/B0001.json", "record/shop.json", "record/.B0001.mark", "backups/record-1/B0002.json")


@pytest.mark.parametrize(
    ("entered", "named"),
    [
        ((), []),
        (("record/B0003.json", "record/B0002.json"), ["B0002", "B0003"]),
        (("record/closed/B0002.json", "record/B0003.json"), ["B0002", "B0003"]),
        (("shop.toml",), ["shop.toml"]),
        (("checklists/plate.toml", "checklists/arm.toml", "shop.toml"), ["arm.toml", "plate.toml", "shop.toml"]),
    ],
)
def test_a_demo_is_cleared_unless_somebody_entered_something(
    tmp_path: Path, entered: tuple[str, ...], named: list[str]
) -> None:
    folder = holding(tmp_path / "shop", *BARE, *entered)
    assert list_entered(folder) == named
    if named:
        with pytest.raises(NotADemo, match=f"entered: {', '.join(named)}\\."):
            clear_demo(folder)
        assert list_entered(folder) == named

    clear_demo(folder, entered_too=bool(named))

    assert not folder.exists()


def test_no_other_folder_is_cleared(tmp_path: Path) -> None:
    clear_demo(tmp_path / "none")
    clear_demo(tmp_path)
    assert tmp_path.exists(), "empty, and left as it is"
    holding(tmp_path, "letter.txt")
    for entered_too in (False, True):
        with pytest.raises(NotADemo, match="not a demo shop"):
            clear_demo(tmp_path, entered_too=entered_too)
    assert (tmp_path / "letter.txt").exists()


def test_a_demo_in_use_is_not_cleared_and_two_terminals_use_it_at_once(tmp_path: Path) -> None:
    folder = holding(tmp_path / "shop", *BARE)
    with hold_demo(folder), hold_demo(folder), pytest.raises(NotADemo, match="open at another terminal"):
        clear_demo(folder, entered_too=True)
    clear_demo(folder)
    assert not folder.exists()


if __name__ == "__main__":
    compare_week()
