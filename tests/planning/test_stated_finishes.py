"""Of several plans the one with the best stated finishes wins, not the one drawn shortest."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from floor.figures.schedule import Band, FinishBands
from floor.planning.finish import list_stated_finishes, score_likely_finishes
from floor.planning.plan import ShopPlan
from floor.planning.whatif import TODAY, WhatIfRow, WhatIfTrial, plan_row
from tests.batch.factory import open_bench
from tests.planning.planned import planned, potted

EFFORT = 200


def two() -> ShopPlan:
    """The plan of two batches, the second of them due on Wednesday."""
    first, second = (open_bench(potted, start=start).state for start in (26, 13))
    return planned(first, replace(second, id="B2", due=date(2026, 3, 9)), effort=EFFORT)


def drawn(plan: ShopPlan, **hours: float) -> FinishBands:
    """A spread in which each batch is likely to finish so many hours after its plan as drawn."""

    def band(batch: str) -> Band:
        at = plan.plan.finish[batch] + timedelta(hours=hours[batch])
        return Band(at, at, at)

    return FinishBands(9, band("B2"), {batch: band(batch) for batch in plan.plan.finish}, 0.0)


def test_what_is_stated_is_judged_and_not_what_is_drawn() -> None:
    plan = two()
    ends = plan.plan.finish
    sooner = replace(plan, plan=replace(plan.plan, finish={one: at - timedelta(hours=2) for one, at in ends.items()}))
    assert score_likely_finishes(sooner, drawn(sooner, B0001=0, B2=0)) < score_likely_finishes(
        plan, drawn(plan, B0001=0, B2=0)
    )
    assert score_likely_finishes(sooner, drawn(sooner, B0001=9, B2=9)) > score_likely_finishes(
        plan, drawn(plan, B0001=0, B2=0)
    )
    assert score_likely_finishes(sooner, None) < score_likely_finishes(plan, None), (
        "as drawn, where nothing else is known"
    )
    assert list_stated_finishes(plan, None) == ends


def test_lateness_outweighs_a_promise_and_a_promise_outweighs_the_last_finish() -> None:
    plan = two()
    due = plan.due("B2")
    assert due is not None
    on_day = (due - plan.plan.finish["B2"]).total_seconds() / 3600
    assert on_day > 0
    promised = list_stated_finishes(plan, drawn(plan, B0001=0, B2=0))

    def bad(first: float, second: float) -> tuple[object, ...]:
        return score_likely_finishes(plan, drawn(plan, B0001=first, B2=second), promised)

    assert bad(40, 0) < bad(0, on_day + 1), "what is late"
    assert bad(-40, 0) < bad(-60, 1), "what comes later than it was promised"
    assert bad(-1, 0) < bad(0, 0), "the sooner"
    assert bad(0, 0)[:2] == (0, 0)


def test_time_is_counted_truly_across_the_change_of_daylight_saving() -> None:
    plan = two()
    zone = ZoneInfo("Europe/Berlin")
    before = datetime(2026, 3, 29, 1, 30, tzinfo=zone)
    after = datetime(2026, 3, 29, 3, 30, tzinfo=zone)
    moved = replace(plan, plan=replace(plan.plan, finish=dict.fromkeys(plan.plan.finish, after)))
    assert score_likely_finishes(moved, None, dict.fromkeys(plan.plan.finish, before))[3] == 2 * 3600, (
        "an hour for each"
    )


def test_today_in_a_what_if_is_the_plan_on_view_unless_one_is_found_that_is_likely_through_sooner(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    import floor.planning.whatif as what_if

    plan = two()
    shorter = replace(plan.plan, finish={one: at - timedelta(hours=2) for one, at in plan.plan.finish.items()})
    other = replace(plan, plan=shorter)
    later = {id(plan): 1.0, id(other): 9.0}

    def with_band(row: WhatIfRow, *given: object, **named: object) -> WhatIfRow:
        assert row.shop_plan is not None
        hours = later[id(row.shop_plan)]
        return replace(row, spread=drawn(row.shop_plan, B0001=hours, B2=hours))

    monkeypatch.setattr(what_if, "plan_present_row", lambda *given, **named: WhatIfRow(TODAY, other))
    monkeypatch.setattr(what_if, "add_spread", with_band)
    assert plan_row(plan, WhatIfTrial(TODAY, ())).shop_plan is plan
    later[id(other)] = 0.0
    assert plan_row(plan, WhatIfTrial(TODAY, ())).shop_plan is other
