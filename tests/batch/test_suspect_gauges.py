"""A gauge found unfit: what was measured with it since its last good check is named, and a lead decides.

ISO 9001:2015, 7.1.5.2: the validity of earlier results is looked at where equipment is found unfit (from memory).
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from floor.batch.command import Refused
from floor.batch.corrections.commands import StrikeOut
from floor.batch.corrections.from_paper import TranscribeAct
from floor.batch.describe import describe
from floor.batch.events import make_drafts
from floor.batch.gates.commands import Prove
from floor.batch.gates.gauges import list_gauges_of_runs
from floor.batch.gates.open_lot import OpenLot
from floor.batch.gates.suspect_gauges import (
    ReportSuspectGauge,
    SettleSuspectGauge,
    describe_suspect_gauge,
    find_measured_with,
    list_checks_with,
)
from floor.batch.gauge import Gauge, describe_closed_uses
from floor.batch.handover.page import (
    list_safety_lines,
)
from floor.batch.handover.risks import (
    find_risks,
)
from floor.batch.lifecycle.commands import CloseBatch, OpenBatch, SetPiecesAside, open_points
from floor.batch.lifecycle.enter_half_done import EnterLate
from floor.batch.lifecycle.half_done import PaperProof, PlacedPieces
from floor.batch.lifecycle.transfer import TakeInBatch, TransferBatch
from floor.batch.search.history_filter import Filter
from floor.batch.search.matching import find_matching_entries
from floor.batch.worklist.tasks import list_due_tasks
from floor.papers.closeout import write_close_out
from floor.papers.gauges import write_gauges_json, write_gauges_text
from floor.papers.history import write_history
from floor.papers.status import write_status_json, write_status_text
from floor.shop import Shop
from floor.shop.closed_gauge_uses import may_name
from floor.shop.gauge_register import NO, describe_half_told
from floor.shop.simulation import ManualClock, SimulatedOperator
from tests.batch.factory import MORNING, Bench, edited, entries_of, open_bench
from tests.batch.test_gauges import DEPTH, FIRST, LOT, gauge, register


@pytest.fixture
def bench() -> Bench:
    """Two checks with DM-04 in one load, one struck out, and one with another gauge."""
    bench = open_bench(partial(edited, DEPTH))
    bench.elsewhere = register(gauge("DM-04"), gauge("DM-05"))
    load = bench.form(10)
    bench.until(load, "measured 1")
    bench.prove(load, "measured 1", value=[3.0, 3.0], gauge="DM-05")
    bench.say(StrikeOut(bench.state.seq, "wrong gauge typed"))
    bench.prove(load, "measured 1", value=[3.0, 3.0], gauge="DM-04")
    return bench


def suspect(bench: Bench) -> int:
    return bench.say(ReportSuspectGauge("DM-04", "Depth micrometer", "dropped", MORNING))[0].seq


def test_the_checks_since_the_last_good_one_are_found(bench: Bench) -> None:
    last = bench.state.seq
    assert list_checks_with(bench.state, "DM-04", MORNING) == (last,)
    assert list_checks_with(bench.state, "DM-05", MORNING) == (), "it was struck out"
    bench.clock.forward(60)
    assert list_checks_with(bench.state, "DM-04", bench.clock().at) == ()


def test_it_stays_open_everywhere_until_a_lead_decides(bench: Bench) -> None:
    report = suspect(bench)
    said = "gauge DM-04 suspect (dropped, AA): 1 check here used it"
    one = bench.state.suspect_gauges[report]
    assert describe_suspect_gauge(bench.state, one) == said
    assert [(point.kind, point.subject) for point in open_points(bench.state) if point.kind == "gauge"] == [
        ("gauge", said)
    ]
    assert [due.what for due in list_due_tasks([bench.state], bench.clock()) if due.go == "gauge"] == [
        f"Decide (lead): {said}"
    ]
    assert find_risks(bench.state) == ("gauge",)
    assert f"    ! {said}" in write_status_text([bench.state], [], bench.clock()).splitlines()
    told = json.loads(write_status_json([bench.state], [], bench.clock()))["batches"][0]["suspect_gauges"]
    assert told == [{"serial": "DM-04", "gauge": "Depth micrometer", "why": "dropped", "by": "AA", "checks": 1}]
    assert f"{said}; a lead decides" in [line.text for line in list_safety_lines(bench.state, bench.clock())]
    assert f"{said}; OPEN" in " ".join(write_close_out(bench.state, bench.clock(), "0" * 64).split())

    assert bench.refused(SettleSuspectGauge(report, "measured again")).why == "authority"
    assert bench.refused(SettleSuspectGauge(report, ""), "LL").field == "why"
    bench.say(SettleSuspectGauge(report, "measured again with DM-05"), "LL")
    assert "gauge" not in [point.kind for point in open_points(bench.state)]
    assert find_risks(bench.state) == ()
    assert said not in write_status_text([bench.state], [], bench.clock())
    assert one.serial in describe(bench.state, bench.state.entries[-1])
    assert bench.state.suspect_gauges[report].settled == "measured again with DM-05 (LL)"
    assert bench.refused(SettleSuspectGauge(report, "again"), "LL").why == "unknown"


def test_the_pieces_measured_with_it_are_found_on_the_carrier_that_they_are_on_now(bench: Bench) -> None:
    one = bench.state.suspect_gauges[suspect(bench)]
    assert find_measured_with(bench.state, one) == {1: [1, 4]}, "A1 and B2, not the other two of the load"
    bench.say(SetPiecesAside("hold", "measured with DM-04", load=1, positions=("A1",)))
    assert find_measured_with(bench.state, one) == {1: [4, 1]}, "a held one sits there still"
    bench.say(StrikeOut(bench.state.seq - 2, "another gauge"))
    assert find_measured_with(bench.state, one) == {}


def test_a_search_finds_its_checks_and_what_became_of_it(bench: Bench) -> None:
    suspect(bench)
    found = find_matching_entries(bench.state, Filter(words="dm-04"))
    assert [entry.kind for entry in found] == ["proved", "gauge_suspected"]


def test_a_gauge_recorded_for_the_batch_is_asked_for_again() -> None:
    bench = open_bench(partial(edited, LOT))
    bench.elsewhere = register(gauge("BG-1", name="Bar gauge"))
    load = bench.form(10)
    bench.until(load, "lot recorded 1")
    bench.prove(load, "lot recorded 1", lot="BG-1")
    bench.say(ReportSuspectGauge("BG-1", "Bar gauge", "dropped", MORNING))
    verdict = bench.line(load, "lot recorded 1").verdict
    assert verdict is not None
    assert verdict.why == "bar gauge BG-1 was withdrawn"
    bench.prove(load, "lot recorded 1", lot="BG-1")
    assert bench.line(load, "lot recorded 1").is_satisfied, "found good since"


def test_another_suspect_gauge_leaves_the_one_recorded_for_the_batch_alone() -> None:
    bench = open_bench(partial(edited, DEPTH, LOT))
    load = bench.form(10)
    bench.through(load, 10)
    assert bench.say(ReportSuspectGauge("DM-1", "Depth micrometer", "dropped", MORNING))
    other = bench.form(10)
    bench.begin(other)
    assert bench.line(other, "lot recorded 1").is_satisfied


def test_one_taken_in_mid_batch_is_found_too() -> None:
    bench = open_bench(partial(edited, LOT))
    bench.elsewhere = register(gauge("BG-1", name="Bar gauge"))
    load = bench.form(10)
    bench.until(load, "lot recorded 1")
    bench.prove(load, "lot recorded 1", lot="BG-2", use_by="2027-01-31")
    opened = bench.say(OpenLot("bar gauge", "BG-1", "", (load,)))[0].seq
    assert list_checks_with(bench.state, "BG-1", MORNING) == (opened,)
    bench.say(StrikeOut(opened, "it is another"))
    assert list_checks_with(bench.state, "BG-1", MORNING) == ()


def test_one_recorded_for_the_batch_counts_for_as_long_as_it_is_the_current_one() -> None:
    """Recorded, then found good, then dropped: loads since the good check rely on it, though none recorded it anew."""
    bench = open_bench(partial(edited, LOT))
    bench.elsewhere = register(gauge("BG-1", name="Bar gauge"))
    load = bench.form(10)
    bench.until(load, "lot recorded 1")
    bench.prove(load, "lot recorded 1", lot="BG-1")
    recorded = bench.state.seq
    bench.clock.forward(86_400)
    calibrated = bench.clock().at
    bench.through(load, 10)
    assert list_checks_with(bench.state, "BG-1", calibrated) == (recorded,)
    bench.say(OpenLot("bar gauge", "BG-2", "2027-01-31"))
    bench.clock.forward(86_400)
    assert list_checks_with(bench.state, "BG-1", bench.clock().at) == ()


def half_done(bench: Bench, *shown: PaperProof) -> int:
    """A batch entered half done: a cut load, and what the papers show; the number of its entry."""
    began, ended = (bench.clock().at - timedelta(minutes=minutes) for minutes in (120, 100))
    load = PlacedPieces("load", 4, 10, 1, stands="over", began=began, ended=ended)
    rest = PlacedPieces("waiting", bench.state.started - 4, 10)
    return bench.say(EnterLate((load, rest), bench.clock().at, shown), "LL")[0].seq


def shown_by_paper(at: datetime, serial: str) -> PaperProof:
    return PaperProof(10, "measured 1", {"value": [3.0, 3.0], "gauge": serial}, "AA", at, 1)


def test_checks_of_a_half_done_batch_are_found_by_their_own_time() -> None:
    bench = open_bench(partial(edited, DEPTH))
    bench.clock.forward(8 * 3600)
    measured = bench.clock().at - timedelta(hours=1)
    bench.elsewhere = register(gauge("DM-04"))
    entry = half_done(bench, shown_by_paper(measured, "dm-04"))

    run = bench.run_of(1)
    assert list(map(str, list_gauges_of_runs(bench.state, [run])[1])) == [
        f"Depth micrometer DM-04 (due {gauge('DM-04').due})"
    ]
    assert list_checks_with(bench.state, "DM-04", measured) == (entry,)
    assert list_checks_with(bench.state, "DM-04", measured + timedelta(minutes=1)) == ()
    assert list_checks_with(bench.state, "DM-05", measured) == ()
    bench.say(StrikeOut(entry, "other papers"), "LL")
    assert list_checks_with(bench.state, "DM-04", measured) == ()


def test_a_lot_of_a_half_done_batch_is_found_while_it_is_the_current_one() -> None:
    bench = open_bench(partial(edited, LOT))
    bench.clock.forward(8 * 3600)
    bench.elsewhere = register(gauge("BG-1", name="Bar gauge"))
    entry = half_done(bench, PaperProof(10, "lot recorded 1", {"lot": "bg 1"}, "AA", MORNING))
    assert bench.state.lots["bar gauge"].lot == "BG-1"
    assert list_checks_with(bench.state, "BG-1", bench.clock().at) == (entry,)


def test_a_half_done_batch_is_judged_by_what_held_when_it_was_measured() -> None:
    """Measured before midnight on the last day of its calibration, lost since."""
    bench = open_bench(partial(edited, DEPTH))
    bench.clock.forward(18 * 3600)
    was = gauge("DM-04", 0)
    bench.elsewhere = register(replace(was, withdrawn="lost", as_of=bench.clock().at, former=was))
    entry = half_done(bench, shown_by_paper(bench.clock().at - timedelta(minutes=90), "DM-04"))
    assert list_checks_with(bench.state, "DM-04", None) == (entry,)


def test_a_half_done_batch_is_one_entry_however_often_it_was_measured() -> None:
    bench = open_bench(partial(edited, DEPTH, FIRST))
    bench.clock.forward(8 * 3600)
    at = bench.clock().at - timedelta(hours=1)
    values = {"value 1": 3, "value 2": 3, "value 3": 3, "gauge 1": "DM-04", "gauge 2": "BG-1", "person": "BB"}
    first = PaperProof(10, "first piece accepted 1", values, "AA", at)
    entry = half_done(bench, first, shown_by_paper(at, "DM-04"))
    assert list_checks_with(bench.state, "DM-04", MORNING) == (entry,)


@pytest.mark.parametrize(
    ("known", "said"),
    [
        (gauge("DM-04", -1), "calibration of DM-04 was due 2026-03-01"),
        (gauge("DM-04", withdrawn="dropped"), "DM-04 is withdrawn: dropped"),
        (gauge("DM-04", name="Caliper"), "DM-04 is in the register as: Caliper"),
    ],
)
def test_what_an_unfit_gauge_measured_proves_nothing_in_a_half_done_batch(known: Gauge, said: str) -> None:
    bench = open_bench(partial(edited, DEPTH))
    bench.clock.forward(8 * 3600)
    bench.elsewhere = register(known)
    with pytest.raises(Refused) as refused:
        half_done(bench, shown_by_paper(bench.clock().at - timedelta(hours=1), "DM-04"))
    attempt: Any = refused.value.attempt
    assert (refused.value.wrong, attempt.op, attempt.line) == (said, 10, "measured 1")
    entry = entries_of(make_drafts(attempt), bench.clock(), "LL", [])[0]
    assert describe(bench.state, entry).startswith("Measure groove depth: 3, 3 mm, Depth micrometer DM-04; refused")


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    shop = Shop(tmp_path / "shop", ManualClock(MORNING))
    for initials in ("LL", "AA", "BB"):
        shop.add_person(initials, f"Person {initials}", initials == "LL", by="LL")
    yield shop
    shop.close()


def measured(shop: Shop, serial: str) -> str:
    """A batch with one load measured with this gauge."""
    opening = OpenBatch(shop.find_next_id(), edited(DEPTH), "digest", "part.toml", 4, 4)
    id = shop.open_batch(opening, "AA").id
    clock: Any = shop.clock
    hand = SimulatedOperator(shop, id, "AA", clock, second="BB")
    load = hand.form(10)
    hand.work(load, stop=lambda line: line.key == "measured 1")
    shop.do(id, Prove(hand.run(load).number, "measured 1", {"value": [3.0, 3.0], "gauge": serial}), "AA")
    hand.work(load)
    return id


def test_each_open_batch_measured_with_it_is_told_and_no_other(shop: Shop) -> None:
    shop.add_gauge("DM-04", "Depth micrometer", "2026-09-01", "LL")
    ours, other = measured(shop, "DM-04"), measured(shop, "DM-09")
    assert shop.count_gauge_checks(shop.people.gauges["DM-04"]) == {ours: 1}

    shop.withdraw_gauge("DM-04", "dropped", True, "BB")
    last = shop.batch(ours).entries[-1]
    assert (last.kind, last.by, last.body["reason"]) == ("gauge_suspected", "BB", "dropped")
    assert len(shop.batch(ours).list_open_suspect_gauges()) == 1
    assert shop.batch(other).list_open_suspect_gauges() == []

    shop.return_gauge("DM-04", "2026-10-01", "checked on blocks", "LL")
    assert shop.count_gauge_checks(shop.people.gauges["DM-04"]) == {}, "good since its last check"


def test_an_act_that_was_cut_off_before_the_register_is_told_at_the_next_opening_and_finished_by_doing_it_again(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The batches are told first: killed in between, the register would go on taking the gauge."""
    shop.add_gauge("DM-04", "Depth micrometer", "2026-09-01", "LL")
    ours = measured(shop, "DM-04")

    def killed(*_: object) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(Shop, "_keep", killed)
        with pytest.raises(KeyboardInterrupt):
            shop.withdraw_gauge("DM-04", "dropped", True, "BB")
    assert shop.troubles == []
    clock: Any = shop.clock
    clock.forward(60)
    again = Shop(shop.folder, clock)
    assert again.troubles == [
        f"Gauge DM-04 was reported suspect to {ours} (dropped, BB), but the register still has it as good: the "
        "entry was cut off. Report it suspect again (c)."
    ]
    again.change_gauge("DM-04", "Depth micrometer 0 to 25 mm", "2026-09-01", "LL")
    again.withdraw_gauge("DM-04", "dropped", True, "BB")
    assert len(again.batch(ours).list_open_suspect_gauges()) == 1, "what waits for a decision is not asked twice"
    again.return_gauge("DM-04", "2026-12-01", "checked on blocks", "LL")
    again.close()
    last = Shop(shop.folder, clock)
    assert last.troubles == [], "the register had it as suspect meanwhile"
    last.close()


def test_what_another_shop_found_suspect_is_no_matter_of_this_register(shop: Shop) -> None:
    shop.add_gauge("DM-04", "Depth micrometer", "2026-09-01", "LL")
    bench = open_bench(partial(edited, DEPTH))
    bench.elsewhere = register(gauge("DM-04"))
    load = bench.form(10)
    bench.until(load, "measured 1")
    bench.prove(load, "measured 1", value=[3.0, 3.0], gauge="DM-04")
    suspect(bench)
    assert len(describe_half_told(shop.people.gauges, [bench.state])) == 1
    bench.say(TransferBatch("the shop next door"), "LL")
    bench.say(TakeInBatch())
    assert describe_half_told(shop.people.gauges, [bench.state]) == []


def test_what_a_gauge_measured_is_looked_at_when_the_laboratory_says_so_weeks_later(shop: Shop) -> None:
    shop.add_gauge("DM-04", "Depth micrometer", "2026-09-01", "LL", "2026-01-15")
    ours, other = measured(shop, "dm04"), measured(shop, "DM-09")
    shop.withdraw_gauge("DM-04", "at the laboratory", False, "AA")
    assert shop.batch(ours).list_open_suspect_gauges() == []
    clock: Any = shop.clock
    clock.forward(21 * 86_400)
    today = clock().at.date().isoformat()
    shop.call_gauge_suspect("DM-04", "out of its limits", today, "AA")
    assert shop.batch(ours).list_open_suspect_gauges() == [], "good until today, as they now say"
    shop.call_gauge_suspect("DM-04", "out of its limits", "2026-01-15", "BB")
    assert [one.reason for one in shop.batch(ours).list_open_suspect_gauges()] == ["out of its limits"]
    assert shop.batch(other).list_open_suspect_gauges() == []


def test_a_gauge_withdrawn_at_another_terminal_is_refused_at_this_one(shop: Shop) -> None:
    """Proved or taken in mid-batch, before this terminal has looked again."""
    shop.add_gauge("BG-1", "Bar gauge", "2026-09-01", "LL")
    shop.add_gauge("DM-04", "Depth micrometer", "2026-09-01", "LL")
    both = edited(DEPTH, LOT)
    id = shop.open_batch(OpenBatch("B0001", both, "digest", "part.toml", 4, 4), "AA").id
    clock: Any = shop.clock
    hand = SimulatedOperator(shop, id, "AA", clock, second="BB")
    load = hand.form(10)
    hand.work(load, stop=lambda line: line.key == "measured 1")
    there = Shop(shop.folder, clock)
    for serial in ("BG-1", "DM-04"):
        there.withdraw_gauge(serial, "dropped", True, "BB")
    there.close()

    with pytest.raises(Refused, match="BG-1 is withdrawn: dropped"):
        shop.do(id, OpenLot("bar gauge", "bg-1", "", (load,)), "AA")
    prove = Prove(hand.run(load).number, "measured 1", {"value": [3.0, 3.0], "gauge": "dm-04"})
    with pytest.raises(Refused, match="DM-04 is withdrawn: dropped"):
        shop.do(id, prove, "AA")
    with pytest.raises(Refused, match="DM-04 is withdrawn: dropped"):
        shop.do(id, TranscribeAct(prove, clock().at), "AA")


def test_one_that_is_only_lost_raises_no_question_and_a_refusal_tells_nobody(shop: Shop) -> None:
    shop.add_gauge("DM-04", "Depth micrometer", "2026-09-01", "LL")
    ours = measured(shop, "DM-04")
    before = shop.batch(ours).seq
    with pytest.raises(Refused):
        shop.withdraw_gauge("DM-04", "", True, "AA")
    shop.withdraw_gauge("DM-04", "lost", False, "AA")
    assert shop.batch(ours).seq == before


# --- batches that take no entries any more


def closed(shop: Shop, serial: str) -> str:
    """A batch measured with this gauge, its pieces set aside since, and closed."""
    id = measured(shop, serial)
    shop.do(id, SetPiecesAside("scrap", "cracked", load=1, count=4), "LL")
    shop.do(id, CloseBatch("all of it cracked"), "LL")
    assert id in shop.closed()
    return id


def test_closed_and_away_batches_are_named_in_the_register_and_their_papers_say_it(shop: Shop) -> None:
    shop.add_gauge("DM-04", "Depth micrometer", "2026-09-01", "LL")
    ours, other, away = closed(shop, "DM 04"), closed(shop, "DM-09"), measured(shop, "dm04")
    shop.do(away, TransferBatch("the other shop"), "LL")
    shop.withdraw_gauge("DM-04", "dropped", True, "BB")

    known = shop.people.gauges["DM-04"].closed
    assert [(name, checks) for name, _, checks in known] == [(ours, 1), (away, 1)]
    said = "gauge DM-04 Depth micrometer was found suspect on 2026-03-02 (dropped, BB): 1 check here used it"
    for name in (ours, away):
        assert shop.batch(name).afterwards == (said,)
    assert shop.batch(other).afterwards == ()
    assert shop.batch(ours).entries[-1].kind == "batch_closed", "its own record is left alone"
    batch, now = shop.batch(ours), shop.now()
    for paper in (write_close_out(batch, now, "0" * 64), write_history(batch, now, "0" * 64)):
        assert f"! SINCE THEN: {said}. A lead decides on the parts." in " ".join(paper.split())
    assert "SINCE THEN" not in write_close_out(shop.batch(other), now, "0" * 64)

    text = " ".join(write_gauges_text(shop.people.gauges.values(), now.at.date()).split())
    assert f"DM-04 is suspect, and closed batches used it: {ours} (1 check), {away} (1 check)." in text
    [row] = json.loads(write_gauges_json(shop.people.gauges.values(), now.at.date()))["gauges"]
    assert [one["id"] for one in row["closed_batches"]] == [ours, away]

    again = Shop(shop.folder, shop.clock)  # from the record alone
    assert again.batch(ours).afterwards == (said,)
    again.close()
    shop.return_gauge("DM-04", "2026-10-01", "checked on blocks", "LL")
    assert shop.people.gauges["DM-04"].closed == ()
    assert shop.batch(ours).afterwards == (said,), "what it measured then stays in doubt"


def test_a_closed_batch_measured_before_the_last_good_check_is_not_named(shop: Shop) -> None:
    shop.add_gauge("DM-04", "Depth micrometer", "2026-09-01", "LL")
    id = closed(shop, "DM-04")
    clock: Any = shop.clock
    clock.forward(86_400)
    today = clock().at.date().isoformat()
    shop.change_gauge("DM-04", "Depth micrometer", "2026-10-01", "LL", today)
    shop.withdraw_gauge("DM-04", "dropped", False, "AA")
    assert shop.people.gauges["DM-04"].closed == ()
    shop.call_gauge_suspect("DM-04", "out of its limits", today, "AA")
    assert shop.people.gauges["DM-04"].closed == ()
    shop.call_gauge_suspect("DM-04", "out of its limits", NO, "AA")
    assert [one[0] for one in shop.people.gauges["DM-04"].closed] == [id]


def test_a_closed_batch_that_cannot_be_read_is_named_too(shop: Shop) -> None:
    shop.add_gauge("DM-04", "Depth micrometer", "2026-09-01", "LL")
    id = closed(shop, "DM-04")
    file = shop.folder / "record" / "closed" / f"{id}.json"
    file.write_bytes(file.read_bytes().replace(b"proved", b"pr0ved", 1))
    shop.withdraw_gauge("DM-04", "dropped", True, "BB")
    assert shop.people.gauges["DM-04"].closed == ((id, "", 0),)
    assert describe_closed_uses(shop.people.gauges["DM-04"].closed) == f"{id} (record cannot be read)"
    file.write_bytes(file.read_bytes()[:900] + b"DM-04")
    shop.call_gauge_suspect("DM-04", "out of its limits", NO, "BB")
    assert shop.people.gauges["DM-04"].closed == ((id, "", 0),), "nor one of which nothing is left"


@pytest.mark.parametrize("later", [False, True])
def test_a_batch_closed_after_closed_ones_were_looked_through_is_named_too(shop: Shop, later: bool) -> None:
    """Also by a look-up that began before anybody called the gauge suspect, at withdrawing it or later."""
    shop.add_gauge("DM-04", "Depth micrometer", "2026-09-01", "LL")
    before, other = closed(shop, "DM-04"), closed(shop, "DM-09")
    looked = shop.find_closed_uses("dm04")
    assert looked.looked_at == {before, other}
    assert [name for name, _ in looked.batches] == [before]
    since = closed(shop, "DM-04")
    closed(shop, "DM-09")
    shop.withdraw_gauge("DM-04", "dropped", not later, "BB", None if later else looked)
    if later:
        assert shop.people.gauges["DM-04"].closed == ()
        shop.call_gauge_suspect("DM-04", "out of its limits", NO, "BB", looked)
    assert [one[0] for one in shop.people.gauges["DM-04"].closed] == [before, since]


@pytest.mark.parametrize(
    ("written", "named"),
    [("DM-04", True), ("dm 04", True), ("DM\u201304", True), ("DM-05", False), ("XDM", False), ("D", False)],
)
def test_a_journal_that_names_no_such_gauge_is_not_folded(written: str, named: bool) -> None:
    assert may_name(json.dumps({"gauge": written}).encode(), "DM-04") is named


def test_a_serial_number_with_other_signs_is_looked_for_everywhere() -> None:
    assert may_name(b"{}", "D/04")
