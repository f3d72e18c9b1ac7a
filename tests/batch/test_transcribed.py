"""Records made on paper while the power was out, entered later as transcribed (CBP-55): both times are kept.

With only one person's word for the start, a dwell counts from the later time toward its earliest end and from the
earlier time toward its latest: a shop decision that favors the part.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from floor.batch.command import OtherBatches, Refused
from floor.batch.corrections.commands import Note, StrikeOut
from floor.batch.corrections.from_paper import Act, TranscribeAct
from floor.batch.counting.commands import CountRun
from floor.batch.describe import describe
from floor.batch.fold import fold
from floor.batch.gates.commands import Prove
from floor.batch.lifecycle.commands import FormLoad, OpenBatch, SetPiecesAside, StartPieces
from floor.batch.lifecycle.enter_half_done import EnterLate
from floor.batch.lifecycle.half_done import PlacedPieces
from floor.batch.lifecycle.transfer import TakeInBatch, TransferBatch
from floor.batch.open_items import Outage
from floor.batch.stations.out_of_service import ReturnToService, TakeOutOfService
from floor.batch.walk.commands import BeginRun, DoStep, EndCycle, Release, StartCycle
from floor.batch.worklist.tasks import list_due_tasks
from floor.entry import Moment
from floor.shop import Shop
from floor.shop.simulation import SimulatedOperator
from tests.batch.factory import MORNING, Bench, StepClock, open_bench, part

HOURS = timedelta(hours=1)


@pytest.fixture
def bench() -> Bench:
    return open_bench(start=4)


def at_coat(bench: Bench) -> int:
    """A load whose pieces are milled, everything done before the coat that starts the clocks."""
    load = bench.form(10)
    bench.through(load, 10)
    bench.until(load, "coat")
    return load


def write(bench: Bench, act: Act, at: datetime, second: str = "") -> None:
    bench.say(TranscribeAct(act, at, second))


def test_both_times_are_kept_and_said(bench: Bench) -> None:
    load = at_coat(bench)
    done = bench.clock().at
    bench.clock.forward(3 * 3600)

    write(bench, DoStep(bench.run_of(load).number, "coat"), done)

    entry = bench.state.entries[-1]
    assert entry.time - done == 3 * HOURS
    assert "seen_by" not in entry.body
    assert bench.run_of(load).marks["coat"].at == done
    said = describe(bench.state, entry)
    assert said.endswith(f"(from paper: done {done:%H:%M}, entered {entry.time:%H:%M})")
    assert bench.state == fold(bench.state.entries)


def released_from_paper(second: str) -> tuple[Bench, int, datetime]:
    bench = open_bench(start=4)
    load = at_coat(bench)
    done = bench.clock().at
    bench.clock.forward(3 * 3600)
    write(bench, DoStep(bench.run_of(load).number, "coat"), done, second)
    bench.through(load)
    return bench, load, done


def ripens(bench: Bench, load: int) -> datetime | None:
    return next(due.when for due in list_due_tasks([bench.state], bench.clock()) if due.load == load)


def test_on_one_persons_word_a_cure_counts_from_the_entry_and_with_a_second_from_the_act() -> None:
    """12 h of cure: coated at 8, entered at 11."""
    bench, load, done = released_from_paper("")
    assert ripens(bench, load) == done + 3 * HOURS + 12 * HOURS
    seen, load, done = released_from_paper("BB")
    assert ripens(seen, load) == done + 12 * HOURS
    coated = next(entry for entry in seen.state.entries if entry.body.get("seen_by"))
    assert describe(seen.state, coated).endswith("BB saw it)")


def test_a_window_that_closes_counts_from_the_act_in_any_case() -> None:
    """Recoat within 1 h of the coat: entered 3 h later it has closed, on anybody's word."""
    for second in ("", "BB"):
        bench, load, _ = released_from_paper(second)
        bench.clock.forward(13 * 3600)
        bench.through(load, 30)
        tray = bench.form(40)
        bench.begin(tray)
        bench.until(tray, "cured 1")
        verdict = bench.current(tray).verdict
        assert verdict is not None
        assert verdict.status == "wait", "the second window, after 48 h, is the next"


@pytest.mark.parametrize(("hours", "wrong"), [(1.0, "is still to come"), (-9.0, "is before what was done last here")])
def test_a_time_that_cannot_be_is_refused(bench: Bench, hours: float, wrong: str) -> None:
    load = at_coat(bench)
    act = DoStep(bench.run_of(load).number, "coat")

    refused = bench.refused(TranscribeAct(act, bench.clock().at + hours * HOURS))

    assert refused.why == "input"
    assert wrong in refused.wrong


def test_what_names_nothing_of_the_batch_says_so_and_a_slip_of_years_too(bench: Bench) -> None:
    at = bench.clock().at
    assert bench.refused(TranscribeAct(BeginRun(9), at)).why == "unknown"
    assert bench.refused(TranscribeAct(StartCycle(9), at)).why == "unknown"
    assert bench.refused(TranscribeAct(FormLoad(11), at)).why == "unknown"
    load = bench.form(10)
    bench.through(load, 10, 20, 30)
    through = bench.refused(TranscribeAct(BeginRun(load), bench.clock().at))
    assert through.wrong == "load 1 is done and its carrier is free"
    bench.say(StartPieces(1))
    assert "more than ten years" in bench.refused(TranscribeAct(FormLoad(10), at - timedelta(days=9000))).wrong


def test_paper_has_no_seconds_so_the_minute_of_the_act_before_will_do(bench: Bench) -> None:
    load = at_coat(bench)
    before = bench.state.entries[-1].time
    assert before.second, "else it would show nothing"
    bench.clock.forward(3600)

    write(bench, DoStep(bench.run_of(load).number, "coat"), before.replace(second=0, microsecond=0))

    assert bench.run_of(load).marks["coat"].at == before


def test_the_second_person_is_another_and_known(bench: Bench) -> None:
    load = at_coat(bench)
    act = DoStep(bench.run_of(load).number, "coat")

    assert bench.refused(TranscribeAct(act, bench.clock().at, "AA")).why == "authority"
    assert bench.refused(TranscribeAct(act, bench.clock().at, "ZZ")).why == "authority"


def test_what_was_not_allowed_then_is_not_entered_as_if_it_had_been(bench: Bench) -> None:
    """12 h of cure: probed after 11 h by the paper, entered after 13 h, when it is done; a second person does not
    help."""
    load = at_coat(bench)
    bench.through(load)
    bench.clock.forward(11 * 3600)
    run = bench.begin(load).number
    early = bench.clock().at
    bench.clock.forward(2 * 3600)
    assert bench.current(load).key == "probed 1", "ripe by now"
    probe = Prove(run, "probed 1", {"Z": 0.0})

    refused = bench.refused(TranscribeAct(probe, early, "BB"))

    assert "first: wait for cure" in f"{refused.wrong} {refused.remedy}".casefold()
    write(bench, probe, bench.clock().at)


@pytest.mark.parametrize("boot", ["bench-0", ""])
def test_what_was_not_allowed_then_is_not_entered_after_other_entries_and_a_restart(bench: Bench, boot: str) -> None:
    """The same if the record went on past the act, and the machine restarted or names no start."""
    bench.clock.moment = Moment(bench.clock().at, boot, 1000.0)
    load = at_coat(bench)
    bench.through(load)
    bench.clock.forward(11 * 3600)
    run = bench.begin(load).number
    early = bench.clock().at
    bench.clock.forward(2 * 3600)
    bench.say(Note("cured"))
    if boot:
        bench.clock.restart()
    assert bench.current(load).key == "probed 1", "ripe by now"

    refused = bench.refused(TranscribeAct(Prove(run, "probed 1", {"Z": 0.0}), early, "BB"))

    assert "first: wait for cure" in f"{refused.wrong} {refused.remedy}".casefold()


def test_a_whole_run_is_entered_from_paper_after_the_machine_came_up_again(bench: Bench) -> None:
    """The power went with the pallet clamped; cut and counted by daylight, entered when it was back."""
    load = bench.form(10)
    bench.until(load, "start")
    run = bench.run_of(load).number
    went = bench.clock().at
    bench.clock.restart(off=4 * 3600.0)

    def at(minutes: float) -> datetime:
        return went + timedelta(minutes=minutes)

    write(bench, StartCycle(run), at(5))
    write(bench, DoStep(run, "cycle step 1"), at(6))
    write(bench, EndCycle(run), at(26))
    write(bench, DoStep(run, "after step 1"), at(28))
    write(bench, Prove(run, "measured 1", {"value": [3.0, 3.0]}), at(30))
    write(bench, Prove(run, "first piece accepted 1", {"person": "BB", "found": "3.0"}), at(31))
    write(bench, CountRun(run, 4), at(35))
    write(bench, Release(run), at(36))

    done = bench.state.runs[run]
    assert (done.started, done.ended, done.released) == (at(5), at(26), at(36))
    assert done.count is not None
    assert done.count.at == at(35)
    write(bench, BeginRun(load), at(40))
    assert bench.run_of(load).begun == at(40)
    assert bench.refused(TranscribeAct(DoStep(bench.run_of(load).number, "coat"), at(38))).why == "input"


@settings(max_examples=40, deadline=None)
@given(later=st.integers(0, 40 * 3600), wait=st.integers(0, 60 * 3600))
def test_on_one_persons_word_a_cure_is_never_shorter_than_entered_live(later: int, wait: int) -> None:
    """The law: whatever time is claimed, the pieces are cut no sooner than 12 h after the entry."""
    bench = open_bench(start=1)
    load = at_coat(bench)
    done = bench.clock().at
    bench.clock.forward(later)
    run = bench.run_of(load).number
    bench.say(TranscribeAct(DoStep(run, "coat"), done))
    entered = bench.clock().at
    bench.hand().work(load)
    bench.clock.forward(wait)
    bench.begin(load)

    verdict = bench.line(load, "cured 1").verdict

    assert verdict is not None
    assert (verdict.status == "met") == (bench.clock().at - entered >= 12 * HOURS)


def test_beginning_from_paper_takes_the_shops_turn_and_a_pin_like_any_other(tmp_path: Path) -> None:
    clock = StepClock(MORNING)
    shop = Shop(tmp_path, clock)
    shop.add_person("LL", "Lee Lead", True, by="-")
    shop.add_person("AA", "Ann", False, by="LL")
    shop.set_pin("LL", "4711", by="LL")
    one, two = (shop.open_batch(OpenBatch(shop.find_next_id(), part(), "d", "f", 1, 4), "AA").id for _ in range(2))
    loads = [shop.do(id, FormLoad(10), "AA")[0].body["load"] for id in (one, two)]
    begun = clock().at
    clock.forward(600)
    begin = TranscribeAct(BeginRun(loads[0]), begun, "LL")

    with pytest.raises(Refused, match="LL has a PIN"):
        shop.do(one, begin, "AA")
    shop.do(one, begin, "AA", shop.check_second("LL", "4711"))

    assert shop.batch(one).runs[1].begun == begun
    with pytest.raises(Refused, match="Mill busy at 07:00: Pallet 1"):
        shop.do(two, TranscribeAct(BeginRun(loads[1]), begun), "AA")
    shop.close()


def test_nothing_starts_at_a_station_that_was_taken_then() -> None:
    bench = open_bench()
    one, two = bench.form(10, 4), bench.form(10, 4)
    bench.clock.forward(600)
    bench.through(one)
    bench.clock.forward(3600)
    run = bench.state.runs[1]
    assert run.released is not None

    refused = bench.refused(TranscribeAct(BeginRun(two), run.begun + timedelta(minutes=5)))

    assert refused.wrong == (f"Mill busy at 07:15: Pallet 1 (load 1) from 07:10 to {run.released:%H:%M}")
    assert refused.remedy == "look at the time on the paper again, and at the history for what was there then"
    write(bench, BeginRun(two), run.released.replace(second=0))
    assert bench.run_of(two).begun == run.released.replace(second=0), "paper has no seconds"


def test_a_cycle_does_not_start_while_another_load_was_there() -> None:
    """Begun late by the paper, but its cycle earlier than the other load was off."""
    bench = open_bench()
    one, two = bench.form(10, 4), bench.form(10, 4)
    bench.until(two, "start")
    begun = bench.run_of(two)
    there = replace(bench.state.runs[1], number=9, load=one, begun=begun.begun, released=bench.clock().at + 2 * HOURS)
    bench.state.runs[9] = there
    bench.clock.forward(3600)

    with pytest.raises(Refused, match="Mill busy at"):
        bench.say(TranscribeAct(StartCycle(begun.number), bench.clock().at))


def test_nothing_starts_at_a_station_that_was_out_of_service_then(bench: Bench) -> None:
    """A station that went out of service later does not matter."""
    load = bench.form(10)
    bench.clock.forward(600)
    before = bench.clock().at
    bench.clock.forward(600)
    bench.say(TakeOutOfService("mill", "spindle hums"))
    bench.say(TakeOutOfService("mill", "spindle broken"))
    bench.clock.forward(3600)
    during = bench.clock().at
    still = bench.refused(TranscribeAct(BeginRun(load), during))
    assert still.wrong == "Mill was out of service from 07:20 on: spindle broken (AA)"
    bench.clock.forward(3600)
    bench.say(ReturnToService("mill"))
    bench.clock.forward(60)

    refused = bench.refused(TranscribeAct(BeginRun(load), during))

    assert refused.wrong == "Mill was out of service from 07:20 to 09:20: spindle broken (AA)"
    bench.say(TakeOutOfService("mill", "door stuck"))
    write(bench, BeginRun(load), before)
    assert bench.run_of(load).begun == before


def test_what_the_shop_alone_knows_to_be_out_of_service_is_so_since_then(bench: Bench) -> None:
    load = bench.form(10)
    bench.clock.forward(1200)
    since = bench.clock().at
    bench.clock.forward(600)
    bench.elsewhere = OtherBatches(outages={"mill": Outage("spindle hums", "CC", since, None)})

    assert bench.refused(TranscribeAct(BeginRun(load), since)).why == "busy"
    write(bench, BeginRun(load), since - timedelta(minutes=10))


def test_what_was_out_of_service_where_the_batch_came_from_is_no_longer_so_here(bench: Bench) -> None:
    load = bench.form(10)
    bench.clock.forward(600)
    bench.say(TakeOutOfService("mill", "spindle hums"))
    during = bench.clock().at
    bench.clock.forward(600)
    bench.say(TransferBatch("the other shop"), "LL")
    bench.say(TakeInBatch())
    bench.clock.forward(600)

    assert "out of service from 07:10 to 07:20" in bench.refused(TranscribeAct(BeginRun(load), during)).wrong
    write(bench, BeginRun(load), bench.clock().at - timedelta(minutes=5))


def test_a_whole_chain_is_entered_from_the_forming_of_its_load_on(bench: Bench) -> None:
    """Baked while the terminal was down: released from the pallet, loaded on the tray and baked, all by paper."""
    load = bench.form(10)
    bench.through(load, 10, 20)
    bench.clock.forward(48 * 3600)
    bench.until(load, "release")
    run = bench.run_of(load).number
    went = bench.clock().at
    bench.clock.restart(off=6 * 3600.0)

    def at(minutes: float) -> datetime:
        return went + timedelta(minutes=minutes)

    early = bench.refused(TranscribeAct(FormLoad(40), at(9)))
    assert "no pieces wait for op 40" in early.wrong
    write(bench, Release(run), at(10))
    early = bench.refused(TranscribeAct(FormLoad(40), at(8)))
    assert early.wrong == f"no piece waited for op 40 at {at(8):%H:%M}"
    write(bench, FormLoad(40), at(12))
    tray = max(bench.state.loads)
    assert bench.state.loads[tray].formed == at(12)
    assert bench.refused(TranscribeAct(BeginRun(tray), at(11))).why == "input"
    write(bench, BeginRun(tray), at(15))
    baking = bench.run_of(tray).number
    write(bench, Prove(baking, "confirmed 1"), at(16))
    write(bench, Prove(baking, "measured 1", {"value": 150.0}), at(17))
    write(bench, StartCycle(baking), at(18))
    write(bench, EndCycle(baking), at(110))
    bench.through(tray)

    done = bench.state.runs[baking]
    assert (done.begun, done.started, done.ended) == (at(15), at(18), at(110))
    assert bench.state == fold(bench.state.entries)


def test_no_load_is_formed_from_paper_on_a_carrier_that_held_another_then() -> None:
    bench = open_bench()
    one = bench.form(10, 4)
    formed = bench.clock().at
    bench.clock.forward(3600)
    bench.say(SetPiecesAside("scrap", "fell down", load=one, count=4))
    bench.clock.forward(3600)

    refused = bench.refused(TranscribeAct(FormLoad(10, carrier_number=1), formed + timedelta(minutes=30)))

    assert refused.wrong == "Pallet 1 is not free"
    bench.elsewhere = OtherBatches(carriers={("pallet", 3): "B0002"})
    refused = bench.refused(TranscribeAct(FormLoad(10, carrier_number=3), formed + timedelta(minutes=30)))
    assert refused.wrong == "Pallet 3 is not free: B0002 has it"
    write(bench, FormLoad(10), formed + timedelta(minutes=30))
    assert [load.carrier_number for load in bench.state.list_live_loads()] == [2]


def test_what_was_entered_as_done_now_is_struck_out_before_it_is_entered_from_paper(bench: Bench) -> None:
    before = bench.clock().at
    bench.clock.forward(3600)
    load = bench.form(10)

    refused = bench.refused(TranscribeAct(BeginRun(load), before))

    assert refused.remedy.startswith("first strike out entry 3 (loaded) and enter that from paper")
    bench.say(StrikeOut(3, "it was done an hour ago"))
    write(bench, FormLoad(10), before)
    write(bench, BeginRun(max(bench.state.loads)), before)
    assert bench.state.runs[1].begun == before


def test_nothing_starts_where_another_batch_was_then_and_no_longer_is(tmp_path: Path) -> None:
    clock = StepClock(MORNING)
    shop = Shop(tmp_path, clock)
    shop.add_person("LL", "Lee Lead", True, by="-")
    shop.add_person("BB", "Bo", False, by="LL")
    one, two = (shop.open_batch(OpenBatch(shop.find_next_id(), part(), "d", "f", 1, 4), "LL").id for _ in range(2))
    hand = SimulatedOperator(shop, one, "LL", clock, second="BB")
    load = hand.form(10)
    clock.forward(600)
    hand.work(load)
    run = shop.batch(one).runs[1]
    assert run.released is not None
    clock.forward(3600)
    other = shop.do(two, FormLoad(10, carrier_number=2), "LL")[0]
    shop.do(two, StrikeOut(other.seq, "it was done before"), "LL")
    shop.do(two, TranscribeAct(FormLoad(10, carrier_number=2), run.begun), "LL")

    with pytest.raises(Refused, match=r"Mill busy at .*: Pallet 1 \(load 1\) of B0001"):
        shop.do(two, TranscribeAct(BeginRun(1), run.begun + timedelta(minutes=5)), "LL")
    shop.do(two, TranscribeAct(BeginRun(1), run.released.replace(second=0, microsecond=0)), "LL")
    shop.close()


def test_a_load_entered_half_done_goes_on_from_paper_from_its_stated_time() -> None:
    """As it stood at eight by the papers of the shift, entered at ten; what was done at nine is entered from paper."""
    bench = open_bench(start=4)
    bench.clock.forward(3 * 3600)
    eight, nine = (bench.clock().at - hours * HOURS for hours in (2, 1))
    bench.say(EnterLate((PlacedPieces("load", 4, 10, 1),), eight), "LL")

    assert bench.refused(TranscribeAct(BeginRun(1), eight - HOURS)).why == "input"
    write(bench, BeginRun(1), nine)
    assert bench.run_of(1).begun == nine
