"""The plan on screen: what next in its order, the forecast of a batch, the chart."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise
from pathlib import Path
from threading import Event
from typing import Any

import pytest
from textual.color import Color
from textual.pilot import Pilot
from textual.theme import Theme
from textual.widgets import Static

from floor.app import FloorApp
from floor.batch.corrections.commands import Note
from floor.batch.lifecycle.commands import OpenBatch, SetPiecesAside
from floor.figures.schedule import QUICK, THOROUGH, FinishBands, Plan, Saving, SchedulingProblem
from floor.planning.plan import ShopPlan
from floor.screens.batch.screen import BatchScreen
from floor.screens.forms.dialogs import TroubleDialog
from floor.screens.frame.run_in_thread import run_in_thread
from floor.screens.frame.theme import DAY, NIGHT
from floor.screens.plan.background_plan import format_batch_outlook
from floor.screens.plan.screen import PlanScreen
from floor.screens.shop.what_next import NextScreen
from floor.shop import Shop
from floor.shop.simulation import ManualClock, SimulatedOperator
from floor.text import format_chance
from tests.planning.planned import potted
from tests.screens.conftest import Picture
from tests.screens.painted import contrast, patches

Open = Callable[..., FloorApp]


@pytest.fixture
def lids(shop: Shop, clock: ManualClock) -> str:
    """52 lids for an order of 50: a pallet faced and emptied, one cut and to be filled, 26 not started."""
    opening = OpenBatch(shop.find_next_id(), potted(), "digest", "lid.toml", 50, 52, date(2026, 3, 6), "PO 12")
    id = shop.open_batch(opening, by="LL").id
    hand = SimulatedOperator(shop, id, "LL", clock, second="AA")
    first = hand.form(10)
    for _ in range(2):
        hand.work(first)
    clock.forward(24 * 3600)
    second = hand.form(10)
    hand.work(second)
    hand.work(first)
    return id


LITTLE = 1
"""Effort of the plan that is searched for longer: as much as the first has by itself."""


async def with_plan(pilot: Pilot[None]) -> FloorApp:
    """Have the plan made, as the program does in the background when it is not standing still."""
    app = pilot.app
    assert isinstance(app, FloorApp)
    app.session.planner.effort = LITTLE
    await app.session.planner.renew(app.session.shop, app.session.now())
    app.update_screens()
    await pilot.pause()
    return app


async def settled(pilot: Pilot[None]) -> None:
    await pilot.pause()
    await pilot.app.workers.wait_for_complete()
    await pilot.pause()


def body(app: FloorApp, id: str) -> str:
    return str(app.screen.query_one(id, Static).content)


async def test_what_next_follows_the_plan_and_says_by_when(open_app: Open, lids: str) -> None:
    app = open_app()
    async with app.run_test(size=(80, 24)) as pilot:
        screen = app.screen
        assert isinstance(screen, NextScreen)
        assert [due.go for due in screen.due][:2] == ["form", "form"], "without a plan: in no special order"

        await with_plan(pilot)

        assert screen.due[0].op == 20, "a day of cure hangs on the filling"
        assert screen.table.filled[0][1].startswith("by 10:"), "the middle of this morning"
        assert all(row[1].startswith("by Wed ") for row in screen.table.filled[1:]), "a day and more to spare"


async def test_a_carrier_takes_what_the_plan_puts_on_it_and_the_row_says_so(open_app: Open, shop: Shop) -> None:
    """Fifteen pieces, pallets of thirteen, and a plan that wants the two left over first."""
    opening = OpenBatch(shop.find_next_id(), potted(), "digest", "lid.toml", 15, 15)
    id = shop.open_batch(opening, by="LL").id
    app = open_app()
    async with app.run_test(size=(80, 24)) as pilot:
        screen = app.screen
        assert isinstance(screen, NextScreen)
        assert screen.due[0].what == "Load 13 of 15 pieces on Pallet"
        await with_plan(pilot)
        made = app.session.planner.shop_plan
        assert made is not None
        runs = sorted(made.plan.runs, key=lambda run: made.work(run).pieces)
        app.session.planner.shop_plan = replace(made, plan=replace(made.plan, runs=tuple(runs)))
        app.update_screens()

        assert screen.table.filled[0][3].startswith("Load 2 of 15 pieces on Pallet")
        await pilot.press("enter", "y")

        assert [load.pieces for load in shop.batch(id).loads.values()] == [(1, 2)]


async def test_doing_something_else_is_taken_as_it_is_and_planned_from_there(
    open_app: Open, shop: Shop, lids: str, clock: ManualClock
) -> None:
    """The plan wants the filling first; the person packs instead. No word of it, and the rest is in order again."""
    app = open_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await with_plan(pilot)
        screen = app.screen
        assert isinstance(screen, NextScreen)
        assert screen.due[0].op == 20
        wanted = app.session.planner.shop_plan
        assert wanted is not None
        hand = SimulatedOperator(shop, lids, "LL", clock, second="AA")
        hand.work(hand.form(40))

        await with_plan(pilot)

        planner = app.session.planner
        assert planner.trouble == ""
        assert not screen.abnormal()
        assert str(screen.reply.content).startswith("! B0001: the order") or not str(screen.reply.content)
        assert planner.shop_plan is not wanted
        assert screen.due[0].op == 20, "the filling is still what the finish hangs on"
        assert 40 not in [due.op for due in screen.due], "what was done is done"


async def test_the_cursor_stays_with_its_thing_when_the_order_changes(open_app: Open, lids: str) -> None:
    app = open_app()
    async with app.run_test(size=(80, 24)) as pilot:
        screen = app.screen
        assert isinstance(screen, NextScreen)
        before = screen.chosen()
        await with_plan(pilot)
        after = screen.chosen()

        assert before is not None
        assert after is not None
        assert before.key == after.key
        when = screen.table.filled[screen.table.cursor_row][1]
        assert when.startswith("by "), "the plan's word"
        assert body(app, "#spot").split("\n")[0].endswith(when), "the field says the same as the row"


async def test_the_plan_says_what_was_entered_since(open_app: Open, shop: Shop, lids: str) -> None:
    """A run that was taken back stands in the chart until the next plan does."""
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        await with_plan(pilot)
        await pilot.press("g")
        assert "before the last" not in str(app.screen.query_one("#strip", Static).content)
        shop.do(lids, Note("a plate is cracked"), by="LL")
        app.update_screens()
        assert f"before the last 1 entry of {lids}: a new one follows" in " ".join(
            str(app.screen.query_one("#strip", Static).content).split()
        )


async def test_the_plan_is_made_by_itself_after_the_first_screen(shop: Shop, lids: str) -> None:
    app = FloorApp(shop, who="LL")
    app.session.planner.effort = LITTLE
    async with app.run_test(size=(80, 24)) as pilot:
        await settled(pilot)
        assert app.session.planner.shop_plan is not None
        assert app.session.planner.spread is not None
        assert lids in app.session.planner.outlooks


async def test_settings_that_are_wrong_leave_the_order_as_it_was_and_are_reported(open_app: Open, shop: Shop,
                                                                            lids: str) -> None:  # fmt: skip
    Path(shop.folder, "shop.toml").write_text("hands = 0")
    app = open_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await app.workers.wait_for_complete()
        await pilot.pause()
        assert isinstance(app.screen, TroubleDialog)
        await pilot.press("enter")
        screen = app.screen
        assert isinstance(screen, NextScreen)
        before = [due.key for due in screen.due]
        await with_plan(pilot)
        assert [due.key for due in screen.due] == before

        await pilot.press("g")
        assert isinstance(app.screen, PlanScreen)
        assert "shop.toml: line 1, hands" in body(app, "#plan-head")
        await pilot.press("plus", "minus", "left", "right", "v", "home", "z")
        assert "no plan" in str(app.screen.reply.content)


async def test_a_plan_that_is_not_whole_promises_no_finish_on_any_screen(open_app: Open, shop: Shop,
                                                                        lids: str) -> None:  # fmt: skip
    """Nobody is ever in: what next says it in its fixed line, the batch in a line, the plan on top with the reason."""
    nobody = '[[shifts]]\ndays = ["Mon"]\nstart = "07:00"\nend = "15:00"\npeople = 0\n'
    Path(shop.folder, "shop.toml").write_text(nobody)
    app = open_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await with_plan(pilot)
        planner = app.session.planner
        assert planner.trouble == ""
        assert planner.spread is None
        short = planner.shop_plan.unplanned[lids].short if planner.shop_plan else ""
        assert short == "finish unknown: 52 pieces are not planned from op 10 on"
        assert short in str(app.screen.strip.content)  # type: ignore[attr-defined]

        await pilot.press("b")
        assert short in body(app, "#outlook")

        await pilot.press("g")
        head = body(app, "#plan-head")
        assert head.startswith(f"{lids}  ✕ {short}")
        assert "attended work" in str(app.screen.strip.content), "the reason"  # type: ignore[attr-defined]
        assert not [claim for claim in ("in time", "day early", "LATE", "on time", "done ") if claim in head]
        assert app.screen.query_one("#plan-head").size.height <= 3

        await pilot.press("v", "v", "v")
        assert "What cannot be planned, and why" in body(app, "#plan-body")
        assert "being worked out" not in body(app, "#plan-body")


async def test_a_batch_says_whether_its_order_is_filled_and_what_to_start(open_app: Open, lids: str) -> None:
    app = open_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await with_plan(pilot)
        await pilot.press("b")
        assert isinstance(app.screen, BatchScreen)
        line = body(app, "#outlook")

        found = app.session.planner.outlooks[lids]
        assert found.top_up is not None
        assert f"{format_chance(found.forecast.probability, 0)} chance to fill" in line
        assert f"{found.top_up.pieces} more at op 10" in line
        assert len(line) <= 2 * 78

        await pilot.press("g")
        assert isinstance(app.screen, PlanScreen)


@pytest.mark.parametrize("to", ["scrap", "hold"])
async def test_a_chance_from_before_pieces_were_lost_is_not_shown_beside_what_is_usable(
    open_app: Open, shop: Shop, lids: str, to: str
) -> None:
    app = open_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await with_plan(pilot)
        planner = app.session.planner
        chance = f"{format_chance(planner.outlooks[lids].forecast.probability, 0)} chance to fill"
        assert chance in format_batch_outlook(planner, shop.batch(lids)).lower()

        shop.do(lids, SetPiecesAside(to, "stock was cracked", op=10, count=1), "LL")
        said = format_batch_outlook(planner, shop.batch(lids))
        assert said.startswith("Chance to fill: being worked out · ")
        assert chance not in said.lower()

        await with_plan(pilot)
        assert "chance to fill" in format_batch_outlook(planner, shop.batch(lids))
        assert "being worked out" not in format_batch_outlook(planner, shop.batch(lids))


async def test_a_fall_below_the_level_is_news_once(open_app: Open, lids: str) -> None:
    app = open_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await with_plan(pilot)
        planner = app.session.planner
        assert len(planner.news) == 1
        assert "chance to fill the order" in planner.news[0]

        planner.news.clear()
        await with_plan(pilot)
        assert planner.news == []


async def test_it_is_not_reported_again_at_the_next_count(
    open_app: Open, shop: Shop, lids: str, clock: ManualClock
) -> None:
    app = open_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await with_plan(pilot)
        planner = app.session.planner
        planner.news.clear()
        before = planner.outlooks[lids]

        SimulatedOperator(shop, lids, "LL", clock, second="AA").work(shop.batch(lids).list_live_loads()[0].number)
        clock.forward(24 * 3600)
        await with_plan(pilot)

        assert planner.outlooks[lids] is not before, "something was counted"
        assert planner.outlooks[lids].forecast.probability < 0.9, "and the chance is still below the level"
        assert planner.news == []


async def test_how_far_a_long_plan_is_stands_beside_the_old_one(open_app: Open, lids: str) -> None:
    app = open_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await with_plan(pilot)
        await pilot.press("g")
        await settled(pilot)
        planner = app.session.planner
        planner.busy, planner.share, planner.doing = True, 0.43, "best so far Fri 06 Mar 10:00"
        app.update_screens()
        await pilot.pause()
        shown = str(app.screen.query_one("#head-right", Static).content)
        assert shown.startswith("planning 43 %  LL")
        assert "done " in body(app, "#plan-head"), "the old plan is still there"
        assert "▼" in body(app, "#plan-body")

        await pilot.resize_terminal(160, 50)
        await pilot.pause()
        assert "planning 43 %, best so far Fri 06 Mar 10:00" in str(app.screen.query_one("#head-right", Static).content)


@pytest.mark.usefixtures("searched_anew")
async def test_a_plan_tells_how_far_it_is(open_app: Open, lids: str) -> None:
    app = open_app()
    async with app.run_test(size=(80, 24)) as pilot:
        told: list[tuple[float, str]] = []
        planner = app.session.planner
        kind = type(planner)

        class Watched(kind):  # type: ignore[valid-type, misc]
            __slots__ = ()

            def __setattr__(self, name: str, value: object) -> None:
                kind.__setattr__(self, name, value)
                if name == "doing":
                    told.append((self.share, str(value)))

        app.session.planner = Watched()
        await with_plan(pilot)
        shares = [share for share, _ in told]
        assert shares == sorted(shares)
        assert shares[0] == 0
        assert shares[-1] == 1
        assert any(doing.startswith("best so far") for _, doing in told)
        assert told[-1][1] == "spread of the finish"


async def test_what_was_entered_meanwhile_gives_a_plan_up_once_and_the_old_one_stays(
    open_app: Open, shop: Shop, lids: str, clock: ManualClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Twice in a row it is not given up, so that steady work cannot put it off for ever."""
    import floor.planning.make_plan as plans

    app = open_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await with_plan(pilot)
        planner = app.session.planner
        old, real = planner.shop_plan, plans.make_plan

        def interrupted(*given: Any, should_stop: Callable[[], bool], **named: Any) -> object:
            assert not should_stop()
            shop.do(lids, Note("the light is out"), "LL")
            stopped.append(should_stop())
            return real(*given, should_stop=should_stop, **named)

        stopped: list[bool] = []
        monkeypatch.setattr(plans, "make_plan", interrupted)
        await planner.renew(shop, shop.now())
        assert stopped == [True]
        assert planner.shop_plan is old
        assert not planner.is_fresh(shop, shop.now())

        await planner.renew(shop, shop.now())
        assert stopped == [True, False, False]
        assert planner.shop_plan is not old


async def test_a_better_plan_is_searched_for_behind_the_first_and_a_large_shop_s_first_is_reported_to_be_coarse(
    open_app: Open, shop: Shop, lids: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    import floor.figures.schedule as schedule
    import floor.planning.make_plan as plans

    efforts: list[int] = []
    held: list[bool] = []
    heads: list[str] = []
    real = plans.make_plan

    def watched(*given: Any, effort: int, **named: Any) -> object:
        efforts.append(effort)
        held.append(named["hold"])
        app.call_from_thread(app.update_screens) if efforts[1:] else None
        heads.append(body(app, "#plan-head"))
        return real(*given, effort=effort, **named)

    monkeypatch.setattr(plans, "make_plan", watched)
    app = open_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("g")
        await with_plan(pilot)
        assert efforts == [schedule.QUICK, LITTLE]
        assert "A first plan, from one order of work" not in heads[1]

        monkeypatch.setattr(schedule, "LARGE", 1)
        efforts.clear()
        heads.clear()
        shop.do(lids, Note("the light is out"), "LL")
        await with_plan(pilot)
        assert efforts == [schedule.FIRST, LITTLE]
        assert held == [False, False, True, True], "what has been on view is held"
        assert "A first plan, from one order of work; a better one is being made." in heads[1]
        assert "A first plan" not in body(app, "#plan-head")

        monkeypatch.setattr(schedule, "THOROUGH_LARGE", 2)
        app.session.planner.effort = 0
        shop.do(lids, Note("the light is back"), "LL")
        await app.session.planner.renew(app.session.shop, app.session.now())
        assert efforts[2:] == [schedule.FIRST, 2]


@pytest.mark.parametrize(("later", "kept"), [(9, True), (-9, False)])
async def test_a_plan_that_is_likely_through_later_is_not_put_on_view_though_it_is_shorter_as_drawn(
    open_app: Open, lids: str, monkeypatch: pytest.MonkeyPatch, later: int, kept: bool
) -> None:
    """And no plan is on view with the spread of another."""
    import floor.planning.make_plan as plans

    made: list[ShopPlan] = []
    of: dict[int, FinishBands] = {}
    on_view: list[tuple[ShopPlan | None, FinishBands | None]] = []
    real_plan, real_spread = plans.make_plan, plans.simulate_finishes

    def watched(*given: Any, **named: Any) -> ShopPlan:
        on_view.append((app.session.planner.shop_plan, app.session.planner.spread))
        made.append(real_plan(*given, **named))
        return made[-1]

    def moved(problem: SchedulingProblem, plan: Plan, **named: Any) -> FinishBands:
        found = real_spread(problem, plan, **named)
        hours = timedelta(hours=later if len(made) == 2 else 0)
        bands = {id: replace(band, middle=band.middle + hours) for id, band in found.batches.items()}
        of[id(plan)] = replace(found, batches=bands)
        return of[id(plan)]

    monkeypatch.setattr(plans, "make_plan", watched)
    monkeypatch.setattr(plans, "simulate_finishes", moved)
    app = open_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await with_plan(pilot)
        first, second = made
        planner = app.session.planner
        assert planner.shop_plan is (first if kept else second)
        assert planner.shop_plan is not None
        assert planner.spread is of[id(planner.shop_plan.plan)]
        assert on_view == [(None, None), (first, of[id(first.plan)])]


async def test_leaving_the_screen_stops_what_is_worked_out_for_it(
    open_app: Open, lids: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    import floor.planning.whatif as what_if

    asked: list[Callable[[], bool]] = []
    efforts: list[int] = []

    def listen(shop_plan: object, should_stop: Callable[[], bool], effort: int, progress: object = None) -> tuple[()]:
        asked.append(should_stop)
        efforts.append(effort)
        return ()

    monkeypatch.setattr(what_if, "rank_savings", listen)
    app = open_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await with_plan(pilot)
        await pilot.press("g")
        await settled(pilot)
        assert efforts == [QUICK, LITTLE], "first as a screen waits for it, then searched for longer"
        assert [stop() for stop in asked] == [False, False]
        await pilot.press("escape")
        await pilot.pause()
        assert [stop() for stop in asked] == [True, True]


@pytest.mark.parametrize(("large", "longer"), [(10_000, THOROUGH), (1, None)])
async def test_what_one_more_saves_is_searched_for_longer_unless_that_takes_too_long(
    open_app: Open, lids: str, monkeypatch: pytest.MonkeyPatch, large: int, longer: int | None
) -> None:
    """A pallet more that lets the plan end a night earlier is seldom found at once."""
    import floor.figures.schedule as schedule
    import floor.planning.whatif as what_if

    efforts: list[int] = []
    quick = (Saving("carrier", "Pallet", 1.0, 1.0),)

    def first_quick(shop_plan: object, should_stop: object, effort: int, progress: object = None) -> tuple[Saving, ...]:
        efforts.append(effort)
        if effort == longer:
            raise ZeroDivisionError("nothing by nothing")
        return quick

    monkeypatch.setattr(what_if, "rank_savings", first_quick)
    monkeypatch.setattr(schedule, "LARGE", large)
    app = open_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await with_plan(pilot)
        app.session.planner.effort = 0
        await pilot.press("g")
        await settled(pilot)
        assert efforts == [QUICK] + [longer] * (longer is not None)
        assert "Bottleneck: Pallet; one more Pallet saves" in body(app, "#plan-head")
        await pilot.press("v", "v", "v")
        limits = body(app, "#plan-body")
        assert ("✕ Floor failed to search for longer: ZeroDivisionError" in limits) == (longer is not None)
        assert ("The figures above stand." in limits) == (longer is not None)
        assert "being worked out" not in limits
        assert isinstance(app.screen, PlanScreen)
        assert app.session.planner.savings == quick, "what was found first stands"


async def test_what_was_worked_out_for_a_screen_that_is_being_taken_down_ends_nothing(
    open_app: Open, lids: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    import floor.planning.whatif as what_if

    free = Event()

    def later(*given: object, **named: object) -> tuple[()]:
        free.wait(10)
        return ()

    monkeypatch.setattr(what_if, "rank_savings", later)
    app = open_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await with_plan(pilot)
        await pilot.press("g")
        await pilot.pause()
        await app.screen.query("#head-left").remove()
        free.set()
        await settled(pilot)
        assert isinstance(app.screen, PlanScreen)
        assert app.session.planner.savings == ()


async def test_the_outlook_is_worked_out_anew_only_when_something_was_counted(
    open_app: Open, shop: Shop, lids: str, clock: ManualClock
) -> None:
    app = open_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await with_plan(pilot)
        first = app.session.planner.outlooks[lids]
        hand = SimulatedOperator(shop, lids, "LL", clock, second="AA")
        load = hand.form(40)
        await with_plan(pilot)
        assert app.session.planner.outlooks[lids] is first

        hand.work(load)
        await with_plan(pilot)
        assert app.session.planner.outlooks[lids] is not first


async def test_work_aside_hands_its_fault_over() -> None:
    def fails() -> None:
        raise ZeroDivisionError("nothing by nothing")

    with pytest.raises(ZeroDivisionError, match="nothing by nothing"):
        await run_in_thread(fails)
    assert await run_in_thread(sorted, [2, 1], reverse=True) == [2, 1]


async def test_what_limits_it_is_reported_once_it_is_known_and_a_fault_in_it_stops_nothing(
    open_app: Open, lids: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    import floor.planning.whatif as whatif

    def fails(*given: Any, **named: Any) -> object:
        raise ZeroDivisionError("nothing by nothing")

    app = open_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await with_plan(pilot)
        with monkeypatch.context() as patched:
            patched.setattr(whatif, "compute_savings_of_one_more", fails)
            await pilot.press("g")
            await settled(pilot)
            assert "Bottleneck: Floor failed to work this out: ZeroDivisionError" in body(app, "#plan-head")
            await pilot.press("v", "v", "v")
            assert "\n  ✕ Floor failed to work this out: ZeroDivisionError" in body(app, "#plan-body")
            await pilot.press("escape")
        await pilot.press("g")
        await settled(pilot)
        assert "Bottleneck: Pallet; one more Pallet saves" in body(app, "#plan-head")
        assert "working hours" in body(app, "#plan-head")


async def on_plan(pilot: Pilot[None]) -> PlanScreen:
    await with_plan(pilot)
    await pilot.press("g")
    await settled(pilot)
    assert isinstance(pilot.app.screen, PlanScreen)
    return pilot.app.screen


def under_cursor(app: FloorApp) -> str:
    """The line that tells the run under the cursor: below the people's row."""
    lines = body(app, "#plan-body").splitlines()
    return next(told for row, told in pairwise(lines) if row.startswith((" People", "►People")))


async def test_zoom_scroll_and_views_by_their_keys(open_app: Open, lids: str) -> None:
    app = open_app()
    async with app.run_test(size=(80, 24)) as pilot:
        screen = await on_plan(pilot)
        first = body(app, "#plan-body")
        assert "▼" in first
        assert "Router" in first
        assert "Pallet 1 " not in first.split(" People")[0], "stations first"
        assert max(map(len, first.splitlines())) <= 78

        at = screen.minutes
        await pilot.press("plus")
        assert screen.minutes < at
        await pilot.press("minus", "minus")
        assert screen.minutes > at
        await pilot.press("plus", "plus", "plus", "pagedown")
        assert "▼" not in body(app, "#plan-body").splitlines()[1], "now has gone out on the left"
        await pilot.press("pageup", "pageup")
        assert "▼" in body(app, "#plan-body").splitlines()[1]
        await pilot.press("minus", "minus", "home")
        assert screen.minutes == at
        assert body(app, "#plan-body") == first

        await pilot.press("v")
        assert "Pallet 1 " in body(app, "#plan-body").split(" People")[0]
        await pilot.press("v")
        assert body(app, "#plan-body").startswith("Tue 03 Mar\n  09:")
        await pilot.press("down")
        await pilot.press("v")
        await settled(pilot)
        limits = body(app, "#plan-body")
        assert limits.startswith("Bottleneck: ")
        assert "\nWorking hours gained by one more of each\n  Pallet " in limits
        assert "Operators (shifts)" in limits
        await pilot.press("v", "escape")
        assert isinstance(app.screen, NextScreen)


async def test_the_cursor_goes_from_run_to_run_and_row_to_row_and_tells_each(open_app: Open, lids: str) -> None:
    app = open_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await on_plan(pilot)
        plan = app.session.planner.shop_plan
        assert plan is not None
        router = sorted((run for run in plan.runs if run.station == "Router"), key=lambda run: run.start)
        told = []
        for _ in router:
            told.append(under_cursor(app))
            await pilot.press("right")
        assert under_cursor(app) == told[-1], "at the last it stays"
        for run, said in zip(router, told, strict=True):
            assert said.startswith(f"{plan.carrier(run)} · op {plan.work(run).op} ")
            assert f"{run.start:%a %H:%M}–" in said
        for said in reversed(told[:-1]):
            await pilot.press("left")
            assert under_cursor(app) == said

        await pilot.press("down")
        assert " · op 20" in under_cursor(app)
        await pilot.press("down", "down", "down", "down")
        assert under_cursor(app).startswith(("Router · Pallet", "Bench · Pallet")), "the people's row is the last"
        await pilot.press("up", "up", "up", "up")
        assert under_cursor(app) == told[0]


async def test_the_time_on_view_follows_the_cursor_and_a_touch_moves_it(open_app: Open, lids: str) -> None:
    app = open_app()
    async with app.run_test(size=(80, 24)) as pilot:
        screen = await on_plan(pilot)
        plan = app.session.planner.shop_plan
        assert plan is not None
        await pilot.press("plus", "plus", "plus")
        before = under_cursor(app)
        for _ in plan.runs:
            await pilot.press("right")
        assert "▼" not in body(app, "#plan-body").splitlines()[1], "the last run is hours away at 5 min to a cell"
        last = max((run for run in plan.runs if run.station == "Router"), key=lambda run: run.start)
        assert f"{last.start:%a %H:%M}–" in under_cursor(app)

        await pilot.press("home")
        assert under_cursor(app) == before
        row = next(n for n, line in enumerate(body(app, "#plan-body").splitlines()) if line[1:].startswith("Bench"))
        await pilot.click("#plan-body", offset=(20, row))
        assert screen.cursor is not None
        assert screen.cursor.row == row - 2
        assert " · op " in under_cursor(app)


async def test_the_row_of_the_bottleneck_has_a_sign_that_the_legend_names(open_app: Open, lids: str) -> None:
    app = open_app()
    async with app.run_test(size=(80, 24)) as pilot:
        screen = await on_plan(pilot)
        assert "Bottleneck: Pallet" in body(app, "#plan-head")
        assert "►" not in body(app, "#plan-body"), "no row of a station is the pallets'"
        await pilot.press("v")
        assert "►Pallet 1" in body(app, "#plan-body")
        assert "► bottleneck" in body(app, "#plan-body")
        assert "carriers" in screen.place()


@pytest.mark.parametrize("theme", [NIGHT, DAY], ids=lambda theme: theme.name)
async def test_work_of_people_has_a_color_beside_its_signs_in_the_chart_and_its_legend(
    open_app: Open, lids: str, theme: Theme, drawn: None
) -> None:
    """4.5 to 1 (WCAG 2.2, success criterion 1.4.3); a machine that runs alone is plain."""
    app = open_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await on_plan(pilot)
        app.theme = theme.name
        await pilot.press("down")
        await pilot.pause()
        colors = theme.variables["ruled"], theme.foreground, theme.background
        blue, plain, ground = (Color.parse(str(one)).rgb for one in colors)
        found = [patch for patch in patches(app) if patch.text.strip()[:1] in set("█▓▒")]
        assert {patch.letters for patch in found if "▒" not in patch.text} >= {blue}
        assert {patch.letters for patch in found if "▒" in patch.text} == {plain}
        (legend,) = {patch.row for patch in patches(app) if "attended" in patch.text}
        assert [patch.letters for patch in found if patch.row == legend and patch.text == "█"] == [blue]
        assert contrast(blue, ground) >= 4.5


# --- an idle terminal ----------------------------------------------------------------------------------------------


async def test_where_nothing_is_entered_a_plan_is_made_again_ever_more_seldom_and_without_the_longer_search(
    open_app: Open, shop: Shop, lids: str, clock: ManualClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    import floor.planning.make_plan as plans

    efforts: list[int] = []
    real = plans.make_plan

    def watched(*given: Any, effort: int, **named: Any) -> ShopPlan:
        efforts.append(effort)
        return real(*given, effort=effort, **named)

    monkeypatch.setattr(plans, "make_plan", watched)
    app = open_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await with_plan(pilot)
        planner = app.session.planner
        assert efforts == [QUICK, LITTLE]
        waits = []
        for _ in range(5):
            minutes = 0
            while planner.is_fresh(shop, shop.now()):
                clock.forward(60)
                minutes += 1
            waits.append(minutes)
            efforts.clear()
            await planner.renew(shop, shop.now())
            assert efforts == [QUICK]
        assert waits == [5, 10, 20, 30, 30]
        assert planner.shop_plan is not None
        assert planner.shop_plan.plan.start == shop.now().at, "it is of now"

        shop.do(lids, Note("the light is out"), "LL")
        assert not planner.is_fresh(shop, shop.now())
        efforts.clear()
        await planner.renew(shop, shop.now())
        assert efforts == [QUICK, LITTLE], "something was entered: the whole search"
        clock.forward(4 * 60)
        assert planner.is_fresh(shop, shop.now())
        clock.forward(60)
        assert not planner.is_fresh(shop, shop.now())


async def test_what_one_more_saves_is_worked_out_once_for_what_was_entered(
    open_app: Open, shop: Shop, lids: str, clock: ManualClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    import floor.planning.whatif as what_if

    efforts: list[int] = []

    def count(shop_plan: object, should_stop: object, effort: int, progress: object = None) -> tuple[Saving, ...]:
        efforts.append(effort)
        return (Saving("carrier", "Pallet", 1.0, 1.0),)

    monkeypatch.setattr(what_if, "rank_savings", count)
    app = open_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await on_plan(pilot)
        planner = app.session.planner
        assert efforts == [QUICK, LITTLE]

        clock.forward(10 * 60)
        before = planner.shop_plan
        await with_plan(pilot)
        await settled(pilot)
        assert planner.shop_plan is not before
        await pilot.press("escape", "g")
        await settled(pilot)
        assert efforts == [QUICK, LITTLE], "neither a newer plan of the same nor a second look asks again"
        assert "Bottleneck: Pallet; one more Pallet saves 1.0 working hours" in body(app, "#plan-head")

        shop.do(lids, Note("the light is out"), "LL")
        await with_plan(pilot)
        await settled(pilot)
        assert efforts == [QUICK, LITTLE] * 2


def test_picture_of_the_plan(picture: Picture, open_app: Open, lids: str) -> None:
    """Cutting told from cure without color; now, the bottleneck, who is needed; beside it what one more saves."""

    async def shown(pilot: Pilot[None]) -> None:
        await with_plan(pilot)
        await pilot.press("g")
        await settled(pilot)

    picture(open_app(), run_before=shown)


def test_picture_of_what_next_with_the_plan(picture: Picture, open_app: Open, lids: str) -> None:
    """The latest start is shown where "now" was."""

    async def shown(pilot: Pilot[None]) -> None:
        await with_plan(pilot)

    picture(open_app(), run_before=shown)
