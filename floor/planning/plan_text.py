"""The plan in words about batches, loads and operations."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import date, datetime, timedelta

from floor.dataclass import dataclass
from floor.figures.schedule import Band, PlannedRun, PlannedStretch, Saving
from floor.planning.batch_forecast import Outlook
from floor.planning.finish import Finish, compute_finish
from floor.planning.plan import ShopPlan
from floor.planning.unplannable import describe_obstacles
from floor.planning.whatif import describe_bottleneck, describe_saving, find_bottleneck, name_one_more
from floor.text import capitalize_first, cut, cut_name, format_chance, format_count, format_day, format_share
from floor.wall import format_local, get_local_day

AT_BEST = " at best"
"""Marks a plan as drawn, in which every piece comes out good."""
LONG = 60
"""Columns that an operation's full name, station and carrier take."""


def format_day_time(at: datetime, now: datetime | None = None) -> str:
    """``Tue 10 Mar 12:37``, with the year if it differs from that of ``now``."""
    year = " %Y" if now is not None and get_local_day(at).year != now.year else ""
    return format_local(at, f"%a %d %b{year} %H:%M")


def describe_finish(shop_plan: ShopPlan, batch: str, band: Band | None = None, *, why: bool = True) -> str:
    """When a batch will be finished, with its 10–90 % band and due date; or why that is unknown.

    Args:
        why: False if the reasons are shown beside it.
    """
    found = compute_finish(shop_plan, batch, band)
    if found.at is None:
        return f"{batch}  {describe_unknown_finish(shop_plan, batch, why)}"
    said = f"{batch}  finish {format_day_time(found.at)}"
    said += format_spread(found)
    if found.due_day is not None:
        said += f"  due {format_day(found.due_day, shop_plan.plan.start)}, {format_lateness(found)}"
        if band is not None and band.on_time is not None:
            said += f", on time {format_chance(band.on_time, 0)}"
    drawn = format_as_drawn(found)
    return f"{said}; {drawn}" if drawn else said


def format_as_drawn(found: Finish) -> str:
    """``as drawn, at best, Tue 10 12:37`` for a plan that ends before the band; else empty."""
    if found.band is None or found.drawn is None or found.drawn >= found.band.early:
        return ""
    return f"as drawn, at best, {format_local(found.drawn, '%a %d %H:%M')}"


def format_lateness(found: Finish) -> str:
    """``✕ LATE by 2 working days``, ``1 working day early``."""
    if found.late_hours is None or found.late_days is None:
        return ""
    if found.late_hours > 0:
        return f"✕ {_late(found)}"
    return f"{format_count(-found.late_days, 'working day')} early" if found.late_days else "in time"


def _late(found: Finish) -> str:
    return f"LATE by {format_count(found.late_days or 0, 'working day')}"


def describe_pushed_batches(before: Mapping[str, Finish], after: Mapping[str, Finish]) -> list[str]:
    """Batches that one more batch would make late, later, or finish on a later day; with both dates.

    Args:
        before: finishes without it, as on view.
        after: with it.
    """
    said = []
    for batch, now in before.items():
        then = after[batch]
        if now.at is None or then.at is None or then.at <= now.at:
            continue
        dates = f"done {format_day_time(then.at)}; without this order {format_day_time(now.at)}"
        if then.late and (then.late_days or 0) > max(now.late_days or 0, 0):
            said.append(f"✕ {batch} would be {_late(then)}, {dates}")
        elif get_local_day(then.at) > get_local_day(now.at):
            said.append(f"! {batch} would be {dates}")
    return said


def describe_unknown_finish(shop_plan: ShopPlan, batch: str, why: bool = True) -> str:
    """How many pieces of a batch are not planned, why, what would help, and when the others finish."""
    found = shop_plan.unplanned[batch]
    said = str(found) if why else f"{found.short}."
    return said + (f" The others: {format_day_time(shop_plan.plan.finish[batch])}." if found.others else "")


def format_spread(found: Finish) -> str:
    """The text after a finish: its band, or "at best"."""
    spread = f" (10–90 %: {_band(found.band)})" if found.band else ""
    return (AT_BEST if found.is_as_drawn else "") + spread


def _band(band: Band, form: str = "%a %d %H:%M") -> str:
    """The band; without the day if both ends share it, because the finish before it names it."""
    if get_local_day(band.early) == get_local_day(band.late):
        form = "%H:%M"
    return f"{format_local(band.early, form)} to {format_local(band.late, form)}"


def format_fill_chance(found: Outlook) -> str:
    """``38 % chance to fill``; without a figure once the order is filled."""
    return "filled" if found.filled else f"{format_chance(found.forecast.probability, 0)} chance to fill"


def format_outlook_line(
    shop_plan: ShopPlan, batch: str, found: Outlook | None, band: Band | None, first_op: int
) -> str:
    """``38 % chance to fill · done Tue 10 12:37 (12:19–14:11) · 13 more at op 10: 91 %, 7.7 h``."""
    parts = []
    if found is not None:
        parts.append(capitalize_first(format_fill_chance(found)))
    through = compute_finish(shop_plan, batch, band)
    if through.at is None:
        return " · ".join([*parts, f"✕ {shop_plan.unplanned[batch].short} (g: why)"])
    band_said = f" ({_band(through.band).replace(' to ', '–')})" if through.band else ""
    parts.append(f"done {format_local(through.at, '%a %d %H:%M')}{AT_BEST if through.is_as_drawn else ''}{band_said}")
    if through.late:
        parts.append(format_lateness(through))
    more = found.top_up if found is not None else None
    if more is not None:
        parts.append(f"{more.pieces} more at op {first_op}: {format_chance(more.probability, 0)}, {more.hours:.1f} h")
    return " · ".join(parts)


def format_batch_lines(
    shop_plan: ShopPlan,
    batch: str,
    band: Band | None,
    found: Outlook | None,
    first_op: int,
    width: int,
    brief: bool = False,
) -> list[str]:
    """A batch in one line if it fits, else in two: finish and lateness, then chance and band as far as they fit.

    Args:
        width: columns.
        brief: always one line, without band and due date.
    """
    ends = compute_finish(shop_plan, batch, band)
    if ends.at is None:
        return _format_without_finish(shop_plan, batch, width)
    through = f"{batch}  done {format_day_time(ends.at, shop_plan.plan.start)}"
    chance = format_fill_chance(found) if found is not None else ""
    if brief:
        return [_fit_in_one_line(through, [format_lateness(ends), chance, _format_top_up(found, first_op)], width)]
    due, drawn = _format_due(ends, shop_plan.plan.start), format_as_drawn(ends)
    more = [due, drawn, chance, _format_top_up(found, first_op, hours=True)]
    one_line = f"{through}{format_spread(ends)}  {' · '.join(filter(None, more))}".rstrip()
    if len(one_line) <= width:
        return [one_line]
    best = AT_BEST if ends.is_as_drawn else ""
    how = format_lateness(ends)
    firsts = (f"{through}{best}  {due}", f"{through}{best}  {how}", f"{through}  {how}")
    first = next((line.rstrip() for line in firsts if len(line.rstrip()) <= width), through)
    for hours, form in ((True, "%a %d %H:%M"), (False, "%a %d %H:%M"), (False, "%a %d")):
        parts = [chance, _format_top_up(found, first_op, hours=hours), _format_band(ends, form)]
        if len(" · ".join(filter(None, parts))) + 2 <= width:
            break
    second = _fit_in_one_line("", [*parts, drawn], width)
    return [first, second] if second else [first]


def _format_due(ends: Finish, now: datetime) -> str:
    """``due Sun 06 Dec ✕ LATE by 2 working days``; empty without a due date."""
    return f"due {format_day(ends.due_day, now)} {format_lateness(ends)}" if ends.due_day is not None else ""


def _format_band(ends: Finish, form: str) -> str:
    return f"10–90 %: {_band(ends.band, form)}" if ends.band else ""


def _format_top_up(found: Outlook | None, first_op: int, hours: bool = False) -> str:
    """``14 more at op 10: 91 %, 8.2 h``; empty where none helps."""
    up = found.top_up if found is not None else None
    if up is None:
        return ""
    return f"{up.pieces} more at op {first_op}: {format_chance(up.probability, 0)}" + (
        f", {up.hours:.1f} h" if hours else ""
    )


def _format_without_finish(shop_plan: ShopPlan, batch: str, width: int) -> list[str]:
    """In full where that fits a line, else in short: the reason stands with what limits the plan."""
    said = f"{batch}  ✕ {describe_unknown_finish(shop_plan, batch)}"
    return [said if len(said) <= width else f"{batch}  ✕ {shop_plan.unplanned[batch].short}"[:width]]


def _fit_in_one_line(first: str, parts: Sequence[str], width: int) -> str:
    """The first part, and beside it those of the others that have room, the first of them before later ones."""
    kept: list[str] = []
    for part in parts:
        if part and len(first) + len(" · ".join([*kept, part])) + 2 <= width:
            kept.append(part)
    return f"{first}  {' · '.join(kept)}".rstrip()


def format_bottleneck_line(shop_plan: ShopPlan, saved: Sequence[Saving] | None, fault: str = "") -> str:
    """``Bottleneck: Router; one more place at Router saves 9.8 working hours``.

    Args:
        fault: why the savings will not be known.
    """
    found = find_bottleneck(shop_plan, saved)
    if found is not None:
        name = {"hands": "operators", "calendar": "shift hours"}.get(found.kind, found.name)
        for one in saved or ():
            if one.kind == found.kind and (one.name == found.name or one.kind == "calendar"):
                return f"Bottleneck: {name}; {describe_saving(one)}"
    return f"Bottleneck: {describe_bottleneck(shop_plan, saved, fault)}"


def format_run_line(
    shop_plan: ShopPlan, run: PlannedRun, where: str, width: int, stretch: tuple[datetime, datetime] | None = None
) -> str:
    """``Pallet 1 · op 30 Debridge · Thu 07:11–08:02 · 1 operator 07:11–07:44``.

    Args:
        where: its carrier, its station, or both.
        width: columns; the operation's name is left out where that is not enough.
        stretch: from when to when somebody is needed; None is all of the run, with who is needed in it.
    """
    start, end = stretch or (run.start, run.end)
    batch = f" of {run.batch}" if len(shop_plan.plan.finish) > 1 else ""
    when = [_say_stretch(start, end, "%a "), _say_needed(run) if stretch is None else ""]
    first = [where]
    due = shop_plan.due(run.batch)
    if due is not None and run.end > due:
        first.insert(0, f"! LATE: due {format_day(get_local_day(due - timedelta(seconds=1)), shop_plan.plan.start)}")
    if run.run in {one.run for one in shop_plan.pressing}:
        first.insert(0, "! MISSED: nobody is in when it must end")
    for operation in (run.operation, shop_plan.work(run).op):
        said = " · ".join(filter(None, [*first, f"op {operation}{batch}", *when]))
        if len(said) <= width:
            break
    return cut(said, width)


def _say_needed(run: PlannedRun) -> str:
    """How many people are needed in a run, and when, unless all the time; stretches without a gap are one."""
    needed: list[tuple[datetime, datetime]] = []
    for part in run.attended:
        if needed and needed[-1][1] == part.start:
            needed[-1] = needed[-1][0], part.end
        else:
            needed.append((part.start, part.end))
    if not needed:
        return "nobody needed"
    people = format_count(max(len(part.people) for part in run.attended), "operator")
    if needed == [(run.start, run.end)]:
        return people
    day = get_local_day(run.start)
    times = (_say_stretch(begin, end, "" if get_local_day(begin) == day else "%a ") for begin, end in needed)
    return f"{people} {', '.join(times)}"


def _say_stretch(start: datetime, end: datetime, day: str) -> str:
    """``Wed 10:00–10:45``, with the day of its end if that is another one."""
    other = "" if get_local_day(start) == get_local_day(end) else "%a "
    return f"{format_local(start, f'{day}%H:%M')}–{format_local(end, f'{other}%H:%M')}"


def format_use_lines(shop_plan: ShopPlan, bar: int = 14) -> list[str]:
    """Use of each station, carrier and of the shifts until the finish, the most first.

    ``Router 67 % ██████████····``: operators by shift hours, all others by the clock.
    """
    used = sorted((use for use in shop_plan.plan.use if use.busy > 0), key=lambda use: -use.share)
    names = {"hands": "Operators (shifts)"}
    return [
        f"{names.get(use.kind, use.name)[:18]:<18} {format_share(use.share):>5} {'█' * round(use.share * bar):·<{bar}}"
        for use in used
    ]


def format_saving_lines(saved: Sequence[Saving]) -> list[str]:
    """Working hours saved by one more of each, the most first; those that save nothing share one line."""
    some = [f"{name_one_more(one):<26} {one.working:>6.1f} h" for one in saved if one.working >= 0.05]
    none = ", ".join(name_one_more(one) for one in saved if one.working < 0.05)
    return [*some, *([f"no gain: {none}"] if none else [])]


def format_attendance_by_day(
    found: Sequence[Attendance], shop_plan: ShopPlan, several_people: bool, width: int
) -> list[str]:
    """Who is needed when, grouped by day: ``Thu 26 Nov``, then ``07:00–07:03 40 Cut free · Router · Pallet 1``.

    Args:
        width: columns; below `LONG`, operations are shown by number.
    """
    lines: list[str] = []
    day: date | None = None
    for one in found:
        if (new := get_local_day(one.start)) != day:
            day = new
            lines.append(format_local(one.start, "%a %d %b"))
        said = (format_attendance if width >= LONG else format_attendance_short)(one, shop_plan, several_people)
        lines.append("  " + cut_name(said.partition(" ")[2], width - 2))
    return lines


def format_attendance_short(one: Attendance, shop_plan: ShopPlan, several_people: bool) -> str:
    """``Wed 10:00–10:45 op 30 · Router · Pallet 1``, with person and batch if there are several."""
    op = f"op {shop_plan.work(one.run).op}" + (f" of {one.run.batch}" if len(shop_plan.plan.finish) > 1 else "")
    where = " · ".join(part for part in (op, one.run.station, shop_plan.carrier(one.run)) if part)
    who = f"  {_people(one)}" if several_people else ""
    return f"{_from_to(one)}{who}  {where}"


def _people(one: Attendance) -> str:
    return f"person {', '.join(map(str, one.people))}"


def _from_to(one: Attendance) -> str:
    """``Wed 10:00–10:45``, to the minute like the runs; anything shorter takes one minute."""
    end = max(_minute(one.end), _minute(one.start) + timedelta(minutes=1))
    begins = format_local(one.start, "%a %H:%M")
    if one.end == one.start:
        return begins
    return f"{begins}–{format_local(end, '%H:%M' if get_local_day(end) == get_local_day(one.start) else '%a %H:%M')}"


def _minute(at: datetime) -> datetime:
    return at.replace(second=0, microsecond=0)


@dataclass(frozen=True, slots=True)
class Attendance:
    """When somebody must be where."""

    start: datetime
    end: datetime
    people: tuple[int, ...]
    run: PlannedRun


def list_attendance(shop_plan: ShopPlan) -> list[Attendance]:
    """Attended work in order of time; parts of a run without a gap are merged."""
    return sorted(_joined(shop_plan), key=lambda one: (one.start.timestamp(), one.people))


def _joined(shop_plan: ShopPlan) -> Iterator[Attendance]:
    for run in shop_plan.runs:
        open_: list[PlannedStretch] = []
        for part in [*run.attended, None]:
            if open_ and (part is None or part.start != open_[-1].end or part.people != open_[-1].people):
                yield Attendance(open_[0].start, open_[-1].end, open_[0].people, run)
                open_ = []
            if part is not None:
                open_.append(part)


def format_attendance(one: Attendance, shop_plan: ShopPlan, several_people: bool) -> str:
    """``Wed 10:00–10:45  30 Debridge · Router · Pallet 1``."""
    who = f"  {_people(one)}" if several_people else ""
    where = " · ".join(
        part for part in (one.run.operation, one.run.station, format_carrier_and_load(shop_plan, one.run)) if part
    )
    return f"{_from_to(one)}{who}  {where}"


def format_carrier_and_load(shop_plan: ShopPlan, run: PlannedRun) -> str:
    """The carrier by number, with the load if formed: ``Pallet 1, load 3``."""
    work = shop_plan.work(run)
    load = f", load {work.load}" if work.load is not None else ""
    return f"{shop_plan.carrier(run)}{load}"


def describe_troubles(shop_plan: ShopPlan) -> list[str]:
    """Deadlines that nobody is there for, and what could not be planned and why, each once."""
    return [*describe_missed_deadlines(shop_plan), *describe_obstacles(shop_plan.obstacles)]


def describe_filled_orders(shop_plan: ShopPlan, batches: Sequence[str] | None = None) -> list[str]:
    """Per filled order, a line that it is filled and what becomes of the rest; shown first."""
    known = shop_plan.asked.filled
    return [f"{batch}  {said}" for batch, said in known.items() if batches is None or batch in batches]


def describe_missed_deadlines(
    shop_plan: ShopPlan, batch: str = "", is_past: Callable[[str], bool] = lambda run: False
) -> list[str]:
    """Deadlines of runs under way that no plan can keep, of one batch or all; shown first.

    The verb and the time stand first, so that a line that is cut off loses the least:
    ``TAKE OUT by 03:27: Tray 1, Oven 1, op 50; nobody in until 07:00``.
    """
    works = shop_plan.asked.works
    mine = (
        one for one in shop_plan.pressing if one.run and batch in ("", works[one.run].batch) and not is_past(one.run)
    )
    return [f"{one.remedy}: {one.where}; {one.wrong}" for one in mine]


def describe_missing_finishes(shop_plan: ShopPlan, batches: Sequence[str], why: bool = True) -> list[str]:
    """Why each batch without a finish has none, unless already said."""
    return [
        f"{batch}: {describe_unknown_finish(shop_plan, batch, why)}"
        for batch in batches
        if batch in shop_plan.unplanned
    ]
