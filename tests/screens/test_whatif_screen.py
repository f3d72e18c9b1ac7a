"""What-if on screen: asked in a few keys or in words, answered in a table beside today's plan; nothing is recorded."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
from textual.pilot import Pilot
from textual.widgets import Static

import floor.screens.plan.whatif as screens
from floor.app import FloorApp
from floor.figures.schedule import FinishBands, Plan, SchedulingProblem
from floor.screens.plan.screen import PlanScreen
from floor.screens.plan.whatif import WhatIfScreen
from floor.screens.shop.what_next import NextScreen
from floor.shop import Shop
from floor.shop.simulation import ManualClock
from tests.screens.conftest import Picture
from tests.screens.test_plan_screen import Open, body, lids, settled, with_plan

__all__ = ["lids"]
ASKED = ("f2", "f3", "f3", "enter")
"""A Saturday and two more pallets, once the screen is open."""


@pytest.fixture(autouse=True)
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """A light plan for each row: what is looked at here is the screen."""
    import floor.planning.whatif as whatif

    real = whatif.make_plan
    monkeypatch.setattr(whatif, "make_plan", lambda ways, *, effort, **given: real(ways, effort=300, **given))
    few = whatif.compute_savings_of_one_more
    monkeypatch.setattr(whatif, "compute_savings_of_one_more", lambda problem, plan, *, effort, **given: few(
        problem, plan, effort=100, **given))  # fmt: skip


def rows(app: FloorApp) -> list[str]:
    return body(app, "#table").splitlines()


async def test_two_pallets_and_a_saturday_take_six_keys_from_what_is_next(
    open_app: Open, shop: Shop, lids: str, clock: ManualClock
) -> None:
    clock.forward(3 * 24 * 3600)
    app = open_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await with_plan(pilot)
        before = shop.batch(lids).seq
        assert isinstance(app.screen, NextScreen)

        await pilot.press("g", "z", *ASKED)
        await settled(pilot)

        assert isinstance(app.screen, WhatIfScreen)
        assert app.screen.asked_in.value == "saturday, 2 more Pallets"
        table = rows(app)
        assert [line[:20].strip() for line in table[:6]] == [
            "change", "Today", "Sat 07 Mar", "07:00–15:30", "2 more Pallets", "All together"]  # fmt: skip
        assert "due Fri 06 Mar" in table[0]
        assert "d late" in table[1]
        assert "sooner" in table[5]
        assert all(line.split()[-1] for line in table[1:6]), "what limits each"
        assert shop.batch(lids).seq == before
        assert all(len(line) <= 78 for line in table)

        await pilot.press("escape")
        assert isinstance(app.screen, PlanScreen)
        await pilot.press("z")
        assert rows(app)[:6] == table[:6], "what was asked last stands there again"


async def test_words_without_meaning_are_named_below_the_field_and_typed_again(open_app: Open, lids: str) -> None:
    app = open_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await with_plan(pilot)
        await pilot.press("g", "z", "enter")
        assert body(app, "#wrong").startswith("✕ nothing is asked yet.")
        assert "2 more pallets" in body(app, "#table"), "what can be asked"

        await pilot.press(*"3 more palets", "enter")
        assert body(app, "#wrong") == (
            '✕ "3 more palets": there is no "palets" here. Did you mean Pallet? '
            "There are: person, Pallet, Tote, Router, Bench."
        )
        await pilot.press("backspace")
        assert body(app, "#wrong") == ""

        await pilot.press("ctrl+u", *"end 2 h later", "enter")
        await settled(pilot)
        assert body(app, "#wrong") == ""
        assert [line[:20].strip() for line in rows(app)[1:3]] == ["Today", "Shifts end 2 h later"]
        assert not rows(app)[3], "one change is all together"


async def test_a_row_that_cannot_be_planned_says_why(open_app: Open, lids: str) -> None:
    app = open_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await with_plan(pilot)
        await pilot.press("g", "z", *"1 person less", "enter")
        await settled(pilot)
        text = body(app, "#table")
        assert "cannot be planned" in text
        assert "✕ operation " in text
        assert "Have 1 at work" in text


async def test_a_row_that_the_program_fails_at_is_reported_and_the_others_stand(
    open_app: Open, lids: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    import floor.planning.whatif as whatif

    real = whatif.make_plan

    def failing(ways: Any, **given: Any) -> object:
        if ways[0].problem.carriers["Pallet"] > 2:
            raise ZeroDivisionError("a fault\nin two lines")
        return real(ways, **given)

    monkeypatch.setattr(whatif, "make_plan", failing)
    app = open_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await with_plan(pilot)
        await pilot.press("g", "z", *"1 more pallet, end 1 h later", "enter")
        await settled(pilot)
        text = body(app, "#table")
        assert text.count("✕ Floor failed to work this out: ZeroDivisionError, a fault in two lines") == 2
        assert [line[:20].strip() for line in rows(app) if line.startswith(("Today", "Shifts"))] == [
            "Today", "Shifts end 1 h later"]  # fmt: skip

        await pilot.press("escape")
        assert isinstance(app.screen, PlanScreen)


async def test_a_fault_in_what_limits_the_rows_or_in_the_question_leaves_the_program_up(
    open_app: Open, lids: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    import floor.planning.whatif as whatif

    def failing(*given: Any, **named: Any) -> object:
        raise ZeroDivisionError("a fault")

    monkeypatch.setattr(whatif, "compute_savings_of_one_more", failing)
    app = open_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await with_plan(pilot)
        monkeypatch.setattr(PlanScreen, "_keep_saved", lambda *_: None)
        await pilot.press("g", "z", *"end 1 h later", "enter")
        await settled(pilot)
        assert "Floor failed to work this out: ZeroDivisionError, a fault" in str(app.screen.reply.content)  # type: ignore[attr-defined]
        assert [line[:20].strip() for line in rows(app)[1:3]] == ["Today", "Shifts end 1 h later"]

        monkeypatch.setattr(whatif, "build_trials", failing)
        await pilot.press("enter")
        await settled(pilot)
        assert body(app, "#wrong") == "✕ Floor failed to work this out: ZeroDivisionError, a fault"


async def test_without_a_plan_there_is_nothing_to_compare_with(open_app: Open, lids: str) -> None:
    app = open_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("g", "z")
        assert isinstance(app.screen, PlanScreen)
        assert "There is no plan to compare with yet" in str(app.screen.reply.content)


async def test_a_new_question_puts_an_end_to_the_one_before(
    open_app: Open, lids: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    app = open_app()
    stopped: list[bool] = []
    real = screens.run_in_thread

    async def listen(work: Any, *given: Any, should_stop: Callable[[], bool], **named: Any) -> object:
        if not stopped:
            screen = app.screen
            assert isinstance(screen, WhatIfScreen)
            stopped.append(should_stop())
            screen.turn += 1
            stopped.append(should_stop())
            screen.turn -= 1
        return await real(work, *given, should_stop=should_stop, **named)

    monkeypatch.setattr(screens, "run_in_thread", listen)
    async with app.run_test(size=(80, 24)) as pilot:
        await with_plan(pilot)
        await pilot.press("g", "z", "f2", "enter")
        await settled(pilot)
        assert stopped == [False, True]


async def test_a_newer_plan_is_announced_and_enter_computes_again(
    open_app: Open, lids: str, clock: ManualClock
) -> None:
    app = open_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await with_plan(pilot)
        await pilot.press("g", "z", "f2", "enter")
        await settled(pilot)
        assert "newer plan" not in body(app, "#table")

        clock.forward(600)
        await with_plan(pilot)
        assert "There is a newer plan. Enter: work it out again." in body(app, "#table")
        await pilot.press("enter")
        await settled(pilot)
        assert "newer plan" not in body(app, "#table")


async def test_a_better_plan_for_today_is_reported_and_credited_to_no_change(
    open_app: Open, lids: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    import floor.planning.whatif as what_if

    real = what_if.simulate_finishes

    def of_its_own(problem: SchedulingProblem, plan: Plan, **named: Any) -> FinishBands:
        found = real(problem, plan, **named)
        if plan.end != end:
            return found
        return replace(found, batches={id: replace(band, middle=end) for id, band in found.batches.items()})

    monkeypatch.setattr(what_if, "simulate_finishes", of_its_own)
    app = open_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await with_plan(pilot)
        made = app.session.planner.shop_plan
        assert made is not None
        end = made.plan.end + timedelta(days=2)
        poor = replace(made, plan=replace(made.plan, end=end, finish=dict.fromkeys(made.plan.finish, end)))
        app.session.planner.shop_plan = poor
        await pilot.press("g", "z", *"1 more tote", "enter")
        await settled(pilot)
        assert "Today was planned again here, and better than the plan shown." in body(app, "#table")
        assert "the same" in rows(app)[2]


async def test_many_rows_are_scrolled(open_app: Open, lids: str) -> None:
    app = open_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await with_plan(pilot)
        await pilot.press("g", "z", *", ".join(["1 person less"] * 2), "enter")
        await settled(pilot)
        screen = app.screen
        answer = screen.query_one("#answer")
        assert screen.query_one("#table", Static).size.height > answer.size.height
        await pilot.press("pagedown")
        assert answer.scroll_y > 0
        await pilot.press("pageup")
        assert answer.scroll_y == 0


def test_picture_of_a_what_if(picture: Picture, open_app: Open, lids: str, clock: ManualClock) -> None:
    """A late order: each change in a row of its own with its date, all together below, and what limits each."""
    clock.forward(3 * 24 * 3600)

    async def shown(pilot: Pilot[None]) -> None:
        await with_plan(pilot)
        await pilot.press("g", "z", *ASKED)
        await settled(pilot)

    picture(open_app(), run_before=shown)


def test_picture_of_what_can_be_asked(picture: Picture, open_app: Open, lids: str) -> None:
    """The keys that put the likely changes in, and below all that can be written."""

    async def shown(pilot: Pilot[None]) -> None:
        await with_plan(pilot)
        await pilot.press("g", "z")
        await settled(pilot)

    picture(open_app(), run_before=shown)
