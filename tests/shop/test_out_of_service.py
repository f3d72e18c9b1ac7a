"""A station out of service: reported once, known to every batch, and included in what is next and the plan.

HND-12: maintenance in progress belongs on the handover page, above all where it goes on over the change of shift.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta, timezone
from pathlib import Path

import pytest

from floor.batch.command import OtherBatches, Refused
from floor.batch.corrections.commands import StrikeOut
from floor.batch.corrections.from_paper import TranscribeAct
from floor.batch.describe import describe
from floor.batch.fold import fold
from floor.batch.handover.commands import OfferHandover
from floor.batch.handover.page import (
    build_handover_page,
    list_safety_lines,
)
from floor.batch.handover.risks import (
    find_risks,
)
from floor.batch.lifecycle.commands import CloseBatch, FormLoad, OpenBatch, SetPiecesAside
from floor.batch.lifecycle.transfer import TakeInBatch, TransferBatch
from floor.batch.open_items import Outage
from floor.batch.stations.out_of_service import ReturnToService, TakeOutOfService
from floor.batch.walk.commands import BeginRun, StartCycle
from floor.papers.status import write_status_json, write_status_text
from floor.planning.problem import Crew, build_planning_request
from floor.shop import Shop
from floor.shop.load_settings import load_settings
from floor.shop.simulation import SimulatedOperator
from tests.batch.factory import MORNING, StepClock, open_bench, part

TWO = MORNING.replace(hour=14)


@pytest.fixture
def clock() -> StepClock:
    return StepClock(MORNING)


@pytest.fixture
def shop(tmp_path: Path, clock: StepClock) -> Iterator[Shop]:
    shop = Shop(tmp_path, clock)
    shop.add_person("LL", "Lee Lead", True, by="-")
    shop.add_person("AA", "Ann", False, by="LL")
    yield shop
    shop.close()


def opened(shop: Shop) -> str:
    return shop.open_batch(OpenBatch(shop.find_next_id(), part(), "digest", "part.toml", 1, 8), "AA").id


def down(shop: Shop, id: str, why: str = "spindle hums", known: bool = True) -> None:
    shop.do(id, TakeOutOfService("mill", why, TWO if known else None), "AA")


def test_no_batch_starts_anything_there_until_it_is_back(shop: Shop) -> None:
    one, two = opened(shop), opened(shop)
    down(shop, one)
    load = shop.do(two, FormLoad(10), "AA")[0].body["load"]

    with pytest.raises(Refused) as refused:
        shop.do(two, BeginRun(load), "AA")

    assert refused.value.wrong == ("Mill is out of service since 07:00: spindle hums; expected back 14:00 (AA)")
    assert refused.value.remedy == "wait, or report it back in service (x)"
    shop.do(two, ReturnToService("mill", "bearing changed"), "AA")
    assert shop.batch(one).outages == shop.batch(two).outages == {}
    shop.do(two, BeginRun(load), "AA")
    assert describe(shop.batch(one), shop.batch(one).entries[-1]).startswith("Mill is back in service: bearing changed")


def test_a_batch_opened_at_another_terminal_a_moment_later_knows_it(
    shop: Shop, tmp_path: Path, clock: StepClock
) -> None:
    one = opened(shop)
    other = Shop(tmp_path, clock)
    down(shop, one)

    two = opened(other)

    assert other.batch(two).outages["mill"] == shop.batch(one).outages["mill"]
    other.close()


def test_what_the_shop_knows_counts_where_the_batch_was_not_told() -> None:
    """As after restoring a batch from a copy."""
    bench = open_bench()
    load = bench.form(10)
    bench.elsewhere = OtherBatches(outages={"mill": Outage("spindle hums", "AA", MORNING)})

    assert bench.refused(BeginRun(load)).wrong.startswith("Mill is out of service since 07:00: spindle hums")
    assert bench.say(ReturnToService("mill"))[0].kind == "back_in_service"


@pytest.mark.parametrize("west", [-11, 0, 14])
@pytest.mark.parametrize("year", [1, 9999])
def test_a_time_that_is_years_away_is_a_slip(west: int, year: int) -> None:
    """Converted to another zone, the last hours of the calendar do not exist."""
    zone = timezone(timedelta(hours=west))
    at = datetime(year, 12, 31, 23, 59, tzinfo=zone) if year > 1 else datetime(1, 1, 1, tzinfo=zone)
    bench = open_bench(at=datetime(2026, 3, 2, 7, tzinfo=zone))
    load = bench.form(10)
    for command in (TakeOutOfService("mill", "spindle hums", at), TranscribeAct(BeginRun(load), at)):
        assert bench.refused(command).wrong == f"the year {year} is more than ten years from now"


def test_a_run_that_has_not_started_its_cycle_waits_and_says_why(shop: Shop, clock: StepClock) -> None:
    id = opened(shop)
    worker = SimulatedOperator(shop, id, "AA", clock, second="LL")
    load = worker.form(10)
    worker.work(load, stop=lambda line: line.kind == "start")
    down(shop, id)

    with pytest.raises(Refused, match="out of service"):
        worker.do(StartCycle(worker.run(load).number))
    [due] = [one for one in shop.due() if one.load == load]
    assert (due.urgency, due.when) == ("blocked", TWO)
    assert due.what == "Mill out of service since 07:03: spindle hums; expected back 14:00"


def test_what_is_next_says_why_a_load_cannot_start(shop: Shop) -> None:
    id = opened(shop)
    load = shop.do(id, FormLoad(10), "AA")[0].body["load"]
    down(shop, id, known=False)

    [due] = [one for one in shop.due() if one.load == load]

    assert (due.urgency, due.when) == ("blocked", None)
    assert due.what == "Mill out of service since 07:00: spindle hums; nobody knows when it is back"
    now = shop.now()
    assert "! Mill is out of service since 07:00" in write_status_text(shop.batches, shop.due(), now)
    assert '"station": "mill"' in write_status_json(shop.batches, shop.due(), now)


def test_it_stands_on_the_handover_page_and_makes_the_handover_one_of_higher_risk(shop: Shop) -> None:
    id = opened(shop)
    assert "Maintenance in progress" not in [
        section.title for section in build_handover_page(shop.batch(id), shop.now())
    ]
    down(shop, id)
    batch = shop.batch(id)

    section = next(
        section for section in build_handover_page(batch, shop.now()) if section.title == "Maintenance in progress"
    )

    assert section.lines[0].text.endswith("(AA). It continues over the shift change")
    assert section.lines[0] in list_safety_lines(batch, shop.now()), "it is read back"
    assert "maintenance" in find_risks(batch)
    with pytest.raises(Refused, match="needs remarks"):
        shop.do(id, OfferHandover(), "AA")


def test_a_batch_that_comes_later_or_back_knows_it_too(shop: Shop, tmp_path: Path, clock: StepClock) -> None:
    one = opened(shop)
    away = opened(shop)
    shop.do(away, TransferBatch("the other machine"), "LL")
    down(shop, one)
    shop.do(one, SetPiecesAside("scrap", "stopped", op=10, count=8), "LL")
    shop.do(one, CloseBatch("stopped"), "LL")
    shop.close()
    again = Shop(tmp_path, clock)

    two = opened(again)
    again.do(away, TakeInBatch("not sent", withdrawn=True), "LL")

    assert again.batch(two).outages["mill"] == again.batch(away).outages["mill"]
    assert again.batch(two).outages["mill"].since == MORNING
    again.do(two, ReturnToService("mill"), "AA")
    assert again.batch(away).outages == {}
    assert opened(again)
    assert again.batches[-1].outages == {}
    for batch in again.batches:
        assert batch == fold(batch.entries)
    again.close()


def test_said_again_it_changes_the_reason_and_keeps_since_when(shop: Shop, clock: StepClock) -> None:
    id = opened(shop)
    down(shop, id, known=False)
    clock.forward(3600)
    down(shop, id, "bearing ordered")

    outage = shop.batch(id).outages["mill"]
    assert (outage.why, outage.since, outage.back) == ("bearing ordered", MORNING, TWO)
    clock.until(TWO + timedelta(hours=1))
    assert outage.said(clock().at).endswith("expected back 14:00, which is past")


@pytest.mark.parametrize(
    ("command", "why"),
    [
        (TakeOutOfService("moon", "far away"), "unknown"),
        (TakeOutOfService("mill", " "), "input"),
        (TakeOutOfService("mill", "broken", MORNING - timedelta(hours=1)), "input"),
        (ReturnToService("moon"), "unknown"),
        (ReturnToService("mill"), "not now"),
    ],
)
def test_what_makes_no_sense_is_refused(shop: Shop, command: TakeOutOfService | ReturnToService, why: str) -> None:
    id = opened(shop)
    before = shop.batch(id).seq

    with pytest.raises(Refused) as refused:
        shop.do(id, command, "AA")

    assert refused.value.why == why
    assert shop.batch(id).seq == before


def test_it_is_taken_back_by_saying_so_and_not_by_striking_it_out_in_one_batch(shop: Shop) -> None:
    id = opened(shop)
    down(shop, id)

    with pytest.raises(Refused, match="locked"):
        shop.do(id, StrikeOut(shop.batch(id).seq, "wrong machine"), "AA")


def test_the_plan_starts_nothing_there_before_it_is_back(shop: Shop, tmp_path: Path, clock: StepClock) -> None:
    id = opened(shop)
    crew = Crew(load_settings(tmp_path, MORNING).calendar)

    def until() -> object:
        stations = build_planning_request(shop.batches, shop.now(), crew).problem.stations
        return {one.name: one.down_until for one in stations}["Mill"]

    assert until() is None
    down(shop, id)
    assert until() == TWO
    down(shop, id, known=False)
    assert until() == MORNING + timedelta(days=1), "where nobody knows: not before the next day's work"

    down(shop, id)
    clock.until(TWO)
    assert until() == MORNING + timedelta(days=1), "it should be back by now, and nobody has said so"
