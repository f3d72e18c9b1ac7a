"""A guard off, a lock on, a temporary fix: on record until it is cleared, and read back at each handover."""

from __future__ import annotations

from datetime import timedelta

import pytest

from floor.batch.command import OtherBatches
from floor.batch.corrections.from_paper import TranscribeAct
from floor.batch.describe import describe
from floor.batch.events import Condition, ConditionCleared, ConditionReported
from floor.batch.handover.page import (
    build_handover_page,
    list_safety_lines,
)
from floor.batch.handover.risks import (
    find_risks,
)
from floor.batch.open_items import Conditions, StationCondition, fold_condition, make_condition_key
from floor.batch.stations.conditions import CONDITIONS, HOLDS_STARTS, ClearCondition, ReportCondition
from floor.batch.walk.commands import BeginRun, StartCycle
from floor.batch.worklist.tasks import list_due_tasks
from tests.batch.factory import Bench, open_bench


@pytest.fixture
def bench() -> Bench:
    return open_bench()


def first_lines(bench: Bench) -> list[str]:
    return [line.text for line in build_handover_page(bench.state, bench.clock())[0].lines]


def test_it_stands_first_on_the_page_and_is_read_back_until_it_is_cleared(bench: Bench) -> None:
    """HND-11; DOE-STD-1038-93 4.3 asks for the safety systems that are out."""
    assert build_handover_page(bench.state, bench.clock())[0].title == "Guards off, locks on, temporary fixes"
    assert first_lines(bench) == []
    entry = bench.say(ReportCondition("mill", "guard off", "hinge broke, new one on Friday"))[0]
    said = first_lines(bench)
    assert [text.split(" since ")[0] for text in said] == ["Mill: guard off"]
    assert said[0].endswith(": hinge broke, new one on Friday (AA)")
    assert said[0] in [line.text for line in list_safety_lines(bench.state, bench.clock())]
    assert find_risks(bench.state) == ("condition",)
    assert describe(bench.state, entry) == "Mill: guard off: hinge broke, new one on Friday"

    cleared = bench.say(ClearCondition("mill", "guard off", "new hinge"), by="BB")[0]
    assert describe(bench.state, cleared) == "Mill: guard off cleared: new hinge"
    assert first_lines(bench) == []
    assert find_risks(bench.state) == ()


def test_what_is_said_anew_is_read_back_anew_and_keeps_who_found_it(bench: Bench) -> None:
    bench.say(ReportCondition("mill", "temporary fix", "hose tied up"))
    before = list_safety_lines(bench.state, bench.clock())
    bench.clock.forward(600)
    bench.say(ReportCondition("mill", "temporary fix", "hose clamped"), by="BB")
    after = list_safety_lines(bench.state, bench.clock())
    assert len(before) == len(after) == 1
    assert before[0].key != after[0].key
    assert after[0].text.endswith("hose clamped (AA)")
    assert before[0].text.split(": ")[1] == after[0].text.split(": ")[1], "since the first word"


@pytest.mark.parametrize("what", CONDITIONS)
def test_no_cycle_starts_without_its_guard_or_under_a_lock(bench: Bench, what: Condition) -> None:
    load = bench.form(10)
    bench.until(load, "start")
    bench.say(ReportCondition("mill", what, "as found"))
    bench.say(ReportCondition("oven", "guard off", "not this one"))
    run = bench.run_of(load).number
    if what not in HOLDS_STARTS:
        bench.say(StartCycle(run))
        return
    refused = bench.refused(StartCycle(run))
    assert refused.why == "busy"
    assert refused.wrong.startswith(f"Mill: {what} since ")
    bench.say(ClearCondition("mill", what, "put right"))
    bench.say(StartCycle(run))


def test_a_lock_is_taken_off_by_who_put_it_on_or_a_lead(bench: Bench) -> None:
    """29 CFR 1910.147(e)(3): by the employee who applied it, else under the employer's procedure."""
    bench.say(ReportCondition("mill", "lock on", "spindle belt"))
    assert bench.refused(ClearCondition("mill", "lock on", "looks done"), by="BB").why == "not now", "BB has none on"
    assert bench.refused(ClearCondition("mill", "lock on", "looks done", "AA"), by="BB").why == "authority"
    bench.say(ClearCondition("mill", "lock on", "belt is on"))
    bench.say(ReportCondition("mill", "lock on", "spindle belt"))
    bench.say(ClearCondition("mill", "lock on", "AA went home; belt looked at", "AA"), by="LL")
    assert bench.state.conditions == {}


def test_each_person_has_a_lock_of_their_own(bench: Bench) -> None:
    """29 CFR 1910.147(f)(3)(ii)(D), from memory: group work has a lock for each; the machine starts after the last."""
    load = bench.form(10)
    bench.until(load, "start")
    bench.say(ReportCondition("mill", "lock on", "belt"))
    bench.say(ReportCondition("mill", "lock on", "belt, from behind"), by="BB")
    assert [(stands.by, stands.note) for stands in bench.state.conditions.values()] == [
        ("AA", "belt"), ("BB", "belt, from behind")
    ]  # fmt: skip
    bench.say(ClearCondition("mill", "lock on", "I am out"))
    assert bench.refused(StartCycle(bench.run_of(load).number)).wrong.endswith("belt, from behind (BB)")
    bench.say(ClearCondition("mill", "lock on", "out too"), by="BB")
    bench.say(StartCycle(bench.run_of(load).number))


def test_a_lock_that_an_older_record_cleared_is_off(bench: Bench) -> None:
    """There each station had one lock at most, and what cleared it did not say whose it was."""
    at, conditions = bench.clock().at, Conditions()
    for station, what in (("mill", "lock on"), ("mill", "guard off"), ("oven", "lock on")):
        said = ConditionReported(station=station, what=what, note="belt", said_by="AA", since="2026-05-04T07:00")  # type: ignore[arg-type]
        fold_condition(conditions, said, at)
    fold_condition(conditions, ConditionCleared(station="mill", what="lock on", note="belt is on"), at)
    assert [(key.station, key.what) for key in conditions] == [("mill", "guard off"), ("oven", "lock on")]


def test_under_a_lock_not_even_the_set_up_is_begun_and_without_a_guard_no_work_by_hand(bench: Bench) -> None:
    """A set-up may need the guard off; work without a cycle begins with its run."""
    load = bench.form(10)
    bench.say(ReportCondition("mill", "lock on", "belt"))
    assert bench.refused(BeginRun(load)).why == "busy"
    assert not [
        due for due in list_due_tasks([bench.state], bench.clock()) if due.load == load and due.urgency == "now"
    ]
    bench.say(ClearCondition("mill", "lock on", "belt is on"))
    bench.say(ReportCondition("mill", "guard off", "to reach the vise"))
    bench.say(BeginRun(load))
    bench.say(ClearCondition("mill", "guard off", "on again"))
    bench.through(load)
    bench.say(ReportCondition("bench", "guard off", "shield of the mixer"))
    assert bench.refused(BeginRun(load)).wrong.startswith("Bench: guard off")


def test_what_only_the_shops_own_record_knows_holds_the_start_too(bench: Bench) -> None:
    """As where the batch could not be told: read-only then, or brought back without its end."""
    load = bench.form(10)
    bench.until(load, "start")
    bench.clock.forward(300)
    stands = StationCondition("lock on", "belt", "BB", bench.clock().at)
    bench.elsewhere = OtherBatches(conditions={make_condition_key("mill", "lock on", "BB"): stands})
    run = bench.run_of(load).number
    assert bench.refused(StartCycle(run)).why == "busy"
    bench.say(TranscribeAct(StartCycle(run), bench.clock().at - timedelta(minutes=1)))


def test_what_is_not_there_or_not_said_is_refused(bench: Bench) -> None:
    for empty in ("", ".", "- - -"):
        refused = bench.refused(ReportCondition("mill", "guard off", empty))
        assert (refused.why, refused.field) == ("input", "note"), "the field that its form has"
    assert bench.refused(ReportCondition("lathe", "guard off", "why")).why == "unknown"
    assert bench.refused(ReportCondition("mill", "smell", "why")).why == "unknown"  # type: ignore[arg-type]
    assert bench.refused(ClearCondition("mill", "guard off", "done")).why == "not now"


def test_a_start_on_paper_is_held_up_only_by_what_stood_there_then(bench: Bench) -> None:
    load = bench.form(10)
    bench.until(load, "start")
    run, started = bench.run_of(load).number, bench.clock().at
    bench.clock.forward(1800)
    bench.say(ReportCondition("mill", "guard off", "hinge broke"))
    assert bench.refused(TranscribeAct(StartCycle(run), bench.clock().at)).why == "busy"
    bench.say(TranscribeAct(StartCycle(run), started + timedelta(minutes=5)))
    assert bench.state.runs[run].started is not None
