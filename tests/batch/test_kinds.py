"""Every entry kind is folded, described, and comes back from JSON unchanged; foreign data is refused in words."""

from __future__ import annotations

import ast
import dataclasses
import json
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

import floor.batch
from floor.batch.command import Refused
from floor.batch.corrections.commands import ConfirmClock, MarkNoteDone, Note, SettleUnproved, StrikeOut
from floor.batch.counting.commands import CountRun, Dispose, MarkedPieces, TakeOff
from floor.batch.counting.correct_count import CorrectCount
from floor.batch.counting.decide_surplus import BringBackSurplus, LetSurplusGoOn, TakeOutSurplus
from floor.batch.counting.follow_up import FollowUp
from floor.batch.describe import DESCRIBED, describe
from floor.batch.events import KINDS
from floor.batch.fold import HANDLERS, Inapplicable, fold
from floor.batch.gates.commands import CloseWaiver, Waive
from floor.batch.gates.correct_lot import CorrectLot
from floor.batch.gates.decide_out_of_limits import DecideBefore
from floor.batch.gates.open_lot import OpenLot
from floor.batch.gates.room_air import ReadAir
from floor.batch.gates.suspect_gauges import ReportSuspectGauge, SettleSuspectGauge
from floor.batch.handover.commands import (
    AcceptHandover,
    AnswerQuestion,
    AskQuestion,
    CountSubjectPieces,
    OfferHandover,
    ReadBackLine,
    ReadHandoverPage,
    ResolveDifference,
    WithdrawHandover,
)
from floor.batch.handover.page import list_count_subjects, list_safety_lines
from floor.batch.lifecycle.commands import CloseBatch, SetPiecesAside, StartPieces
from floor.batch.lifecycle.enter_half_done import EnterLate
from floor.batch.lifecycle.half_done import PlacedPieces
from floor.batch.moving.commands import MovePieces
from floor.batch.stations.commands import Disturb, TakeDown, WearTools
from floor.batch.stations.conditions import ClearCondition, ReportCondition
from floor.batch.stations.out_of_service import ReturnToService, TakeOutOfService
from floor.batch.trials.commands import (
    BringTrialPiecesBack,
    ChooseSetting,
    EnterTrialResult,
    PlanTrial,
    TakeTrialPieces,
)
from floor.batch.walk.commands import CheckAgain, DoStep, Pause, SkipStep
from floor.batch.walk.put_back import PutBack
from floor.batch.walk.stop_cycle import StopCycle
from floor.entry import Entry
from tests.batch.factory import Bench, decide_out, edited, measure_again, open_bench
from tests.batch.test_gauges import DEPTH
from tests.batch.test_recheck import AFTER

BATCH = Path(floor.batch.__path__[0])

OF_BATCHES = {event for event in KINDS.values() if event.GROUP != "shop"}


def drafted() -> set[str]:
    """The events that the commands write, read from their source: ``events.StepDone(...)``."""
    return {
        node.func.attr
        for file in BATCH.rglob("*.py")
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute)
        and getattr(node.func.value, "id", "") == "events" and node.func.attr[0].isupper()
    }  # fmt: skip


def everything_once() -> Bench:
    """A batch with every kind of entry except leaving and coming back."""
    bench = open_bench(partial(edited, DEPTH, AFTER), order=2, start=4)
    bench.say(
        EnterLate((PlacedPieces("scrap", 1, 10, reason="deep"), PlacedPieces("waiting", 3, 10)), bench.clock().at),
        by="LL",
    )
    bench.say(StrikeOut(bench.state.seq, "nothing was done yet"), by="LL")
    bench.say(StartPieces(1))
    load = bench.form(10, count=4)
    bench.until(load, "load step 1")
    run = bench.run_of(load).number
    bench.say(Pause(run, "phone"))
    bench.clock.forward(16 * 60)
    bench.say(CheckAgain(run))
    bench.say(SkipStep(run, "load step 1", "clamped already"))
    bench.say(Disturb("mill", "tool changed", tool=1, note="broke"))
    bench.until(load, "probed 1")
    bench.say(Waive(run, "probed 1", "probe broken"), by="LL")
    bench.say(CloseWaiver(bench.state.seq, "set by indicator"), by="LL")
    bench.until(load, "end")
    bench.say(StopCycle(run, "alarm"))
    bench.until(load, "measured 1")
    out = bench.prove(load, "measured 1", value=[3.0, 3.3], gauge="DM-04").seq
    bench.say(measure_again(bench.state, out, 3.2, "chip under the gauge"))
    bench.say(decide_out(bench.state, out, "deep", ("A1",)))
    bench.say(DecideBefore(out, 0, "the chip was on A1 only"), by="LL")
    bench.until(load, "count")
    bench.say(CountRun(run, 2, (MarkedPieces("other", ("A2",), note="odd"),)))
    bench.say(TakeOff((1,)))
    bench.hand().work(load)
    loaded = next(entry for entry in bench.state.entries if entry.body.get("line") == "program loaded 1")
    strike = bench.say(StrikeOut(loaded.seq, "misread"), by="LL")[0]
    bench.say(SettleUnproved(strike.seq, "proved afterwards", "the control keeps a log"), by="LL")
    bench.say(TakeDown("mill", "B0002"))
    bench.say(WearTools("mill", ((1, 1800.0),), "B0002"))
    bench.say(TakeOutOfService("oven", "door jams"))
    bench.say(ReturnToService("oven", "hinge greased"))
    bench.say(ReportCondition("oven", "temporary fix", "hinge wired"))
    bench.say(ClearCondition("oven", "temporary fix", "hinge screwed"))
    bench.say(ReportSuspectGauge("DM-04", "Depth micrometer", "dropped", bench.state.opened))
    bench.say(SettleSuspectGauge(bench.state.seq, "measured again with DM-05"), by="LL")
    bench.say(ReadAir("18", "60 %"))
    bench.say(MarkNoteDone(bench.say(Note("swap the coolant", owner="BB"))[0].seq, "swapped"))
    bench.say(Note("smells", abnormal=True))
    bench.say(StrikeOut(bench.state.seq, "does not"))
    [aside] = bench.say(SetPiecesAside("scrap", "odd", op=10, count=1))
    bench.say(CorrectCount(aside.seq, tuple(aside.body["pieces"]), "not odd"), by="LL")
    bench.say(Dispose(tuple(bench.state.held()), "scrap", "cracked"), by="LL")
    bench.say(FollowUp((1,), "cause found", "Ms Lee", "2026-03-02", "collet worn"))
    bench.say(OfferHandover("soon"))
    bench.say(WithdrawHandover())
    bench.say(OfferHandover("now"))
    question = bench.say(AskQuestion("why?"), by="BB")[0].seq
    bench.say(AnswerQuestion(question, "because"))
    for subject in list_count_subjects(bench.state):
        bench.say(CountSubjectPieces(subject.key, subject.expected + 1), by="BB")
    for difference in bench.state.list_open_differences():
        bench.say(ResolveDifference(difference.seq, "counted the stop twice"), by="LL")
    for line in list_safety_lines(bench.state, bench.clock()):
        bench.say(ReadBackLine(line.key), by="BB")
    bench.say(ReadHandoverPage(), by="BB")
    bench.say(AcceptHandover(talked="face to face"), by="BB")
    bench.say(ConfirmClock("radio"), by="LL")
    bench.say(PutBack(bench.begin(load).number))
    load = bench.say(MovePieces(load, onto=2))[0].body["load"]
    bench.through(load, 20)
    bench.say(OpenLot("lacquer", "L-2", "2027-01-31"))
    bench.say(CorrectLot(bench.state.seq, "L-3", "2027-02-28", "read the can again"))
    bench.say(OfferHandover("cures"), by="BB")
    for subject in list_count_subjects(bench.state):
        bench.say(CountSubjectPieces(subject.key, subject.expected), by="AA")
    for line in list_safety_lines(bench.state, bench.clock()):
        bench.say(ReadBackLine(line.key), by="AA")
    bench.say(ReadHandoverPage())
    bench.say(AcceptHandover(talked="face to face"))
    bench.through(load, 30)
    bench.through(bench.form(40))
    bench.through(bench.form(50))
    bench.say(StartPieces(2))
    bench.say(PlanTrial("which lacquer?", (("lacquer", ("A", "B")),), "number", "gloss", 1, "GU"))
    bench.say(TakeTrialPieces(1, 1, 1))
    bench.say(EnterTrialResult(1, 1, (81.5,), seen="even"))
    bench.say(BringTrialPiecesBack(1, 1, "wiped off again"), by="LL")
    bench.say(ChooseSetting(1, 1, "it dries faster", "op 20: lacquer A"))
    bench.say(LetSurplusGoOn("for stock", until=10))
    bench.say(TakeOutSurplus("spare", "enough of them"))
    bench.say(BringBackSurplus(10, "one came back", count=1))
    bench.say(TakeOutSurplus("stopped", "enough of them"), by="LL")
    bench.say(CloseBatch())
    return bench


@pytest.fixture(scope="module")
def lived() -> Bench:
    return everything_once()


def test_every_kind_that_is_written_is_folded_and_described() -> None:
    parts = {
        "Concession",
        "Mark",
        "LateRow",
        "LateSetup",
        "LateProof",
        "ProgramFinding",
        "ReadAgain",
        "ShopAnswer",
        "SignedCount",
        "SignedMiscount",
        "WeakenedPoint",
        "TrialFactor",
        "TrialFile",
        "SignedLine",
        "SignedSection",
    }
    assert drafted() - parts == {event.__name__ for event in OF_BATCHES}
    assert set(HANDLERS) == OF_BATCHES
    assert set(DESCRIBED) == OF_BATCHES


def test_every_kind_comes_up_in_a_life_of_a_batch(lived: Bench) -> None:
    never = {event.KIND for event in HANDLERS} - {entry.kind for entry in lived.state.entries}

    assert never == {"gone_over", "taken_in", "out_settled", "program_read", "attempt_refused", "checklist_weakened"}, (
        "leaving and coming back are tested with the bundle, a station's reading and a program with a part that has one"
    )


def test_every_entry_says_something_of_itself(lived: Bench) -> None:
    for entry in lived.state.entries:
        said = describe(lived.state, entry)
        assert said
        assert len(said) < 400
        assert said.isprintable()
        assert "{" not in said
        assert "None" not in said


def test_the_record_as_plain_json_folds_to_the_same_state(lived: Bench) -> None:
    """REC-34: plain JSON, readable without the program."""
    text = json.dumps([dataclasses.asdict(entry) for entry in lived.state.entries])

    assert fold([Entry(**one) for one in json.loads(text)]) == lived.state


def test_the_frozen_checklist_is_the_one_that_was_opened(lived: Bench) -> None:
    """REC-03: a copy of the procedure as run is kept inside the record."""
    assert lived.state.checklist == edited(DEPTH, AFTER)


def changed(entry: Entry, **fields: Any) -> Entry:
    return dataclasses.replace(entry, **fields)


def test_a_kind_of_a_newer_floor_is_refused_not_passed_over(lived: Bench) -> None:
    entries = list(lived.state.entries)
    entries[5] = changed(entries[5], kind="weighed")

    with pytest.raises(Inapplicable, match=r"entry 6 \(weighed\): a newer version of Floor wrote it. Update Floor"):
        fold(entries)


@pytest.mark.parametrize("carrier", ["x", None, []])
def test_a_load_on_a_carrier_that_the_checklist_has_not_is_refused(lived: Bench, carrier: Any) -> None:
    """Accepted, it would break everything that has to name its places later."""
    entries = list(lived.state.entries)
    at = next(index for index, entry in enumerate(entries) if entry.kind == "load_formed")
    entries[at] = changed(entries[at], body={**entries[at].body, "carrier": carrier})

    with pytest.raises(Inapplicable, match=rf"entry {at + 1} \(load formed\): .*carrier"):
        fold(entries)


def test_a_record_that_does_not_start_with_its_opening_is_refused(lived: Bench) -> None:
    with pytest.raises(Inapplicable, match="starts with its opening"):
        fold(lived.state.entries[1:])
    with pytest.raises(ValueError, match="without entries"):
        fold([])
    twice = [lived.state.entries[0], lived.state.entries[0]]
    with pytest.raises(Inapplicable, match="a batch is opened once"):
        fold(twice)


ODD = [None, -1, 0, 7, 10**30, 2.5, "", "x", [], [[]], [1, 1], {}, {"a": None}, True]


@given(entry=st.integers(0, 999), field=st.integers(0, 99), odd=st.integers(0, 2 * len(ODD) - 1))
def test_entries_with_foreign_data_are_refused_by_name_and_never_crash(
    lived: Bench, entry: int, field: int, odd: int
) -> None:
    """Whatever a body holds, the fold either takes it or says which entry does not fit."""
    entries = list(lived.state.entries)
    index = entry % len(entries)
    body = dict(entries[index].body)
    if index == 0:
        body.pop("checklist")  # its own reading is tested with the checklists
    if body:
        name = sorted(body)[field % len(body)]
        if odd < len(ODD):
            body[name] = ODD[odd]
        else:
            del body[name]
    entries[index] = changed(entries[index], body=body)
    try:
        fold(entries)
    except Inapplicable as refused:
        said, seq = str(refused), refused.entry.seq
    else:
        return
    assert seq >= index + 1
    assert said.startswith(f"entry {seq} (")


def test_a_refusal_reads_as_a_sentence_with_what_to_do(lived: Bench) -> None:
    refused = Refused("busy", "the mill is taken", "wait")
    assert str(refused) == "The mill is taken. Wait."
    with pytest.raises(Refused) as closed:
        lived.say(DoStep(1, "load step 1"))
    assert str(closed.value).endswith(".")
