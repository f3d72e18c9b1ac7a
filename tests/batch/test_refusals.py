"""What is refused, of what kind, at which field and with what to do, and small sentences, each exactly."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from floor.batch.command import Command, OtherBatches, Refused, require_reason
from floor.batch.corrections.commands import Note, SettleUnproved, StrikeOut
from floor.batch.counting.commands import CountRun, MarkedPieces
from floor.batch.counting.losses import count_losses
from floor.batch.counting.op_yields import list_op_outcomes
from floor.batch.gates.commands import Prove
from floor.batch.handover.commands import CountSubjectPieces, OfferHandover
from floor.batch.handover.offers import list_next_shift_notes
from floor.batch.lifecycle.half_done import PlacedPieces, format_placed_pieces
from floor.batch.lifecycle.transfer import TakeInBatch, TransferBatch
from floor.batch.stations.out_of_service import TakeOutOfService
from floor.batch.worklist.due_task import DueTask, say_when
from floor.batch.worklist.tasks import list_due_tasks
from tests.batch.factory import MORNING, Bench, open_bench, part


def at_second_look() -> Bench:
    bench = open_bench()
    bench.until(bench.form(10), "signed 1")
    return bench


def unproved() -> Bench:
    """A load went on by a program that was misread."""
    bench = open_bench()
    load = bench.form(10)
    bench.through(load, 10)
    loaded = next(entry for entry in bench.state.entries if entry.body.get("line") == "program loaded 1")
    bench.say(StrikeOut(loaded.seq, "misread"), by="LL")
    return bench


def offered() -> Bench:
    bench = open_bench()
    bench.say(OfferHandover("soon"))
    return bench


def strike(bench: Bench) -> int:
    return max(bench.state.struck.values())


SIGN: dict[str, Any] = {"run": 1, "line": "signed 1"}
REFUSED: list[tuple[Any, Any, str, tuple[str, str, str, str]]] = [
    (
        open_bench,
        lambda b: TransferBatch(" "),
        "LL",
        ("input", "a batch is sent to somewhere", "name the machine or shop", ""),
    ),
    (
        open_bench,
        lambda b: TakeInBatch("back"),
        "LL",
        ("not now", "batch B0001 is already active here", "go on with it", ""),
    ),
    (
        open_bench,
        lambda b: TakeOutOfService("oven", "jams", MORNING),
        "AA",
        ("input", "expected back 07:00 is past", "enter a later time, or none where nobody knows", "back"),
    ),
    (
        offered,
        lambda b: CountSubjectPieces("load 9", 3),
        "BB",
        ("unknown", "load 9 is not there to count", "choose one from the list", ""),
    ),
    (
        at_second_look,
        lambda b: Prove(values={"person": ""}, **SIGN),
        "AA",
        ("input", "", "", "person"),
    ),
    (
        at_second_look,
        lambda b: Prove(values={"person": "AA"}, **SIGN),
        "AA",
        ("authority", "a self-check comes after a pause, 30 min more", "or ask a second person", "person"),
    ),
    (
        at_second_look,
        lambda b: Prove(values={"person": "ZZ"}, **SIGN),
        "AA",
        ("authority", "ZZ is not in the people list", "a lead adds them (c on What next)", "person"),
    ),
    (
        unproved,
        lambda b: SettleUnproved(strike(b), "never mind", "so"),  # type: ignore[arg-type]
        "LL",
        ("input", '"never mind" is not a decision', "one of: proved afterwards, use as is", ""),
    ),
    (
        unproved,
        lambda b: SettleUnproved(strike(b), "use as is", "so"),
        "AA",
        ("authority", "deciding on what went on without its proof needs a lead", "ask LL", ""),
    ),
    (
        unproved,
        lambda b: SettleUnproved(1, "use as is", "so"),
        "LL",
        ("unknown", "there is nothing to decide about that", "choose one from the list", ""),
    ),
]


@pytest.mark.parametrize(("begin", "command", "by", "said"), REFUSED, ids=range(len(REFUSED)))
def test_what_is_refused_says_why_and_what_to_do(
    begin: Any, command: Any, by: str, said: tuple[str, str, str, str]
) -> None:
    bench = begin()
    asked: Command = command(bench)
    refused: Refused = bench.refused(asked, by)
    why, wrong, remedy, field = said
    assert (refused.why, refused.field) == (why, field)
    if wrong:
        assert (refused.wrong, refused.remedy) == (wrong, remedy)


def test_a_self_check_is_on_record_as_one_after_its_pause() -> None:
    bench = at_second_look()
    bench.clock.forward(30 * 60)
    [entry] = bench.say(Prove(values={"person": "aa"}, **SIGN))
    assert entry.body["values"] == {"person": "AA", "self": True}


def test_a_batch_comes_back_with_what_was_cut_with_its_tools_meanwhile() -> None:
    bench = open_bench()
    bench.through(bench.form(10, 2), 10)
    bench.say(TakeOutOfService("oven", "jams"))
    bench.say(TransferBatch("the other shop"), by="LL")
    bench.elsewhere = OtherBatches(worn={("mill", 1): 900.0, ("mill", 2): 0.0, ("saw", 4): 5.0})

    [taken] = bench.say(TakeInBatch("never sent", withdrawn=True), by="LL")

    assert taken.body["worn"] == [["mill", 1, 900.0]]
    assert taken.body["in_service"] == ["oven"]
    assert bench.state.tools["mill", 1].used == 900.0
    assert bench.state.outages == {}
    assert not bench.state.gone


ROWS = [
    (PlacedPieces("finished", 1), "1 piece finished"),
    (PlacedPieces("scrap", 2, 10, reason="deep"), "2 pieces scrap, found at op 10: Groove too deep"),
    (PlacedPieces("hold", 2, 10, reason="odd"), "2 pieces on hold, found at op 10: odd"),
    (PlacedPieces("waiting", 3, 20), "3 pieces loose, waiting for op 20"),
    (
        PlacedPieces("waiting", 3, 20, rework="touch up", found=30),
        "3 pieces loose, waiting for op 20, rework found at op 30",
    ),
    (PlacedPieces("load", 4, 20, 1), "Pallet 1: 4 pieces, op 20, waiting"),
    (
        PlacedPieces("load", 2, 20, 1, places=("A1", "B2"), clocks=(("cure", MORNING), ("recoat", None))),
        "Pallet 1: 2 pieces at A1, B2, op 20, waiting; cure since 07:00; recoat since not known",
    ),
    (
        PlacedPieces("load", 4, 40, 2, stands="runs", began=MORNING),
        "Tray 2: 4 pieces, op 40, cycle running, started 07:00",
    ),
    (
        PlacedPieces("load", 4, 40, 2, stands="over", began=None, ended=MORNING + timedelta(hours=1)),
        "Tray 2: 4 pieces, op 40, cycle over, not counted yet, started not known, ended 08:00",
    ),
    (PlacedPieces("load", 4, 99, 2), "carrier 2: 4 pieces, op 99, waiting"),
]


@pytest.mark.parametrize(("row", "said"), ROWS)
def test_a_row_of_a_batch_half_done_says(row: PlacedPieces, said: str) -> None:
    assert format_placed_pieces(part(), row, MORNING) == said
    assert ", op " not in format_placed_pieces(part(), row, MORNING, op=False) or row.what in ("scrap", "hold")


TASK = DueTask("now", None, "B0001", "Confirm cycle complete", "Mill", load=2, op=60, title="Face the seat")
SOON = MORNING + timedelta(minutes=30)


@pytest.mark.parametrize(
    ("task", "long", "said"),
    [
        (replace(TASK, urgency="overdue", closes=MORNING), True, "missed"),
        (replace(TASK, closes=SOON - timedelta(seconds=1)), True, "closes 07:29"),
        (replace(TASK, closes=SOON), True, "now"),
        (replace(TASK, urgency="later", when=MORNING + timedelta(hours=2)), True, "09:00 in 2 h 00"),
        (replace(TASK, urgency="later", when=MORNING + timedelta(hours=2)), False, "09:00"),
        (replace(TASK, urgency="blocked"), True, "waits"),
        (replace(TASK, urgency="soon"), True, "waits"),
        (TASK, False, "now"),
    ],
)
def test_the_column_of_time_says(task: DueTask, long: bool, said: str) -> None:
    assert say_when(task, MORNING, long) == said


def test_a_task_is_said_long_or_short_and_has_a_name_of_its_own() -> None:
    assert TASK.sentence == "Confirm cycle complete · 60 Face the seat"
    assert TASK.short_sentence == "Confirm cycle complete · op 60"
    late = replace(TASK, outlasts="takes 2 h; Pallet 1 closes 08:00")
    assert late.short_sentence == "Confirm cycle complete · op 60 · takes 2 h; Pallet 1 closes 08:00"
    assert late.sentence.endswith("seat · takes 2 h; Pallet 1 closes 08:00")
    bare = replace(TASK, op=None, load=None, go="hold", what="Decide on 1 held piece")
    assert bare.sentence == bare.short_sentence == "Decide on 1 held piece"
    assert TASK.key == "B0001 run 2 60 "
    assert replace(TASK, what="Other words").key == TASK.key
    assert replace(TASK, rework="touch up").key == TASK.key
    assert bare.key == "B0001 hold None None Decide on 1 held piece"


def test_a_station_that_is_out_holds_up_the_load_before_its_cycle() -> None:
    bench = open_bench()
    load = bench.form(10)
    bench.until(load, "load step 1")
    bench.say(TakeOutOfService("mill", "belt", bench.clock().at + timedelta(hours=2)))
    [due] = [due for due in list_due_tasks([bench.state], bench.clock()) if due.load == load]
    assert (due.urgency, due.when) == ("blocked", bench.clock().at + timedelta(hours=2))
    assert due.what.startswith("Mill out of service since 07:0")


def test_notes_for_the_next_shift_last_until_the_handover_and_may_be_struck() -> None:
    bench = open_bench()
    bench.say(Note("seen", abnormal=True))
    bench.say(Note("first", next_shift=True))
    bench.say(Note("second", next_shift=True))
    assert list_next_shift_notes(bench.state) == ["first", "second"]
    bench.say(StrikeOut(bench.state.seq, "wrong"))
    assert list_next_shift_notes(bench.state) == ["first"]


def test_a_count_struck_out_lost_nothing_and_one_that_stands_is_grouped_by_place() -> None:
    bench = open_bench()
    load = bench.form(10)
    bench.until(load, "count")
    marks = (MarkedPieces("deep", ("A1",)), MarkedPieces("other", ("B2",), note="odd"))
    [counted] = bench.say(CountRun(1, 2, marks))
    said = {
        (one.to, one.found, one.reason, one.caused, one.position): n for one, n in count_losses(bench.state).items()
    }
    assert said == {("scrap", 10, "deep", 10, "A1"): 1, ("scrap", 10, "other", None, "B2"): 1}
    [outcome] = [one for one in list_op_outcomes(bench.state) if one.op == 10]
    assert (outcome.produced, outcome.good, outcome.scrap, outcome.first_pass) == (4, 2, 2, 2)
    bench.say(StrikeOut(counted.seq, "miscounted"))
    assert not count_losses(bench.state)


@pytest.mark.parametrize(
    ("text", "is_one"), [("", False), ("...", False), ("- x -", False), ("ok", False), ("tip", True)]
)
def test_a_reason_has_letters_or_digits(text: str, is_one: bool) -> None:
    if is_one:
        assert require_reason(text, "skipping it") == text
        return
    with pytest.raises(Refused, match="Skipping it needs a reason") as refused:
        require_reason(text, "skipping it", "note")
    assert refused.value.field == "note"


def test_a_name_left_blank_is_missing_not_unknown() -> None:
    bench = open_bench()
    with pytest.raises(Refused, match="Nobody is named. Enter the initials of whoever did it") as refused:
        bench.context(bench.state.id, "AA").need_known("", "by")
    assert refused.value.field == "by"
