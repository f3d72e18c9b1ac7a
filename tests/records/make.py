"""Makes the corpus of records: ``python -m tests.records.make NAME …`` writes the shops named, each into a zip file.

A shop of the corpus is made once and never again: it stands for records out in the world. If you add to the format,
add a shop and leave the others as they are. If the folded state takes another shape, ``python -m tests.records.make
--state`` writes down the new one; the change is then read line by line.
"""

from __future__ import annotations

import json
import sys
import tempfile
import zipfile
from collections.abc import Callable, Sequence
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from pathlib import Path

from floor.batch.command import Refused
from floor.batch.corrections.commands import MarkNoteDone, Note, StrikeOut
from floor.batch.counting.blind_count import list_count_subjects
from floor.batch.counting.commands import Dispose, MarkedPieces
from floor.batch.counting.correct_count import CorrectCount
from floor.batch.counting.follow_up import FollowUp
from floor.batch.counting.scrap import EndScrap
from floor.batch.events import Concession, TrialFile
from floor.batch.gates.commands import Prove
from floor.batch.gates.correct_lot import CorrectLot
from floor.batch.gates.room_air import ReadAir
from floor.batch.gates.suspect_gauges import SettleSuspectGauge
from floor.batch.handover.commands import (
    AcceptHandover,
    CountSubjectPieces,
    OfferHandover,
    ReadBackLine,
    ReadHandoverPage,
)
from floor.batch.handover.page import list_safety_lines
from floor.batch.lifecycle.commands import CloseBatch, FormLoad, OpenBatch, SetPiecesAside
from floor.batch.moving.commands import MovePieces
from floor.batch.run import Run
from floor.batch.stations.conditions import ClearCondition, ReportCondition
from floor.batch.trials.commands import (
    BringTrialPiecesBack,
    ChooseSetting,
    EnterTrialResult,
    PlanTrial,
    TakeTrialPieces,
)
from floor.batch.walk.commands import BeginRun, CheckAgain
from floor.checklist.loading import compute_checklist_digest, list_shipped_checklists, load_checklist
from floor.entry import Draft, Moment
from floor.shop import Shop
from floor.shop.demo import make_demo
from floor.shop.lessons import study_batch
from floor.shop.maintenance import receive_batch, review_bundle, send_batch
from floor.shop.program_files import prepare_reading
from floor.shop.simulation import ManualClock, SimulatedOperator
from tests.batch.factory import edited, part
from tests.batch.test_by_hand_lists import LISTED, TOGETHER
from tests.batch.test_cure_air import CURE, STATED
from tests.batch.test_gauges import DEPTH
from tests.batch.test_kinds import everything_once
from tests.batch.test_lots import per
from tests.batch.test_out_of_list import line_of_ops
from tests.batch.test_qualified_people import ASKS
from tests.batch.test_recheck import AFTER
from tests.records.state import states
from tests.shop.programmed import EDITS, LINE, PROGRAM
from tests.shop.qualified import qualify
from tests.shop.taught import teach
from tests.shop.test_whole_order import test_the_demo_order_is_filled_through_commands_alone as whole_order

HERE = Path(__file__).parent
MONDAY = datetime(2026, 5, 4, 7, tzinfo=UTC)


def order(folder: Path) -> None:
    """96 plates from opening to close: handovers, waivers, rework, scrap, a hold, a killed program."""
    whole_order(folder / "shop")


def demo(folder: Path) -> None:
    """The demo as it is opened: a half-done batch with a handover, a waiver, a cure and a cycle under way."""
    make_demo(folder / "shop", lambda: Moment(MONDAY + timedelta(days=30, hours=3), "demo", 9e6)).close()


def pins(folder: Path) -> None:
    """Metering pins, worked through and closed."""
    _through(folder / "shop", "metering-pin.toml", 24, 26)


def struts(folder: Path) -> None:
    """Bonded struts, worked through and closed, with entries that were struck out."""
    _through(folder / "shop", "bonded-strut.toml", 16, 18)


def kinds(folder: Path) -> None:
    """A batch with every kind of entry except leaving and coming back."""
    shop = _shop(folder / "shop", ManualClock(MONDAY))
    journal = shop.journals.create("B0001")
    for entry in everything_once().state.entries:
        with journal.turn() as turn:
            turn.append([Draft(entry.kind, entry.body)], Moment(entry.time, entry.boot, entry.up), entry.by)
    shop.close()
    Shop(folder / "shop").close()  # which puts the closed batch where it belongs


def away(folder: Path) -> None:
    """A batch that is sent to another machine, worked on there, and taken back; the bundles are kept too."""
    clock = ManualClock(MONDAY)
    there_clock = ManualClock(MONDAY + timedelta(minutes=7))  # its clock is ahead
    there_clock.moment = Moment(there_clock.moment.at, "otherhost-7f3a", 52_000.0)
    here, there = _shop(folder / "shop", clock), _shop(folder / "other", there_clock)
    batch = _opened(here, "metering-pin.toml", 6, 8)
    hand = SimulatedOperator(here, batch, "AA", clock, second="LL")
    hand.shift(clock().at + timedelta(hours=3))
    send_batch(here, batch, folder / "out.floor", "the other shop", "LL")
    there_clock.forward((clock().at - MONDAY).total_seconds() + 3600)
    taken = receive_batch(there, review_bundle(there, folder / "out.floor"), "LL").name
    away_hand = SimulatedOperator(there, taken, "AA", there_clock, second="LL")
    away_hand.do(Note("came in a crate, all there", next_shift=True))
    away_hand.shift(there_clock().at + timedelta(hours=4))
    send_batch(there, taken, folder / "back.floor", "home", "LL")
    clock.until(there_clock().at + timedelta(hours=2))
    receive_batch(here, review_bundle(here, folder / "back.floor"), "LL")
    hand.shift(clock().at + timedelta(hours=2))
    here.close()
    there.close()


def programs(folder: Path) -> None:
    """A batch whose program file was read: with a fault, put right, and changed after the first piece was accepted."""
    clock = ManualClock(MONDAY)
    shop = _shop(folder / "shop", clock)
    opening = OpenBatch(shop.find_next_id(), edited(*EDITS), "digest", "part.toml", 8, 10)
    id = shop.open_batch(opening, "AA").id
    hand = SimulatedOperator(shop, id, "AA", clock, second="LL")
    file = shop.folder / "programs" / "O0710.nc"
    file.parent.mkdir()
    first = hand.form(10)
    for text in (PROGRAM.replace("F800.", "F80."), PROGRAM):
        file.write_text(text)
        hand.work(first)
    second = hand.form(10)
    hand.work(second, stop=lambda line: line.kind == "start")
    file.write_text(PROGRAM.replace("Y40.", "Y39."))
    hand.do(prepare_reading(shop.folder, hand.batch, hand.run(second), LINE).read())
    shop.close()


def rooms(folder: Path) -> None:
    """A batch whose coat cures in a room that is read: cold at first, then warm."""
    clock = ManualClock(MONDAY)
    shop = _shop(folder / "shop", clock)
    opening = OpenBatch(shop.find_next_id(), edited((CURE, STATED)), "digest", "part.toml", 4, 4)
    id = shop.open_batch(opening, "AA").id
    hand = SimulatedOperator(shop, id, "AA", clock, second="LL")
    load = hand.form(10)
    hand.work(load)
    hand.work(load)
    for air, humidity in (("14", "65"), ("24", "45")):
        hand.do(ReadAir(air, humidity))
        clock.forward(4 * 3600)
    shop.close()


def handed(folder: Path) -> None:
    """A guard off over a shift change, one lot refused, the page signed; then the guard is on again."""
    clock = ManualClock(MONDAY)
    shop = _shop(folder / "shop", clock)
    opening = OpenBatch(shop.find_next_id(), edited(), "digest", "part.toml", 4, 4)
    id = shop.open_batch(opening, "AA").id
    hand, taker = (SimulatedOperator(shop, id, who, clock, second="LL") for who in ("AA", "BB"))
    load = hand.form(10)
    hand.work(load)
    hand.work(load, stop=lambda line: line.key == "lot recorded 1")
    with suppress(Refused):
        hand.do(Prove(hand.run(load).number, "lot recorded 1", {"lot": "L1", "use_by": "2026-01-31"}))
    hand.do(ReportCondition("mill", "guard off", "hinge broke"))
    hand.do(OfferHandover("no cut until the guard is on"))
    taker.do(ReadHandoverPage())
    for subject in list_count_subjects(shop.batch(id)):
        taker.do(CountSubjectPieces(subject.key, subject.expected))
    for line in list_safety_lines(shop.batch(id), clock()):
        taker.do(ReadBackLine(line.key))
    taker.do(AcceptHandover(talked="face to face"))
    taker.do(ClearCondition("mill", "guard off", "new hinge"))
    shop.close()


def weaker(folder: Path) -> None:
    """A second batch of a part, by a checklist whose step may be skipped now."""
    shop = _shop(folder / "shop", ManualClock(MONDAY))
    shop.open_batch(OpenBatch(shop.find_next_id(), edited(), "digest", "part.toml", 4, 4), "AA")
    coat = '{ do = "Brush the coat on", id = "coat", at = "load", skip = false }'
    looser = edited((coat, coat.replace(", skip = false", "")))
    why = "the robot brushes it"
    shop.open_batch(OpenBatch(shop.find_next_id(), looser, "other", "part.toml", 4, 4, weaker_why=why), "LL")


def gauges(folder: Path) -> None:
    """A check held by an overdue gauge and taken by another, which is suspect later; a lead decides, both come back."""
    clock = ManualClock(MONDAY)
    shop = _shop(folder / "shop", clock)
    for serial, due in (("DM-03", "2026-05-04"), ("DM-04", "2026-11-30")):
        shop.add_gauge(serial, "Depth micrometer", due, "LL")
    clock.forward(24 * 3600)
    opening = OpenBatch(shop.find_next_id(), edited(DEPTH), "digest", "part.toml", 4, 4)
    id = shop.open_batch(opening, "AA").id
    hand, lead = (SimulatedOperator(shop, id, who, clock, second="BB") for who in ("AA", "LL"))
    load = hand.form(10)
    hand.work(load, stop=lambda line: line.key == "measured 1")
    with suppress(Refused):
        hand.do(Prove(hand.run(load).number, "measured 1", {"value": [3.0, 3.0], "gauge": "DM-03"}))
    hand.do(Prove(hand.run(load).number, "measured 1", {"value": [3.0, 3.0], "gauge": "DM-04"}))
    shop.withdraw_gauge("DM-04", "dropped", True, "AA")
    lead.do(SettleSuspectGauge(shop.batch(id).seq, "measured again with DM-05"))
    shop.change_gauge("DM-03", "Depth micrometer 0 to 25 mm", "2027-05-04", "LL")
    shop.return_gauge("DM-04", "2027-05-04", "checked on blocks", "LL")
    shop.close()


def laboratory(folder: Path) -> None:
    """A gauge calibrated, its due date corrected, withdrawn, and called suspect weeks later; one of another name."""
    clock = ManualClock(MONDAY)
    shop = _shop(folder / "shop", clock)
    shop.add_gauge("DM-03", "Depth micrometer", "2026-11-30", "LL")
    shop.add_gauge("DM-04", "Depth micrometer", "2026-11-30", "LL", "2026-04-30")
    shop.add_gauge("TG-1", "Thread gauge", "2026-11-30", "LL", "2026-04-30")
    shop.change_gauge("DM-03", "Depth micrometer", "2027-04-30", "LL", "2026-05-04")
    shop.change_gauge("DM-04", "Depth micrometer 0 to 25 mm", "2026-10-31", "LL", "n")
    opening = OpenBatch(shop.find_next_id(), edited(DEPTH), "digest", "part.toml", 4, 4)
    id = shop.open_batch(opening, "AA").id
    hand = SimulatedOperator(shop, id, "AA", clock, second="BB")
    load = hand.form(10)
    hand.work(load, stop=lambda line: line.key == "measured 1")
    with suppress(Refused):
        hand.do(Prove(hand.run(load).number, "measured 1", {"value": [3.0, 3.0], "gauge": "tg1"}))
    hand.do(Prove(hand.run(load).number, "measured 1", {"value": [3.0, 3.0], "gauge": "dm 04"}))
    shop.withdraw_gauge("DM-04", "at the laboratory", False, "AA")
    clock.forward(14 * 24 * 3600)
    shop.call_gauge_suspect("DM-04", "out of its limits", "2026-04-30", "AA")
    shop.close()


def moves(folder: Path) -> None:
    """A load of chosen pieces, two operations before their turn, split and joined, then at another bench."""
    clock = ManualClock(MONDAY)
    shop = _shop(folder / "shop", clock)
    opening = OpenBatch(shop.find_next_id(), line_of_ops(12, 14), "digest", "part.toml", 8, 8)
    id = shop.open_batch(opening, "AA").id
    hand, lead = (SimulatedOperator(shop, id, who, clock, second="BB") for who in ("AA", "LL"))
    hand.do(FormLoad(10, carrier_number=2, pieces=(8, 3, 5), places=("B2", "A1", "A2")))
    hand.work(1)
    hand.do(BeginRun(1, ahead=14))
    hand.work(1)
    lead.do(BeginRun(1, ahead=16, ahead_why="the cutter for 12 is away"))
    hand.work(1)
    hand.work(1)
    half = int(hand.do(MovePieces(1, (8, 5), 3))[0].body["load"])
    hand.do(MovePieces(half, (5,)))
    hand.do(MovePieces(None, (5,), 2, op=20))
    joined = int(hand.do(MovePieces(half, (8,), 2, ("B1",)))[0].body["load"])
    hand.do(MovePieces(joined, (3, 8), 2, ("B1", "A1")))
    last = max(shop.batch(id).loads)
    lead.do(BeginRun(last, station="table", instead="the bench is wet"))
    hand.work(last)
    shop.close()


def lessons(folder: Path) -> None:
    """A time and a yield that a batch taught, taken into the checklist's file."""
    clock = ManualClock(MONDAY)
    shop = _shop(folder / "shop", clock)
    batch = teach(shop, clock)
    for one in study_batch(shop, batch).lessons.offered[:2]:
        shop.take_lessons(batch.id, one.changes, "LL")
    shop.close()


def tried(folder: Path) -> None:
    """Three trials: numbers typed and from a file, good or bad, words; pieces used, brought back, struck out."""
    clock = ManualClock(MONDAY)
    shop = _shop(folder / "shop", clock)
    id = shop.open_batch(OpenBatch(shop.find_next_id(), edited(), "digest", "part.toml", 8, 14), "AA").id
    hand, lead = (SimulatedOperator(shop, id, who, clock, second="BB") for who in ("AA", "LL"))
    speeds = (("speed", ("6000 rpm", "8000 rpm", "10000 rpm")),)
    hand.do(PlanTrial("which speed runs smoothest?", speeds, "number", "vibration", 1, "m/s2", 10, 0.05))
    load = hand.form(10)
    hand.do(TakeTrialPieces(1, 1, 1, load=load))
    hand.do(TakeTrialPieces(1, 2, 2, op=10))
    for setting, values in enumerate(((0.61, 0.64, 0.66), (0.54, 0.52, 0.55), (0.40, 0.42)), 1):
        hand.do(EnterTrialResult(1, setting, values))
    axes = ("x", "y", "z")
    source = TrialFile(file="run7.csv", sha256="ab" * 32, columns=axes, how="vibration", rows=6000, left_out=2)
    hand.do(EnterTrialResult(1, 3, (0.38,), source=source))
    lead.do(BringTrialPiecesBack(1, 1, "cut in air only"))
    hand.do(ChooseSetting(1, 3, "quiet, and no worse", "op 10: speed 10000 rpm"))
    hand.do(
        PlanTrial(
            "which leaves no burr?", (("angle", ("60", "90")), ("cloth", ("soft", "coarse"))), "good or bad", "burr", 0
        )
    )
    hand.do(EnterTrialResult(2, 1, good=3))
    hand.do(EnterTrialResult(2, 4, good=1, bad=2, seen="torn edge"))
    hand.do(PlanTrial("which oven setting?", (("oven", ("60 degC", "80 degC")),), "words", "surface", 1, op=30))
    hand.do(EnterTrialResult(3, 2, seen="two bubbles"))
    wrong = hand.do(TakeTrialPieces(3, 1, 2))[0]
    hand.do(StrikeOut(wrong.seq, "not these"))
    hand.work(load)
    shop.close()


def interrupted(folder: Path) -> None:
    """People qualified for a station, one of them no longer; steps checked again after an interruption; two struck."""
    clock = ManualClock(MONDAY)
    shop = _shop(folder / "shop", clock)
    shop.enter_qualification("AA", "spray painting", "2026-01-05", "2027-01-04", "LL")
    for who in ("AA", "BB"):
        shop.enter_qualification(who, "health surveillance", "2026-01-05", "2026-05-29", "LL")
    shop.enter_qualification("AA", "health surveillance", "2026-05-04", "2027-05-03", "LL")
    shop.withdraw_qualification("BB", "health surveillance", "lung test", "LL")
    checklist = edited(ASKS, AFTER, TOGETHER, *LISTED)
    id = shop.open_batch(OpenBatch(shop.find_next_id(), checklist, "digest", "part.toml", 8, 8), "AA").id
    hand = SimulatedOperator(shop, id, "AA", clock, second="BB")
    load = hand.form(10)
    hand.work(load, stop=lambda line: line.kind == "start")
    clock.forward(20 * 60)
    checked = hand.do(CheckAgain(hand.run(load).number))[0]
    hand.do(StrikeOut(checked.seq, "not looked at"))
    hand.work(load)
    left = hand.form(10)
    hand.work(left, stop=lambda line: line.key == "after step 2")
    clock.forward(20 * 60)
    hand.do(Note("back", run=hand.run(left).number))
    shop.close()


def tested(folder: Path) -> None:
    """An order that says what tests and trials use up: some taken for a trial, some scrapped after a good count."""
    clock = ManualClock(MONDAY)
    shop = _shop(folder / "shop", clock)
    opening = OpenBatch(shop.find_next_id(), edited(), "digest", "part.toml", 4, 12, tests={10: 2, 20: 3})
    id = shop.open_batch(opening, "AA").id
    hand = SimulatedOperator(shop, id, "AA", clock, second="LL")
    hand.do(PlanTrial("which coolant?", (("coolant", ("5 %", "8 %")),), "words", "burr", 1, op=20))
    hand.do(TakeTrialPieces(1, 1, 1))
    load = hand.form(10)
    hand.work(load, stop=lambda _: shop.batch(id).loads[load].next_op == 20)
    hand.do(SetPiecesAside("scrap", "cut up for the test", load=load, count=2))
    shop.close()


def put_off(folder: Path) -> None:
    """Work put off in notes: with owner and time, with one of them, one marked done."""
    clock = ManualClock(MONDAY)
    shop = _shop(folder / "shop", clock)
    batch = _opened(shop, "metering-pin.toml", 6, 8)
    soon = clock().at + timedelta(hours=2)
    done = shop.do(batch, Note("swap the coolant", owner="BB", due=soon), "AA")[0].seq
    shop.do(batch, Note("order pins", owner="AA"), "AA")
    shop.do(batch, Note("oil the ways", due=soon + timedelta(days=1)), "AA")
    clock.forward(3 * 3600)
    shop.do(batch, MarkNoteDone(done, "sump scrubbed too"), "BB")
    shop.close()


def decided(folder: Path) -> None:
    """Held pieces repaired by the customer's word, regraded and returned; causes found, and the customer told."""
    clock = ManualClock(MONDAY)
    shop = _shop(folder / "shop", clock)
    id = shop.open_batch(OpenBatch("B0001", edited(), "digest", "part.toml", 6, 8), "LL").id
    hand = SimulatedOperator(shop, id, "AA", clock, second="BB")
    lead = SimulatedOperator(shop, id, "LL", clock, second="BB")
    hand.do(SetPiecesAside("hold", "bar of another heat", op=10, count=4))
    held, day = sorted(shop.batch(id).held()), MONDAY.date().isoformat()
    word = Concession(by="Ms Vance", on=day, number="26-114")
    lead.do(Dispose((held[0],), "repair", "may be cut again", "regroove", concession=word))
    lead.do(Dispose((held[1],), "regrade", "softer, as drawn before", to="spare parts"))
    lead.do(Dispose((held[2],), "return to supplier", "not as ordered", to="Bar Mill Inc., 26-81"))
    lead.do(Dispose((held[3],), "use as is", "hard enough", concession=word))
    hand.do(FollowUp(tuple(held), "cause found", "Ms Lee", day, "two heats in one rack"))
    hand.do(FollowUp((held[0], held[3]), "customer told", "Ms Vance", day, "two pieces of another heat", "26-114"))
    shop.close()


def asked(folder: Path) -> None:
    """A shop that asks a question at each handover; a word left with a load, which who starts its next op has read."""
    (folder / "shop").mkdir()
    (folder / "shop" / "shop.toml").write_text('handover_questions = ["Chip bin?", "Gauges put away?"]\n')
    clock = ManualClock(MONDAY)
    shop = _shop(folder / "shop", clock)
    id = shop.open_batch(OpenBatch(shop.find_next_id(), edited(), "digest", "part.toml", 4, 4), "AA").id
    hand, taker = (SimulatedOperator(shop, id, who, clock, second="LL") for who in ("AA", "BB"))
    load = hand.form(10)
    hand.work(load)
    hand.do(Note("burr on A2", run=1, next_shift=True))
    taker.work(load, stop=lambda _: True)
    hand.do(OfferHandover("as usual", answers=("emptied", "one in use")))
    taker.do(ReadHandoverPage())
    for subject in list_count_subjects(shop.batch(id)):
        taker.do(CountSubjectPieces(subject.key, subject.expected))
    for line in list_safety_lines(shop.batch(id), clock()):
        taker.do(ReadBackLine(line.key))
    taker.do(AcceptHandover(talked="face to face"))
    shop.close()


def corrected(folder: Path) -> None:
    """Lots recorded wrong: corrected at once and after a strike, for a load and for the batch; one only struck out."""
    clock = ManualClock(MONDAY)
    shop = _shop(folder / "shop", clock)
    id = shop.open_batch(OpenBatch("B0001", per("load")(), "digest", "part.toml", 10, 12), "LL").id
    hand = SimulatedOperator(shop, id, "AA", clock, second="BB")
    lead = SimulatedOperator(shop, id, "LL", clock, second="BB")
    seqs = []
    for _ in range(3):
        load = hand.do(FormLoad(10))[0].body["load"]
        hand.work(load, stop=lambda line: line.key == "release")
        hand.work(load)
        hand.work(load, stop=lambda line: line.key == "release")
        hand.work(load)
        lots = [one.seq for one in shop.batch(id).entries if one.body.get("gate") == "lot recorded"]
        seqs.append(lots[-1])
    hand.do(CorrectLot(seqs[0], "E-201", "2027-03-31", "read the can again"))
    hand.do(StrikeOut(seqs[1], "another can"))
    lead.do(CorrectLot(seqs[1], "E-202", "2027-03-31", "E-202 is on the can"))
    lead.do(CorrectLot(shop.batch(id).lot_entries["bar stock"][0], "H-9", "", "the certificate says so"))
    hand.do(StrikeOut(seqs[2], "nobody knows which can"))
    shop.close()


def recounted(folder: Path) -> None:
    """Scrap that was marked; and scrap counted, or set aside, that was none: held, used as is, still on its carrier."""
    clock = ManualClock(MONDAY)
    shop = _shop(folder / "shop", clock)
    id = shop.open_batch(OpenBatch("B0001", part(), "digest", "part.toml", 6, 10), "LL").id
    hand = SimulatedOperator(shop, id, "AA", clock, second="BB")
    lead = SimulatedOperator(shop, id, "LL", clock, second="BB")
    [lost] = hand.do(SetPiecesAside("scrap", "not found", op=10, count=1))
    hand.do(EndScrap(tuple(lost.body["pieces"]), "scrap not found"))
    load = hand.form(10)
    hand.work(load, marks=(MarkedPieces("deep", ("A1", "A2")),))
    counted = next(entry for entry in shop.batch(id).entries if entry.body.get("marks"))
    spoiled, good = counted.body["marks"][0]["pieces"]
    hand.do(EndScrap((spoiled,), "scrap marked", "red bin"))
    hand.work(load)
    lead.do(CorrectCount(counted.seq, (good,), "in limits, measured again"))
    lead.do(Dispose((good,), "use as is", "in limits, measured again"))
    lead.do(CorrectCount(lost.seq, tuple(lost.body["pieces"]), "found again"))
    shop.close()


SHOPS: dict[str, Callable[[Path], None]] = {
    made.__name__: made
    for made in (
        order,
        demo,
        pins,
        struts,
        kinds,
        away,
        programs,
        rooms,
        handed,
        weaker,
        gauges,
        laboratory,
        moves,
        lessons,
        tried,
        interrupted,
        tested,
        put_off,
        decided,
        asked,
        corrected,
        recounted,
    )
}


def _shop(folder: Path, clock: ManualClock) -> Shop:
    shop = Shop(folder, clock)
    for initials, lead in (("LL", True), ("AA", False), ("BB", False)):
        shop.add_person(initials, f"Person {initials}", lead, by="-" if lead else "LL")
    return shop


def _opened(shop: Shop, name: str, ordered: int, started: int) -> str:
    file = next(file for file in list_shipped_checklists() if file.name == name)
    checklist = load_checklist(file).checklist
    assert checklist is not None
    qualify(shop, checklist, "AA", "BB", "LL")
    digest = compute_checklist_digest(file.read_text(encoding="utf-8"))
    opening = OpenBatch(shop.find_next_id(), checklist, digest, name, ordered, started, reference="PO 11")
    return shop.open_batch(opening, "AA").id


def _through(folder: Path, name: str, ordered: int, started: int) -> None:
    """Work a shipped checklist through: one piece of each operation that can is scrapped the first time."""
    clock = ManualClock(MONDAY)
    shop = _shop(folder, clock)
    batch = _opened(shop, name, ordered, started)
    lost: list[int] = []

    def found(run: Run) -> tuple[MarkedPieces, ...]:
        reasons = [reason.code for reason in shop.batch(batch).find_operation(run).reasons if not reason.needs_note]
        if len(lost) >= started - ordered or run.op in lost or not reasons or len(run.undecided) < 2:
            return ()
        lost.append(run.op)
        return (MarkedPieces(reasons[0], count=1),)

    people = [SimulatedOperator(shop, batch, initials, clock, second="LL") for initials in ("AA", "BB")]
    for day in range(60):
        hand = people[day % 2]
        if hand.batch.handover is None and hand.batch.responsible != hand.initials:
            note = hand.do(Note("the shift before left early"))[0]
            hand.do(StrikeOut(note.seq, "they did not"))
        hand.shift(clock().at + timedelta(hours=9), found)
        lead = SimulatedOperator(shop, batch, "LL", clock, second="AA")
        if lead.batch.held():
            lead.do(Dispose(tuple(lead.batch.held()), "use as is", "measured again, in limits"))
        if lead.batch.total("finished") + lead.batch.total("scrap") == started:
            break
        clock.forward(15 * 3600)
    try:
        lead.do(CloseBatch())
    except Refused as refused:  # the corpus is made by hand: read this when making it
        sys.stderr.write(f"{name} is not closed: {refused}\n")
    shop.close()


def write(name: str) -> None:
    """Make one shop, and write down the state that is folded from it."""
    with tempfile.TemporaryDirectory() as made:
        SHOPS[name](Path(made))
        files = sorted(path for path in Path(made).rglob("*") if path.is_file() and "backups" not in path.parts)
        with zipfile.ZipFile(HERE / f"{name}.zip", "w", zipfile.ZIP_DEFLATED, compresslevel=9) as packed:
            for file in files:
                info = zipfile.ZipInfo(file.relative_to(made).as_posix(), (2026, 5, 4, 7, 0, 0))
                packed.writestr(info, file.read_bytes(), zipfile.ZIP_DEFLATED)
    write_state(name)


def write_state(name: str) -> None:
    """Write down the state that is folded from a shop as it lies here."""
    with tempfile.TemporaryDirectory() as folder:
        with zipfile.ZipFile(HERE / f"{name}.zip") as packed:
            packed.extractall(folder)
        text = json.dumps(states(Path(folder)), indent=1, sort_keys=True, ensure_ascii=False)
    with zipfile.ZipFile(HERE / f"{name}.state.zip", "w", zipfile.ZIP_DEFLATED, compresslevel=9) as packed:
        packed.writestr(zipfile.ZipInfo("state.json", (2026, 5, 4, 7, 0, 0)), text, zipfile.ZIP_DEFLATED)


def main(asked: Sequence[str]) -> None:
    if asked == ["--state"]:
        for name in SHOPS:
            write_state(name)
        return
    for name in asked:
        if (HERE / f"{name}.zip").exists():
            sys.exit(f"{name}.zip is there already, and no record of the corpus is ever made anew.")
        write(name)


if __name__ == "__main__":
    main(sys.argv[1:])
