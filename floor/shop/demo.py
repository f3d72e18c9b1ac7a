"""The demo shop: a half-done batch, made by the same commands as the keys, ending at this minute.

Three people, two and a half days of work: scrap in its place, rework of a void on its pallet, a piece on hold, a
waived gate, a handover with counts, a trial with a choice, a tool near its end of life; a cycle is running, epoxy is
curing. All invented.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, timedelta
from pathlib import Path

from floor.batch.corrections.commands import Note
from floor.batch.counting.blind_count import list_count_subjects
from floor.batch.counting.commands import MarkedPieces
from floor.batch.gates.commands import Waive
from floor.batch.gates.gauges import list_gauges_asked
from floor.batch.handover.commands import (
    AcceptHandover,
    CountSubjectPieces,
    OfferHandover,
    ReadBackLine,
    ReadHandoverPage,
)
from floor.batch.handover.page import list_safety_lines
from floor.batch.lifecycle.commands import OpenBatch
from floor.batch.run import Run
from floor.batch.trials.commands import ChooseSetting, EnterTrialResult, PlanTrial
from floor.batch.walk.lines import Line
from floor.checklist.gates import Measured
from floor.checklist.loading import compute_checklist_digest, list_shipped_checklists, load_checklist
from floor.checklist.model import Checklist
from floor.checklist.operation import Do
from floor.entry import Moment
from floor.ledger.copies import SHOP_JOURNAL
from floor.ledger.files import hold_lock, try_lock
from floor.ledger.journal_folder import CLOSED
from floor.shop.checklists import OWN
from floor.shop.clock import Clock, read_clock
from floor.shop.open_batches import RECORD
from floor.shop.settings import FILE as SETTINGS
from floor.shop.shop import Shop
from floor.shop.simulation import Found, ManualClock, SimulatedOperator, make_serial
from floor.text import capitalize_first

CHECKLIST = "thermal-break-plate.toml"
MARKER = "demo-shop.txt"
"""A file that marks a folder as a demo, so no other folder is ever cleared."""
WORKED = timedelta(hours=52)
"""Age of the demo's batch."""
SHIFT = timedelta(hours=8)
SPREAD = 0.12
"""Of what is measured on pieces, as a share of the width of its limits: a steady process, and charts like one."""
PER_LINE = 16.0
"""Seconds per confirmed line."""
LEAD, DAY, NEXT = "RK", "TN", "MO"


BATCH = "B0001"
"""The one batch the demo itself makes."""


class NotADemo(Exception):
    """The folder holds something else."""


def clear_demo(folder: Path, *, entered_too: bool = False) -> None:
    """Remove an earlier demo.

    Args:
        entered_too: also delete what somebody entered in it.

    Raises:
        NotADemo: the folder was not made by the demo, holds somebody's own batches or files, or is open at another
            terminal.
    """
    if not folder.exists() or not any(folder.iterdir()):
        return
    if not (folder / MARKER).is_file():
        raise NotADemo(f"{folder} holds something that is not a demo shop. Name another folder with --shop.")
    if (own := list_entered(folder)) and not entered_too:
        raise NotADemo(
            f"{folder} holds what somebody entered: {', '.join(own)}. Go on with it: floor demo --keep. "
            "Clear it all and start over: floor demo --fresh."
        )
    with (folder / MARKER).open("rb") as mark:
        if not try_lock(mark.fileno()):
            raise NotADemo(
                f"The demo in {folder} is open at another terminal. Work on it there and here: "
                "floor demo --keep. Or close it there first."
            )
        shutil.rmtree(folder)


@contextmanager
def hold_demo(folder: Path) -> Iterator[None]:
    """Lock a demo, shared with other terminals, so it is not cleared while in use."""
    with (folder / MARKER).open("rb") as mark, hold_lock(mark.fileno(), f"the demo in {folder}", shared=True):
        yield


def list_entered(folder: Path) -> list[str]:
    """What a demo folder holds that the demo did not make: batches, checklists, settings."""
    record = folder / RECORD
    journals = {path.stem for part in (record, record / CLOSED) for path in part.glob("*.json")}
    files = [*sorted((folder / OWN).glob("*")), folder / SETTINGS]
    return [*sorted(journals - {BATCH, SHOP_JOURNAL}), *(path.name for path in files if path.exists())]


def _enter_gauges(shop: Shop, checklist: Checklist, today: date) -> None:
    """What the checklist measures with, each due later than the one before."""
    steps = [step for operation in checklist.operations for step in operation.steps if not isinstance(step, Do)]
    names = dict.fromkeys(name for step in steps for _, name in list_gauges_asked(step))
    known = {make_serial(name): name for name in reversed(names)}  # a gauge is named as where it is used first
    for n, (serial, name) in enumerate(sorted(known.items()), 1):
        shop.add_gauge(serial, capitalize_first(name), (today + timedelta(days=20 * n)).isoformat(), LEAD)


def make_demo(folder: Path, clock: Clock = read_clock) -> Shop:
    """Build the demo shop in an empty folder and open it at the clock's time."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / MARKER).write_text("A demo shop: invented, and cleared when the demo is made again.\n", encoding="utf-8")
    now = clock()
    hands = ManualClock(now.at - WORKED)
    # By the clock's own time since its start, or opening the demo would look like a clock set back.
    hands.moment = Moment(now.at - WORKED, now.boot, now.up - WORKED.total_seconds())
    _work(Shop(folder, hands), hands, now)
    return Shop(folder, clock)


def _work(shop: Shop, clock: ManualClock, now: Moment) -> None:
    shop.add_person(LEAD, "Rosa Keel", True, by="-")
    shop.add_person(DAY, "Tomas Nye", False, by=LEAD)
    shop.add_person(NEXT, "Mina Ode", False, by=LEAD)
    file = next(file for file in list_shipped_checklists() if file.name == CHECKLIST)
    checklist = load_checklist(file).checklist
    assert checklist is not None
    digest = compute_checklist_digest(file.read_text(encoding="utf-8"))
    _enter_gauges(shop, checklist, now.at.date())
    due = (now.at + timedelta(days=6)).date()
    opening = OpenBatch(shop.find_next_id(), checklist, digest, CHECKLIST, 96, 108, due, "PO 7731")
    batch = shop.open_batch(opening, DAY).id

    def hand(initials: str, second: str = LEAD) -> SimulatedOperator:
        one = SimulatedOperator(shop, batch, initials, clock, second)
        one.per_line, one.spread = PER_LINE, SPREAD
        return one

    first = hand(DAY)
    first.shift(clock().at + SHIFT, _finds({10: [MarkedPieces("chatter", ("B3",))]}))
    first.do(Note("Coolant low in the router since noon, topped up twice", abnormal=True, next_shift=True))
    _try_feeds(first)
    first.do(OfferHandover("Pallet 1 was poured first and is cured first."))
    second = hand(NEXT)
    _take_over(second)

    clock.until(now.at - timedelta(hours=29))
    finds = _finds(
        {
            30: [MarkedPieces("void", ("A4", "D1")), MarkedPieces("bridge", ("C1",))],
            40: [MarkedPieces("tab tear", ("B2",))],
            60: [MarkedPieces("seat depth", ("A2",)), MarkedPieces("fill loose", ("A3",))],
        }
    )
    second.shift(clock().at + SHIFT, finds)
    second.do(OfferHandover("Trays stand cold in the oven.", unattended=True, safe="router and mill off, air shut"))
    clock.until(now.at - timedelta(hours=6))
    _take_over(hand(DAY))
    ends = now.at + timedelta(hours=2)
    first.shift(now.at - timedelta(hours=3), finds, ends)
    _waive(hand(LEAD, second=DAY))
    # The last action may take a while: leave room so no entry is later than now.
    first.shift(now.at - timedelta(minutes=25), finds, ends)
    _start_the_mill(first)


def _try_feeds(hand: SimulatedOperator) -> None:
    """A trial on offcuts with a clear answer, so that there is a lesson to take."""
    feeds = ("12 in/min", "16 in/min")
    hand.do(PlanTrial("Which feed leaves the smoother groove?", (("feed", feeds),), "number", "finish", 0, "uin", 10))
    for setting, values in enumerate(((42.0, 45.0, 40.0, 44.0), (61.0, 66.0, 58.0, 63.0)), 1):
        hand.do(EnterTrialResult(1, setting, values))
    hand.do(ChooseSetting(1, 1, "smoother, and no chatter to be heard", f"Feed: {feeds[0]}"))


def _start_the_mill(hand: SimulatedOperator) -> None:
    """The next vise is cut as the demo opens."""
    vise = next(load.number for load in hand.batch.list_live_loads() if load.carrier == "vise")
    hand.work(vise, stop=lambda line: line.kind == "end")


def _finds(marks: dict[int, list[MarkedPieces]]) -> Found:
    """Give these marks to the first full run of an operation, once."""
    left = dict(marks)

    def found(run: Run) -> tuple[MarkedPieces, ...]:
        wanted = left.get(run.op)
        if not wanted or run.rework or sum(len(mark.positions) for mark in wanted) >= len(run.pieces):
            return ()  # a later run of the operation finds them
        return tuple(left.pop(run.op))

    return found


def _take_over(hand: SimulatedOperator) -> None:
    """Read the page, count everything, read back every safety line, accept."""
    hand.clock.forward(120)
    hand.do(ReadHandoverPage())
    for subject in list_count_subjects(hand.batch):
        hand.clock.forward(25)
        hand.do(CountSubjectPieces(subject.key, subject.expected))
    for line in list_safety_lines(hand.batch, hand.clock()):
        hand.clock.forward(10)
        hand.do(ReadBackLine(line.key))
    handover = hand.batch.handover
    hand.do(AcceptHandover(talked="" if handover is None or handover.unattended else "face to face"))


def _waive(lead: SimulatedOperator) -> None:
    """The lead waives the next measurement on one load, with a reason."""

    def measured(line: Line) -> bool:
        return line.kind == "gate" and isinstance(line.step, Measured)

    for load in lead.batch.list_live_loads():
        if load.run is None or lead.work(load.number, stop=measured):
            continue
        line = lead.current(load.number)
        if line is not None and measured(line):
            lead.do(Waive(load.run, line.key, "gauge out for calibration; compared with the master piece", lead.second))
            return
