"""A filled order with pieces in work: status, plan and close-out say what nobody needs, and what was decided."""

from __future__ import annotations

import json

import pytest

from floor.batch.counting.decide_surplus import LetSurplusGoOn, TakeOutSurplus
from floor.batch.handover.page import build_handover_page
from floor.batch.lifecycle.commands import CloseBatch
from floor.batch.worklist.tasks import list_due_tasks
from floor.papers.closeout import write_close_out
from floor.papers.plan import write_plan_text
from floor.papers.status import write_status_json, write_status_text
from tests.batch.factory import Bench
from tests.planning.planned import ALWAYS, filled, planned


@pytest.fixture
def bench() -> Bench:
    """Order of 4, filled by the first pallet; a second waits for its cut, and four pieces wait loose."""
    bench = filled(start=12, loads=2)
    bench.through(2, 10, 20)
    return bench


def status(bench: Bench) -> list[str]:
    now = bench.clock()
    return write_status_text([bench.state], list_due_tasks([bench.state], now), now).splitlines()


def test_the_status_says_first_that_the_order_is_filled_and_what_waits_for_a_decision(bench: Bench) -> None:
    now = bench.clock()
    said = "ORDER FILLED: 4 of 4 good; 8 pieces in process are not needed: decide on them"

    assert status(bench)[0] == f"B0001  {said}"
    assert "4 waiting, 4 on loads, 4 finished" in status(bench)[2]
    told = json.loads(write_status_json([bench.state], list_due_tasks([bench.state], now), now))
    assert told["batches"][0]["filled"] is True
    assert told["batches"][0]["not_needed"] == 8
    assert [one["what"] for one in told["next"]] == [said]


def test_what_was_decided_stands_in_status_plan_and_handover(bench: Bench) -> None:
    bench.say(LetSurplusGoOn("for stock", until=30))
    said = "ORDER FILLED: 4 of 4 good; 8 pieces go on up to op 30 (AA: for stock)"

    assert status(bench)[0] == f"B0001  {said}"
    plan = planned(bench.state, now=bench.clock(), crew=ALWAYS)
    assert said in " ".join(write_plan_text(plan, bench.clock(), ["B0001"]).split())
    lines = [line.text for section in build_handover_page(bench.state, bench.clock()) for line in section.lines]
    assert any(said in line for line in lines)


def test_the_plan_says_how_many_it_leaves_out_as_not_needed(bench: Bench) -> None:
    text = " ".join(
        write_plan_text(planned(bench.state, now=bench.clock(), crew=ALWAYS), bench.clock(), ["B0001"]).split()
    )

    assert "8 pieces of B0001 are planned to the end of the run under way only: not needed for the order." in text
    assert "not planned" not in text, "nothing is missing that anybody asked for"


def test_the_close_out_accounts_for_spares_and_stopped_with_their_reasons(bench: Bench) -> None:
    load = next(iter(bench.state.list_live_loads())).number
    bench.say(TakeOutSurplus("spare", "for the next order", load=load))
    bench.say(TakeOutSurplus("stopped", "nobody wants more of them"), "LL")
    assert status(bench)[0] == "B0001  ORDER FILLED: 4 of 4 good"
    assert "4 spare, 4 stopped, 4 finished" in status(bench)[2]
    bench.say(CloseBatch("done"), "LL")

    text = write_close_out(bench.state, bench.clock(), "h" * 64)

    assert "12 started = 4 spare + 4 stopped + 4 finished" in text
    assert "Order 4: 4 finished, as ordered" in text
    assert "Surplus: 4 spares, 4 stopped" in text
    assert "- 4 pieces kept as spares before op 30: for the next order" in text
    assert "- 4 pieces stopped before op 10: nobody wants more of them" in text
