"""A gauge found unfit: what was measured with it since its last good check is named, and a lead decides.

ISO 9001:2015, 7.1.5.2: the validity of earlier results is looked at where equipment is found unfit (from memory).
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from floor.batch.command import Refused
from floor.batch.corrections.commands import StrikeOut
from floor.batch.describe import describe
from floor.batch.gates.commands import Prove
from floor.batch.gates.open_lot import OpenLot
from floor.batch.gates.suspect_gauges import (
    ReportSuspectGauge,
    SettleSuspectGauge,
    describe_suspect_gauge,
    list_checks_with,
)
from floor.batch.handover.page import list_safety_lines
from floor.batch.lifecycle.commands import OpenBatch, open_points
from floor.batch.search.history_filter import Filter
from floor.batch.search.matching import find_matching_entries
from floor.batch.worklist.tasks import list_due_tasks
from floor.papers.closeout import write_close_out
from floor.shop import Shop
from floor.shop.simulation import ManualClock, SimulatedOperator
from tests.batch.factory import MORNING, Bench, edited, open_bench
from tests.batch.test_gauges import DEPTH, LOT, gauge, register


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
    assert f"{said}; a lead decides" in [line.text for line in list_safety_lines(bench.state, bench.clock())]
    assert f"{said}; OPEN" in " ".join(write_close_out(bench.state, bench.clock(), "0" * 64).split())

    assert bench.refused(SettleSuspectGauge(report, "measured again")).why == "authority"
    assert bench.refused(SettleSuspectGauge(report, ""), "LL").field == "why"
    bench.say(SettleSuspectGauge(report, "measured again with DM-05"), "LL")
    assert "gauge" not in [point.kind for point in open_points(bench.state)]
    assert one.serial in describe(bench.state, bench.state.entries[-1])
    assert bench.state.suspect_gauges[report].settled == "measured again with DM-05 (LL)"
    assert bench.refused(SettleSuspectGauge(report, "again"), "LL").why == "unknown"


def test_a_search_finds_its_checks_and_what_became_of_it(bench: Bench) -> None:
    suspect(bench)
    found = find_matching_entries(bench.state, Filter(words="dm-04"))
    assert [entry.kind for entry in found] == ["proved", "gauge_suspected"]


def test_a_gauge_recorded_for_the_batch_is_asked_for_again() -> None:
    bench = open_bench(partial(edited, LOT))
    bench.elsewhere = register(gauge("BG-1"))
    load = bench.form(10)
    bench.until(load, "lot recorded 1")
    bench.prove(load, "lot recorded 1", lot="BG-1")
    bench.say(ReportSuspectGauge("BG-1", "Bar gauge", "dropped", MORNING))
    verdict = bench.line(load, "lot recorded 1").verdict
    assert verdict is not None
    assert verdict.why == "bar gauge BG-1 was withdrawn"
    bench.prove(load, "lot recorded 1", lot="BG-2", use_by="2027-01-31")
    assert bench.line(load, "lot recorded 1").is_satisfied


def test_one_taken_in_mid_batch_is_found_too() -> None:
    bench = open_bench(partial(edited, LOT))
    bench.elsewhere = register(gauge("BG-1"))
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
    bench.elsewhere = register(gauge("BG-1"))
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


def test_one_that_is_only_lost_raises_no_question_and_a_refusal_tells_nobody(shop: Shop) -> None:
    shop.add_gauge("DM-04", "Depth micrometer", "2026-09-01", "LL")
    ours = measured(shop, "DM-04")
    before = shop.batch(ours).seq
    with pytest.raises(Refused):
        shop.withdraw_gauge("DM-04", "", True, "AA")
    shop.withdraw_gauge("DM-04", "lost", False, "AA")
    assert shop.batch(ours).seq == before
