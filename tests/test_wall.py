"""Wall-clock times against the IANA time zone database, as read by Python's `zoneinfo`."""

from __future__ import annotations

import ast
import pickle
import time as system
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

import floor
from floor.entry import Moment, format_wall, parse_wall
from floor.wall import (
    MACHINE,
    convert_to_zone,
    find_start_of_day,
    format_local,
    get_local_day,
    get_zone,
    parse_typed_time,
    resolve_local,
)

ZONES = tuple(map(ZoneInfo, ("Europe/Vienna", "America/New_York", "Australia/Lord_Howe", "America/Havana", "UTC")))
"""Changes of an hour at 02:00 and at midnight, and one of half an hour; and a zone without any."""
FORM = "%Y-%m-%d %H:%M:%S %z"

moments = st.datetimes(datetime(2026, 1, 1), datetime(2027, 12, 31)).map(lambda at: at.replace(tzinfo=UTC))  # noqa: DTZ001
zones = st.sampled_from(ZONES)


def changes(zone: ZoneInfo, year: int = 2026) -> list[datetime]:
    """The minutes of a year at which a zone's offset changes, searched hour by hour."""
    hours = [datetime(year, 1, 1, tzinfo=UTC) + timedelta(minutes=30 * n) for n in range(2 * 24 * 365)]
    ahead = [at.astimezone(zone).utcoffset() for at in hours]
    return [at for at, was, there in zip(hours[1:], ahead, ahead[1:], strict=False) if was != there]


@given(moments, zones)
def test_a_moment_is_shown_as_the_zone_has_it_then(at: datetime, zone: ZoneInfo) -> None:
    assert format_local(at, FORM, convert_to_zone(at, zone)) == at.astimezone(zone).strftime(FORM)
    assert get_local_day(convert_to_zone(at, zone)) == at.astimezone(zone).date()


@given(moments, zones, st.timedeltas(timedelta(days=-300), timedelta(days=300)))
def test_what_lies_a_while_off_is_shown_as_the_zone_has_it_there(at: datetime, zone: ZoneInfo, by: timedelta) -> None:
    """With time added, or in another time's zone, it still knows the zone's rules and counts elapsed time."""
    here = convert_to_zone(at, zone)
    there = here + by

    assert there - here == by
    assert format_local(there, FORM) == (at + by).astimezone(zone).strftime(FORM)
    assert (at + by).astimezone(here.tzinfo).strftime(FORM) == (at + by).astimezone(zone).strftime(FORM)
    assert convert_to_zone(there, get_zone(here)) - here == by


@pytest.mark.parametrize("zone", ZONES[:4], ids=str)
def test_around_each_change_the_readings_of_a_time_are_all_there_are(zone: ZoneInfo) -> None:
    found = changes(zone)
    assert len(found) == 2
    for change in found:
        near = [change + timedelta(minutes=n) for n in range(-150, 150)]
        by_wall: dict[datetime, list[datetime]] = {}
        for at in near:
            by_wall.setdefault(at.astimezone(zone).replace(tzinfo=None, fold=0), []).append(at)
        first = change.astimezone(zone).replace(tzinfo=None) - timedelta(minutes=75)
        counts = set()
        for n in range(150):
            wall = first + timedelta(minutes=n)
            assert list(resolve_local(wall, zone)) == by_wall.get(wall, []), wall
            counts.add(len(by_wall.get(wall, [])))
        assert counts in ({0, 1}, {1, 2})


@given(moments, zones)
def test_a_time_goes_to_the_record_and_comes_back_as_the_wall_showed_it(at: datetime, zone: ZoneInfo) -> None:
    here = convert_to_zone(at.replace(microsecond=0), zone)

    back = parse_wall(format_wall(here), convert_to_zone(here - timedelta(days=100), zone))

    assert back == here
    assert back.strftime(FORM) == here.strftime(FORM)


def test_what_was_written_without_an_offset_is_read_in_that_of_the_entry() -> None:
    entered = datetime.fromisoformat("2026-10-26T09:00:00+01:00")

    assert parse_wall("2026-10-26T06:30:00.000Z", entered).isoformat() == "2026-10-26T07:30:00+01:00"


def test_a_moment_never_carries_the_rules_of_a_zone() -> None:
    """Python would subtract two of them by what the wall shows: four hours and a half for five and a half."""
    zone = ZoneInfo("Europe/Vienna")
    late, early = (Moment(datetime(2026, 10, 25, hour, 30, tzinfo=zone)).at for hour in (6, 1))

    assert late - early == timedelta(hours=6)


def test_a_time_survives_being_sent_to_another_process() -> None:
    at = convert_to_zone(datetime(2026, 7, 1, tzinfo=UTC), ZoneInfo("Australia/Lord_Howe"))

    back = pickle.loads(pickle.dumps(at))  # noqa: S301 - our own

    assert back == at
    assert format_local(back + timedelta(days=120), FORM) == format_local(at + timedelta(days=120), FORM)


@pytest.fixture
def machine(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> Iterator[ZoneInfo]:
    """This machine, set to a zone."""
    monkeypatch.setenv("TZ", request.param)
    system.tzset()
    yield ZoneInfo(request.param)
    monkeypatch.undo()
    system.tzset()


@pytest.mark.parametrize("machine", ["Europe/Vienna", "America/New_York", "Australia/Lord_Howe"], indirect=True)
def test_the_machines_zone_is_the_one_that_it_is_set_to(machine: ZoneInfo) -> None:
    for change in changes(machine):
        for minutes in range(-130, 131, 10):
            at = change + timedelta(minutes=minutes)
            assert format_local(at, FORM, convert_to_zone(at, MACHINE)) == at.astimezone(machine).strftime(FORM)
            wall = at.astimezone(machine).replace(tzinfo=None, fold=0)
            assert resolve_local(wall, MACHINE) == resolve_local(wall, machine)


MAY_FORMAT = {"wall", "text"}
"""Modules in which a moment may be turned into a time of day as it stands."""
NOT_MOMENTS = {
    "entry": "the record is UTC",
    "ledger.backup": "the names of copies are UTC",
    "papers.page": "the offset beside a time that is now",
    "shop.settings_schema": "times of day without a day",
    "batch.quality.time_elements": "times of day without a day",
    "figures.overtime": "times of day without a day",
    "planning.questions.hours": "times of day without a day",
    "papers.losses": "times of day without a day",
    "cli.maintenance": "the last entry, as the wall showed it",
}
MAY_KNOW_ZONES = {"wall", "figures.calendar", "shop.settings"}


def _modules() -> Iterator[tuple[str, ast.Module]]:
    root = Path(floor.__file__).parent
    for path in sorted(root.rglob("*.py")):
        yield ".".join(path.relative_to(root).with_suffix("").parts), ast.parse(path.read_text())


def test_only_one_module_turns_moments_into_times_of_day() -> None:
    """A format like ``%H`` on a moment that was added to shows the offset of another one."""
    found = set()
    for name, tree in _modules():
        for node in ast.walk(tree):
            spec = node.format_spec if isinstance(node, ast.FormattedValue) else None
            bare = spec is not None and "%H" in ast.unparse(spec)
            called = isinstance(node, ast.Attribute) and node.attr == "strftime"
            if (bare or called) and name not in MAY_FORMAT:
                found.add(name)
    assert found == set(NOT_MOMENTS)


def test_no_room_but_the_calendars_and_the_settings_knows_the_rules_of_a_zone() -> None:
    """Two times that carry a zone's rules are subtracted by what the wall shows."""
    found = {
        name
        for name, tree in _modules()
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom) and node.module == "zoneinfo"
    }
    assert found <= MAY_KNOW_ZONES


@pytest.mark.parametrize(
    ("typed", "past", "meant"),
    [
        ("14:30", False, "02 14:30"),
        ("7:00", False, "03 07:00"),
        ("7:00", True, "02 07:00"),
        ("14:30", True, "01 14:30"),
        ("2026-03-05 09:00", False, "05 09:00"),
        ("2026-03-05 09:00", True, "05 09:00"),
        ("Sun 17:00", True, "01 17:00"),
        ("mon 7:00", True, "02 07:00"),
        ("Mon 17:00", True, "23 17:00"),
        ("Mon 17:00", False, "02 17:00"),
        ("MON 7:00", False, "09 07:00"),
        ("Sun", True, None),
        ("Son 17:00", True, None),
        ("soon", False, None),
        ("", True, None),
    ],
)
def test_a_time_of_day_is_the_next_or_the_last_and_one_with_its_date_is_that_one(
    typed: str, past: bool, meant: str | None
) -> None:
    found = parse_typed_time(typed, datetime(2026, 3, 2, 10, 0, tzinfo=UTC), past=past)
    assert (f"{found:%d %H:%M}" if found else None) == meant


@pytest.mark.parametrize(
    ("now", "typed", "past", "meant"),
    [
        ("2026-10-25T09:00+01:00", "02:30", True, "2026-10-25T02:30:00+01:00"),
        ("2026-10-25T02:10+01:00", "02:30", True, "2026-10-25T02:30:00+02:00"),
        ("2026-10-24T18:00+02:00", "02:30", False, "2026-10-25T02:30:00+02:00"),
        ("2026-10-25T09:00+01:00", "23:00", True, "2026-10-24T23:00:00+02:00"),
        ("2026-10-25T09:00+01:00", "2026-10-25 02:30", True, "2026-10-25T02:30:00+01:00"),
        ("2026-03-29T09:00+02:00", "2026-03-29 02:30", True, None),
        ("2026-03-29T09:00+02:00", "02:30", True, "2026-03-28T02:30:00+01:00"),
        ("2026-03-29T09:00+02:00", "23:00", True, "2026-03-28T23:00:00+01:00"),
        ("2026-03-28T18:00+01:00", "09:00", False, "2026-03-29T09:00:00+02:00"),
    ],
)
def test_a_time_beyond_a_change_of_the_clocks_is_the_one_that_the_wall_showed(
    now: str, typed: str, past: bool, meant: str | None
) -> None:
    """Of two the later one that fits: a cure counts from it. Offsets: IANA time zone database, Europe/Vienna."""
    found = parse_typed_time(typed, convert_to_zone(datetime.fromisoformat(now), ZoneInfo("Europe/Vienna")), past=past)

    assert (found.isoformat() if found else None) == meant


@given(st.dates(datetime(2026, 1, 1).date(), datetime(2027, 12, 31).date()), zones)  # noqa: DTZ001
def test_a_day_starts_at_its_first_wall_clock_moment(day: date, zone: ZoneInfo) -> None:
    first = find_start_of_day(day, zone)

    assert get_local_day(first) == day
    assert get_local_day(first - timedelta(milliseconds=1)) == day - timedelta(days=1)
