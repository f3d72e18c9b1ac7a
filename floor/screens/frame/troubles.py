"""What is out of the ordinary, by how grave it is and how soon somebody must act: three levels, no more (HMI-28)."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Literal, get_args

from floor.batch.corrections.unproved_work import find_open_unproved_work, format_unproved_work
from floor.batch.counting.blind_count import find_blind_subjects
from floor.batch.counting.surplus import find_undecided_surplus, format_order_filled
from floor.batch.gates.suspect_gauges import describe_suspect_gauge
from floor.batch.load import Load
from floor.batch.state import Batch
from floor.batch.stations.conditions import CONDITIONS
from floor.batch.walk.clock_jumps import is_clock_change_untold
from floor.dataclass import dataclass
from floor.screens.frame.session import Session
from floor.screens.plan.background_plan import list_deadline_troubles, list_plan_troubles
from floor.text import format_clock, format_count, wrap_cut

Level = Literal["now", "shift", "know"]
LEVELS: dict[Level, str] = {
    "now": "NOW: someone can get hurt, pieces spoiled, or entries go wrong",
    "shift": "THIS SHIFT: act or decide",
    "know": "FOR INFORMATION: work can continue",
}
"""What each level means, the gravest first; as the head of its lines."""
STALE = timedelta(hours=24)
"""What is out of the ordinary for longer has its age (HMI-29; ISA-18.2: stale alarms, from memory)."""
LEAST_ABNORMAL_ROWS, ABNORMAL_ROWS = 2, 4
MOST_STAYING_ROWS = 4
"""Of what stays in sight about one batch: some ten waivers."""


@dataclass(frozen=True, slots=True)
class Trouble:
    level: Level
    text: str
    stays: bool = False
    """Whether it is read in full on every screen, however many graver ones there are: an open waiver."""
    timed: bool = False
    """Whether something is lost at a time that it names: that goes before what waits for a decision."""


def sort_troubles(found: Sequence[Trouble]) -> list[Trouble]:
    """The gravest first; of one level what names a time, then in the order in which they were found."""
    order = get_args(Level)
    return sorted(found, key=lambda one: (order.index(one.level), not one.timed))


def format_by_level(found: Sequence[Trouble]) -> Iterator[str]:
    """Sorted ones in full, numbered, each level under its head."""
    for n, one in enumerate(found, 1):
        if n == 1 or one.level != found[n - 2].level:
            yield f"{LEVELS[one.level]} ({sum(other.level == one.level for other in found)})"
        yield f"{n}  {one.text}"


def format_abnormal(
    found: Sequence[str], width: int, rows: int = LEAST_ABNORMAL_ROWS, staying: Collection[str] = ()
) -> list[str]:
    """What is out of the ordinary: how many there are, then the gravest in full as far as the rows go.

    Each further one begins in a row of its own while there are any; ``!`` shows all of them in full.

    Args:
        rows: in which one may begin; the last one has one more to end in, so that no hour at its end is lost.
        staying: those that have their rows even where there are none left (CBP-38).
    """
    count = f"! {len(found)}  " if len(found) > 1 else "! "
    rest = " " * len(count)
    lines: list[str] = []
    for one in found:
        head = rest if lines else count
        if one in staying:
            lines += wrap_cut(one, MOST_STAYING_ROWS, head, width)
        elif len(lines) < rows:
            lines += wrap_cut(one, rows + 1 - len(lines), head, width)
    return lines


def _format_age(since: datetime, now: datetime) -> str:
    """``, since Mon 07:10``, once it is stale."""
    return f", since {format_clock(since, now)}" if now - since > STALE else ""


def list_condition_troubles(batch: Batch, now: datetime) -> list[Trouble]:
    """What can hurt at the stations of a batch: a lock, a guard, an interlock before a temporary fix."""
    order = list(CONDITIONS)
    standing = sorted(batch.conditions.items(), key=lambda one: order.index(one[0].what))
    return [
        Trouble("now", f"{batch.checklist.station(key.station).name}: {stands.said(now)}") for key, stands in standing
    ]


def list_batch_troubles(session: Session, batch: Batch, load: Load | None = None) -> list[Trouble]:
    """What is out of the ordinary about a batch, for the fixed line of its screens.

    Args:
        load: one of which the screen tells the waivers itself.
    """
    found: list[Trouble] = []
    if session.paper is not None:
        when = format_clock(session.paper.at, session.now().at)
        found.append(Trouble("now", f"PAPER ENTRY: the next entry is timed {when}. x: change or end"))
    read_only = batch.damage or session.shop.explain_read_only(batch.id)
    if read_only:
        found.append(Trouble("now", read_only))
    if batch.gone:
        found.append(Trouble("know", f"Transferred to {batch.gone}: read-only here"))
    now = session.now().at
    found += list_condition_troubles(batch, now)
    # An hour by which somebody must be there is read to its end; a waiver after it keeps its own rows.
    found += [Trouble("shift", one, timed=True) for one in list_deadline_troubles(session.planner, batch)]
    found += _list_waived(batch, now, load)
    found += [Trouble("shift", one) for one in _list_asked(session, batch)]
    known = [
        f"{batch.checklist.station(station).name} is {outage.said(now)}" for station, outage in batch.outages.items()
    ]
    if batch.handover is not None:
        age = _format_age(batch.handover.at, now)
        known.append(f"{batch.handover.by} has offered this batch for handover; not accepted yet" + age)
    if is_clock_change_untold(batch):
        known.append("The shop's clock was changed; dwell times leave the jump out")
    return [*found, *(Trouble("know", one) for one in known)]


def _list_waived(batch: Batch, now: datetime, load: Load | None = None) -> list[Trouble]:
    """Each open waiver by its name, in one sentence; but for those of one load."""
    told = {waiver.seq for waiver in batch.list_open_waivers(load)} if load is not None else set()
    waivers = [waiver for waiver in batch.list_open_waivers() if waiver.seq not in told]
    each = [f"{one.title} (op {one.op}, {one.by}){_format_age(one.at, now)}" for one in waivers]
    said = f"{format_count(len(waivers), 'gate')} waived: {'; '.join(each)}"
    return [Trouble("shift", said, stays=True)] if waivers else []


def list_shop_troubles(session: Session) -> list[Trouble]:
    """What stays in sight on the screens that are about no one batch: the open waivers of all."""
    now = session.now().at
    return [add_batch(one, batch) for batch in session.shop.batches for one in _list_waived(batch, now)]


def add_batch(trouble: Trouble, batch: Batch) -> Trouble:
    """With the batch that it is about, for a screen of several."""
    return replace(trouble, text=f"{batch.id}: {trouble.text}")


def _list_asked(session: Session, batch: Batch) -> list[str]:
    """What somebody has to decide or settle."""
    now = session.now().at
    asked = [f"Since then: {said}" for said in batch.afterwards]
    decide = [(format_unproved_work(batch, one), one.at) for one in find_open_unproved_work(batch)]
    decide += [
        (describe_suspect_gauge(batch, one), batch.entries[one.seq - 1].time)
        for one in batch.list_open_suspect_gauges()
    ]
    asked += [f"Lead decision needed: {said}{_format_age(at, now)}" for said, at in decide]
    if find_undecided_surplus(batch):
        asked.append(format_order_filled(batch, find_blind_subjects(batch)))
    asked += list_plan_troubles(session.planner, batch)
    if open_ := batch.list_open_differences():
        asked.append(f"{format_count(len(open_), 'count mismatch')} open{_format_age(open_[0].at, now)}")
    return asked
