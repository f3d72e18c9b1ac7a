"""Handing over a half-done batch by the documented keys; asserted on the record and on what is seen."""

from __future__ import annotations

import re
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from typing import Any

import pytest
from textual.pilot import Pilot
from textual.widgets import Input

from floor.app import FloorApp
from floor.batch.command import Refused
from floor.batch.corrections.commands import Note
from floor.batch.handover.commands import (
    CountSubjectPieces,
    OfferHandover,
    ReadBackLine,
    ReadHandoverPage,
    ResolveDifference,
    WithdrawHandover,
)
from floor.batch.handover.page import find_blind_subjects, list_count_subjects, list_safety_lines
from floor.batch.lifecycle.commands import OpenBatch
from floor.batch.walk.commands import BeginRun
from floor.screens.batch.set_aside import choose_set_aside
from floor.screens.forms.dialogs import ChoiceDialog, ConfirmDialog, FormDialog
from floor.screens.frame.sign_in import SignInDialog
from floor.screens.handover.decisions import list_decisions
from floor.screens.handover.rows import draw_acceptance
from floor.screens.handover.screen import HandoverScreen
from floor.shop import Shop
from floor.shop.simulation import ManualClock, SimulatedOperator
from tests.batch.factory import thermal_break
from tests.papers.half_done import work_to_half
from tests.screens.conftest import Picture
from tests.screens.keys import fill, words
from tests.screens.operator import Operator
from tests.screens.seen import seen

Open = Callable[..., FloorApp]
FIGURES = re.compile(r"\b\d+ (pieces?|good|on loads|hold|finished)\b|recorded \d")


@pytest.fixture
def half(shop: Shop, batch: str, clock: ManualClock) -> str:
    """The batch half done by AA; LL opened it and is responsible."""
    work_to_half(
        SimulatedOperator(shop, batch, "AA", clock, second="BB"),
        SimulatedOperator(shop, batch, "LL", clock, second="BB"),
    )
    return batch


def offered(shop: Shop, batch: str, unattended: bool = False) -> None:
    shop.do(batch, OfferHandover("Pallet 3 first", unattended, "all off" if unattended else ""), "LL")


def five_pallets(shop: Shop, clock: ManualClock) -> str:
    """A batch with five pallets of sixteen, offered by LL: one cures, two have to be poured, one is being cut."""
    start = OpenBatch(shop.find_next_id(), thermal_break(), "-", "thermal-break-plate.toml", 64, 80)
    batch = shop.open_batch(start, "LL").id
    hand = SimulatedOperator(shop, batch, "AA", clock, second="BB")
    loads = [hand.form(10) for _ in range(5)]
    for load in (*loads[:3], loads[0]):
        hand.work(load)
    hand.work(loads[3], stop=lambda line: line.kind == "end")
    shop.do(batch, OfferHandover("Pallet 3 first"), "LL")
    return batch


def taken_to(shop: Shop, batch: str, clock: ManualClock, by: str = "BB", off: str = "") -> None:
    """Read the page, count everything (one place wrong if named), read every safety line back, without the keys."""
    shop.do(batch, ReadHandoverPage(), by)
    for subject in list_count_subjects(shop.batch(batch)):
        shop.do(batch, CountSubjectPieces(subject.key, subject.expected - (subject.key == off)), by)
    for line in list_safety_lines(shop.batch(batch), clock()):
        shop.do(batch, ReadBackLine(line.key), by)


async def at(pilot: Pilot[Any], batch: str) -> HandoverScreen:
    screen = HandoverScreen(pilot.app.session, batch)  # type: ignore[attr-defined]
    pilot.app.push_screen(screen)
    await pilot.pause()
    await pilot.pause()
    return screen


async def read_through(pilot: Pilot[Any]) -> None:
    screen = pilot.app.screen
    assert isinstance(screen, HandoverScreen)
    assert screen.stage == "read"
    while screen.page_box.scroll_offset.y < screen.page_box.max_scroll_y:
        await pilot.press("pagedown")


@asynccontextmanager
async def taking_over(
    open_app: Open, shop: Shop, batch: str, who: str = "BB"
) -> AsyncIterator[tuple[FloorApp, Pilot[Any], HandoverScreen]]:
    """At the handover LL offered, with the page paged to its end."""
    offered(shop, batch)
    app = open_app(who)
    async with app.run_test(size=(80, 24)) as pilot:
        screen = await at(pilot, batch)
        await read_through(pilot)
        yield app, pilot, screen


def field(app: FloorApp, name: str) -> str:
    return app.screen.query_one(f"#field-{name}", Input).value


def kinds(shop: Shop, batch: str, last: int) -> list[str]:
    return [entry.kind for entry in shop.batch(batch).entries[-last:]]


# --- the outgoing person -------------------------------------------------------------------------------------------


async def test_the_outgoing_person_signs_the_page_with_remarks(open_app: Open, shop: Shop, half: str) -> None:
    """HSE: higher-risk handovers are identified; here that asks for the long form. HND-03: nothing has passed yet."""
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        await at(pilot, half)
        assert "Extra care: a gate is waived" in seen(app)
        await pilot.press("enter")
        assert isinstance(app.screen, FormDialog)
        assert "Already on the page: Coolant low since noon" in seen(app)
        await fill(pilot, "odd", "oiled", "load3")

        handover = shop.batch(half).handover
        assert handover is not None
        assert handover.remarks == "Abnormal: odd. Action taken: oiled. Do first: load3"
        assert shop.batch(half).responsible == "LL"
        assert "LL is responsible until someone signs for it" in seen(app)


async def test_who_may_not_offer_is_told_before_typing(open_app: Open, shop: Shop, half: str) -> None:
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await at(pilot, half)
        await pilot.press("enter")
        assert not isinstance(app.screen, FormDialog)
        assert "LL is responsible for the batch" in words(app)


async def test_words_typed_by_one_person_are_not_offered_in_the_name_of_another(
    open_app: Open, shop: Shop, half: str
) -> None:
    shop.add_person("CC", "Cam Castle", True, by="LL")
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        await at(pilot, half)
        await pilot.press("d", "1")
        await fill(pilot, "odd", "oiled", "", "")
        assert shop.batch(half).handover is None
        await pilot.press("escape", "d", "1")
        assert field(app, "unusual") == "odd", "the same person's are kept"
        await pilot.press("escape")
        app.session.sign_in("CC")
        await pilot.press("d", "1")
        assert field(app, "unusual") == ""


async def test_a_refused_offer_keeps_what_was_typed(open_app: Open, shop: Shop, half: str) -> None:
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        await at(pilot, half)
        await pilot.press("d", "1", "enter", "enter", "enter", "f2", "enter")
        assert shop.batch(half).handover is None
        assert "needs remarks" in words(app)
        assert app.focused is app.screen.query_one("#field-unusual"), "the form stays, at the field that is refused"
        await fill(pilot, "x is odd")
        await pilot.press("enter", "enter")
        assert field(app, "safe") == "machines off, air and heat shut"
        await pilot.press("enter")

        handover = shop.batch(half).handover
        assert handover is not None
        assert handover.unattended
        assert handover.remarks.endswith("Left: machines off, air and heat shut")


@pytest.fixture
def running(shop: Shop, batch: str, clock: ManualClock) -> str:
    """A pallet is being cut, nothing is out of the ordinary, and BB has worked on it today."""
    hand = SimulatedOperator(shop, batch, "AA", clock, second="BB")
    load = hand.form(10)
    hand.work(load, stop=lambda line: line.kind == "end")
    shop.do(batch, Note("chips are clear", run=hand.run(load).number), "BB")
    return batch


async def test_a_relief_for_a_break_is_read_and_read_back_and_signed_without_counts(
    open_app: Open, shop: Shop, running: str
) -> None:
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        await at(pilot, running)
        await pilot.press("d", "2")
        await fill(pilot, "")
        assert shop.batch(running).entries[-1].body["relief"] == "break"
        app.session.sign_in("BB")
        app.screen.update_all()  # type: ignore[attr-defined]
        await pilot.pause()
        await read_through(pilot)
        await pilot.press("enter", "1", "y")
        assert shop.batch(running).responsible == "BB"
    assert kinds(shop, running, 4) == ["handover_offered", "page_read", "read_back", "handover_accepted"]


async def test_a_relief_for_injury_is_written_in_full_and_talked_through_with_a_lead(
    open_app: Open, shop: Shop, running: str, clock: ManualClock
) -> None:
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        await at(pilot, running)
        await pilot.press("d", "3")
        await fill(pilot, "cut finger", "", "")
        assert shop.batch(running).handover is None, "each part is needed"
        assert isinstance(app.screen, FormDialog)
        await fill(pilot, "bandaged", "end the cycle")
        assert shop.batch(running).handover is not None
        taken_to(shop, running, clock)
        app.session.sign_in("BB")
        app.screen.update_all()  # type: ignore[attr-defined]
        await pilot.pause()
        assert "Extra care: a relief for injury or illness" in seen(app)
        await pilot.press("y")
        assert "Talk it through before you sign" in words(app)
        await fill(pilot, "bb", "")
        assert shop.batch(running).responsible == "LL", "nobody talks to themselves"
        await pilot.press("ctrl+u")
        await fill(pilot, "ll", "")
        assert shop.batch(running).responsible == "BB"
        assert shop.batch(running).entries[-1].body["supervisor"] == "LL"


async def test_after_a_long_shift_each_part_of_the_remarks_is_needed(
    open_app: Open, shop: Shop, running: str, clock: ManualClock
) -> None:
    shop.long_shift_hours = 10
    for _ in range(2):
        clock.forward(5 * 3600)
        shop.do(running, Note("still here"), "LL")
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        await at(pilot, running)
        assert "whoever hands over has worked a long shift" in " ".join(seen(app).split())
        await pilot.press("enter")
        await fill(pilot, "none", "", "end the cycle")
        assert shop.batch(running).handover is None
        await fill(pilot, "none", "")
        assert shop.batch(running).handover is not None


async def test_what_the_shop_asks_has_a_field_each_and_none_stays_empty(
    open_app: Open, shop: Shop, half: str, clock: ManualClock
) -> None:
    """HND-15. Two questions cost two answers and no key besides; the taker reads them on the page."""
    shop.handover_questions = ("Chip bin?", "Gauges put away?")
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        await at(pilot, half)
        await pilot.press("enter")
        assert "Gauges put away?" in seen(app)
        await fill(pilot, "odd", "oiled", "load3", "emptied", "")
        assert shop.batch(half).handover is None
        assert "Gauges put away?: may not stay empty" in seen(app)
        await fill(pilot, "one in use")
        assert shop.batch(half).handover is not None
        app.session.sign_in("BB")
        app.screen.update_all()  # type: ignore[attr-defined]
        await read_through(pilot)
        assert "Gauges put away? one in use" in words(app)


async def test_escape_offers_nothing(open_app: Open, shop: Shop, half: str) -> None:
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        screen = await at(pilot, half)
        await pilot.press("enter", "x", "escape", "d", "escape")

        assert shop.batch(half).handover is None
        assert app.screen is screen


async def test_who_offered_withdraws_after_a_yes_only(open_app: Open, shop: Shop, half: str) -> None:
    offered(shop, half)
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        await at(pilot, half)
        for no in ("n", "escape", "enter"):
            await pilot.press("d")
            assert isinstance(app.screen, ConfirmDialog)
            await pilot.press(no)
            assert shop.batch(half).handover is not None
            if no != "escape":
                await pilot.press("escape")
        await pilot.press("d", "y", "y")

        assert shop.batch(half).handover is None
        assert kinds(shop, half, 2) == ["handover_offered", "handover_withdrawn"], "once, though pressed twice"


async def test_a_note_for_the_next_shift_is_on_the_page_at_once(open_app: Open, shop: Shop, half: str) -> None:
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        await at(pilot, half)
        await pilot.press("n")
        await fill(pilot, "[/] hot", "", "")
        await pilot.press("pagedown", "pagedown", "pagedown")

        assert shop.batch(half).entries[-1].body["next_shift"]
        assert "for the next shift: [/] hot" in seen(app)


async def test_work_put_off_stays_on_the_page_with_its_owner_and_time_until_it_is_marked_done(
    open_app: Open, shop: Shop, half: str
) -> None:
    app = open_app("LL")
    async with app.run_test(size=(80, 50)) as pilot:
        screen = await at(pilot, half)
        assert "done" not in list_decisions(screen, screen.stage, {})
        await pilot.press("n")
        await fill(pilot, "swap the coolant", "bb", "25 o'clock")
        assert "25 o'clock is not a time the clock shows" in words(app)
        assert isinstance(app.screen, FormDialog)
        list(app.screen.query(Input))[-1].value = "23:30"
        await pilot.press("enter")
        assert "On the page until it is marked done (d)" in words(app)
        assert "swap the coolant; BB; by 23:30 (noted by LL)" in words(app)
        await pilot.press("d", "6")
        await fill(pilot, "done at noon")
        assert "Done, and off the page" in words(app)
        assert "swap the coolant" not in words(app)
        assert kinds(shop, half, 2) == ["noted", "note_done"]


# --- the incoming person -------------------------------------------------------------------------------------------


async def test_a_page_longer_than_the_screen_is_paged_through_before_it_is_read(
    open_app: Open, shop: Shop, half: str
) -> None:
    """By the person taking over, and once: on the way back up it stays read."""
    async with taking_over(open_app, shop, half) as (app, pilot, screen):
        await pilot.press(*["pageup"] * 3)
        app.session.who = "AA"
        before = screen.page_box.scroll_offset.y
        await pilot.press("down", "enter")
        assert screen.stage == "read", "before the end Enter turns the page"
        assert screen.page_box.scroll_offset.y > before + 1
        assert "page_read" not in kinds(shop, half, 2)

        await read_through(pilot)
        await pilot.press("pageup", "enter")
        assert screen.stage == "count"


async def test_a_page_that_changed_before_it_is_signed_is_read_to_its_end_again(
    open_app: Open, shop: Shop, half: str, clock: ManualClock
) -> None:
    offered(shop, half)
    taken_to(shop, half, clock)
    app = open_app("BB")
    async with app.run_test(size=(80, 24)) as pilot:
        screen = await at(pilot, half)
        assert screen.stage == "accept"
        shop.do(half, Note("the belt squeals", next_shift=True), "LL")
        await pilot.press("enter", "y")
        assert shop.batch(half).responsible == "LL"
        assert screen.stage == "read"
        assert "The page has changed since you read it (LL). Enter: next page, to the end" in seen(app)
        await pilot.press("enter")
        assert screen.stage == "read"
        await read_through(pilot)
        await pilot.press("enter")
        assert screen.stage == "accept"
        await pilot.press("y")
    assert shop.batch(half).responsible == "BB"


async def test_the_whole_turnover_by_keys(open_app: Open, shop: Shop, half: str, clock: ManualClock) -> None:
    """Read, count, read back, ask, accept, in that order (DOE-STD-1038-93, 4); a wrong count opens an item."""
    async with taking_over(open_app, shop, half) as (app, pilot, screen):
        await pilot.press("enter")
        assert screen.stage == "count"
        await pilot.press("4", "enter")
        assert "Pallet 1 (load 1) with what is set aside: 4, agrees" in seen(app)
        await pilot.press("3", "enter")
        assert "Pallet 2 (load 2): counts do not match" in seen(app)
        await pilot.press("2", "enter")
        assert screen.stage == "count", "nothing goes on without a key"
        assert "A count does not match: type it again, Enter" in seen(app)
        await pilot.press("enter")
        assert "load 2: counts do not match, recount (BB)" in seen(app)
        await pilot.press("3", "enter", "enter")
        assert "load 2: counted 3, recorded 4 (BB)" in seen(app)
        assert screen.stage == "count", "nobody takes over what is disputed"
        await pilot.press("4", "enter")
        assert screen.stage == "read back", "all agree: nothing holds it up"

        lines = [
            line.text for line in list_safety_lines(shop.batch(half), clock(), find_blind_subjects(shop.batch(half)))
        ]
        await pilot.press("1")
        while screen.stage == "read back":
            before = len(shop.batch(half).entries)
            wrong = "9" if len(lines) < 9 else "0"
            await pilot.press(wrong, "enter", str(len(shop.batch(half).handover.read_back) + 1))  # type: ignore[union-attr]
            assert len(shop.batch(half).entries) == before + 1, "one line for one key; no other key reads back"

        assert screen.stage == "accept"
        assert "n: ask a question" in seen(app)
        await pilot.press("n")
        await fill(pilot, "ok?")
        assert "not answered, it stays open" in seen(app)
        await pilot.press("d", "5")
        await fill(pilot, "yes")
        await pilot.press("enter", "n", "escape", "enter")
        assert shop.batch(half).responsible == "LL", "no acceptance, no transfer"
        assert "BB takes B0001 over from LL and is responsible from now on." in seen(app)
        assert "Did you talk it over with LL, face to face?" in seen(app)
        await pilot.press("y", "y")

    state = shop.batch(half)
    assert (state.responsible, state.handover, state.shift) == ("BB", None, 1)
    assert state.list_open_differences() == []
    assert state.entries[-1].body["talked"] == "face to face"
    assert [entry.kind for entry in state.entries].count("handover_accepted") == 1
    read_back = [entry.body["text"] for entry in state.entries if entry.kind == "read_back"]
    assert sorted(read_back) == sorted(lines), "each once, at its load's count or by its own key"
    assert next(iter(state.questions.values())).answer == "yes · BB"


async def test_who_did_not_talk_face_to_face_says_how_or_why_not(
    open_app: Open, shop: Shop, half: str, clock: ManualClock
) -> None:
    """HSE: face to face where possible. A no takes a reason and counts as a risk."""
    offered(shop, half)
    taken_to(shop, half, clock)
    app = open_app("BB")
    async with app.run_test(size=(80, 24)) as pilot:
        screen = await at(pilot, half)
        assert screen.stage == "accept"
        await pilot.press("d")
        assert isinstance(app.screen, ChoiceDialog)
        await pilot.press("enter")
        assert isinstance(app.screen, ChoiceDialog), "Enter alone signs nothing"
        await pilot.press("2", "enter")
        assert isinstance(app.screen, FormDialog), "not without a reason"
        await pilot.press("f2", "enter")
        assert "BB is now responsible (from LL)" in words(app)
    signed = shop.batch(half).entries[-1].body
    assert (signed["talked"], signed["why"]) == ("none", "they had left already")
    assert "whoever hands over and whoever takes over have not talked" in signed["risks"]


async def test_a_talk_by_phone_is_on_record_and_no_risk(
    open_app: Open, shop: Shop, half: str, clock: ManualClock
) -> None:
    offered(shop, half)
    taken_to(shop, half, clock)
    app = open_app("BB")
    async with app.run_test(size=(80, 24)) as pilot:
        await at(pilot, half)
        await pilot.press("d", "1")
    signed = shop.batch(half).entries[-1].body
    assert signed["talked"] == "by phone or radio"
    assert not [risk for risk in signed["risks"] if "talked" in risk]


async def test_a_number_with_all_its_digits_goes_on_by_itself_and_enter_records_what_was_typed(
    open_app: Open, shop: Shop, half: str
) -> None:
    """A pallet of four needs one digit; what is typed is in no record before Enter, and may be typed again."""
    async with taking_over(open_app, shop, half) as (app, pilot, screen):
        await pilot.press("enter")
        assert "! Pallet 1: pot life" in seen(app), "the line about it is read aloud where it is counted"
        before = shop.batch(half).seq
        await pilot.press("4", "3")
        assert "4, Enter records it" in seen(app)
        assert "3, Enter records it" in seen(app)
        assert shop.batch(half).seq == before
        assert screen.is_unrecorded
        await pilot.press("up", "4")
        assert screen.counts.typed["load 2"][0] == 4
        await pilot.press("enter")
        assert "2 places counted, all agree with the record" in seen(app)
    state = shop.batch(half)
    handover = state.handover
    assert handover is not None
    assert handover.counted == {"load 1": 4, "load 2": 4}
    assert not state.differences
    assert [line.text for line in list_safety_lines(state, shop.now()) if line.key in handover.read_back] == [
        line.text for line in list_safety_lines(state, shop.now()) if line.load in (1, 2)
    ]


async def test_no_digit_is_lost_or_counted_twice_when_a_slow_line_brings_many_keys_at_once(
    open_app: Open, shop: Shop, clock: ManualClock
) -> None:
    batch = five_pallets(shop, clock)
    app = open_app("BB")
    async with app.run_test(size=(80, 24)) as pilot:
        screen = await at(pilot, batch)
        await pilot.press("enter", "enter")
        hand = Operator(app, clock, "AA")
        for key in (*"1615141312", "enter"):
            hand.send(key)
        await hand.until(lambda: not screen.is_unrecorded and shop.batch(batch).handover.counted, "the counts")  # type: ignore[union-attr]
    counted = shop.batch(batch).handover.counted  # type: ignore[union-attr]
    assert counted == {f"load {n}": 17 - n for n in range(1, 6)}


async def test_typed_counts_are_nobody_elses_and_go_only_when_that_is_meant(
    open_app: Open, shop: Shop, half: str
) -> None:
    async with taking_over(open_app, shop, half) as (app, pilot, screen):
        await pilot.press("enter", "4", "escape", "escape")
        assert isinstance(app.screen, ConfirmDialog)
        await pilot.press("escape")
        assert app.screen is screen
        assert screen.counts.typed["load 1"][0] == 4
        shop.do(half, ReadHandoverPage(), "AA")
        app.session.who = "AA"
        app.update_screens()
        await pilot.press("enter", "enter")
        assert shop.batch(half).handover.counted == {}  # type: ignore[union-attr]
        await pilot.press("4", "escape", "escape", "y")
        assert app.screen is not screen


async def test_five_loads_are_taken_over_in_fourteen_keys(open_app: Open, shop: Shop, clock: ManualClock) -> None:
    """Every digit of every count included: five pallets of sixteen, four of them with a line to be read back."""
    batch = five_pallets(shop, clock)
    app = open_app("BB")
    async with app.run_test(size=(80, 24)) as pilot:
        await at(pilot, batch)
        pressed = ["enter", "enter", *"16" * 5, "enter", "y"]
        await pilot.press(*pressed)
    state = shop.batch(batch)
    assert len(pressed) < 15
    assert state.responsible == "BB"
    made = [entry.kind for entry in state.entries if entry.by == "BB"]
    assert [made.count(kind) for kind in ("carrier_counted", "read_back", "handover_accepted")] == [5, 4, 1]


@pytest.mark.parametrize("size", [(80, 24), (160, 50)])
async def test_no_recorded_figure_is_seen_before_the_count(
    open_app: Open, shop: Shop, half: str, size: tuple[int, int]
) -> None:
    """HSE: the incoming person cross-checks. Neither page, list, dialog nor sheet gives a figure away."""
    offered(shop, half)
    app = open_app("BB")
    async with app.run_test(size=size) as pilot:
        await at(pilot, half)
        views = [seen(app)]
        for key in ("pagedown", "pagedown", "pagedown", "enter", "escape", "v", "pagedown", "pagedown", "v", "down"):
            await pilot.press(key)
            views.append(seen(app))
        await pilot.press("e")
        views.append(seen(app))
        await pilot.press("enter")
        views += [seen(app), *(paper.read_text() for paper in (shop.folder / "papers").iterdir())]
        await pilot.press("escape")

        assert any("Pallet 2 (load 2): waits for op 30" in view for view in views)
        for view in views:
            assert not FIGURES.search(view), view

        await pilot.press("home", "enter", "9", "enter")
        assert "9, counts do not match, recount" in seen(app)
        assert not FIGURES.search(seen(app).replace("9, the counts", "")), "it is counted again as blindly"
        await pilot.press("down", "9", "enter")
        assert "9, recorded 4: DIFFERS" in seen(app)

        for one in shop.batch(half).list_open_differences():
            shop.do(half, ResolveDifference(one.seq, "counted by two, 4 it is"), "LL")
        await pilot.press("up", "down")
        assert "9, recorded 4: settled" in seen(app)
        assert "DIFFERS" not in seen(app)


async def test_with_nobody_signed_in_nothing_is_given_away_and_signing_in_comes_first(
    open_app: Open, shop: Shop, half: str
) -> None:
    offered(shop, half)
    app = open_app("")
    async with app.run_test(size=(80, 24)) as pilot:
        screen = await at(pilot, half)
        assert not FIGURES.search(seen(app))
        await read_through(pilot)
        await pilot.press("enter")
        assert isinstance(app.screen, SignInDialog)
        await fill(pilot, "bb")

        assert app.screen is screen
        assert screen.stage == "count"


async def test_who_offers_cannot_take_over_and_until_then_holds_the_batch(
    open_app: Open, shop: Shop, half: str, clock: ManualClock
) -> None:
    """HND-03: responsibility passes only when another person accepts by name."""
    offered(shop, half)
    taken_to(shop, half, clock)
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        screen = await at(pilot, half)
        await pilot.press("enter", "y", "1")

        assert screen.stage == "offered"
        assert app.screen is screen
    assert shop.batch(half).responsible == "LL"
    with pytest.raises(Refused, match="LL has offered"):
        shop.do(half, BeginRun(2), "BB")


async def test_after_a_night_alone_the_same_person_counts_and_takes_it(
    open_app: Open, shop: Shop, half: str, clock: ManualClock
) -> None:
    """Leaving a job unattended is a handover too (DOE-STD-1038-93, unstaffed positions)."""
    offered(shop, half, unattended=True)
    clock.forward(10 * 3600)
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        screen = await at(pilot, half)
        assert screen.stage == "read"
        assert not FIGURES.search(seen(app))
        assert "Left unattended Mon 20:26." in seen(app)
        taken_to(shop, half, clock, "LL")
        await pilot.press("enter", "enter", "y")

    assert shop.batch(half).handover is None
    assert shop.batch(half).shift == 1


async def test_a_place_is_counted_again_and_an_empty_field_records_nothing(
    open_app: Open, shop: Shop, half: str
) -> None:
    async with taking_over(open_app, shop, half) as (app, pilot, _):
        await pilot.press("enter")
        before = len(shop.batch(half).entries)
        await pilot.press("enter", "x", "enter")
        assert len(shop.batch(half).entries) == before
        assert "type the number you counted" in seen(app)
        await pilot.press("1", "enter", "up", "4", "enter")

        state = shop.batch(half)
        assert state.handover is not None
        assert state.handover.counted == {"load 1": 4}
        assert not state.list_open_differences()


async def test_after_the_last_count_one_can_go_back_and_count_again(open_app: Open, shop: Shop, half: str) -> None:
    """A slip of the finger in the last count needs no lead: it is counted again, from read back and accept too."""
    offered(shop, half)
    shop.do(half, ReadHandoverPage(), "BB")
    left = list_count_subjects(shop.batch(half))
    for subject in left[:-1]:
        shop.do(half, CountSubjectPieces(subject.key, subject.expected), "BB")
    app = open_app("BB")
    async with app.run_test(size=(80, 24)) as pilot:
        screen = await at(pilot, half)
        await pilot.press(str(left[-1].expected + 1), "enter")
        assert screen.stage == "count"
        assert [one.subject for one in shop.batch(half).list_open_differences()] == [left[-1].key]
        assert screen.chosen() == left[-1], "the cursor stands at what was counted last"
        await pilot.press(str(left[-1].expected), "enter")
        assert not shop.batch(half).list_open_differences()

        await pilot.press("enter")
        assert screen.stage == "read back"
        await pilot.press("up")
        assert screen.stage == "count"
        await pilot.press("up", str(left[-2].expected), "enter", "enter")
        assert screen.stage == "read back"
        handover = shop.batch(half).handover
        assert handover is not None
        assert handover.counted == {subject.key: subject.expected for subject in left}


async def test_only_a_lead_settles_a_difference(open_app: Open, shop: Shop, half: str, clock: ManualClock) -> None:
    offered(shop, half)
    taken_to(shop, half, clock, off="load 2")
    app = open_app("BB")
    async with app.run_test(size=(80, 24)) as pilot:
        await at(pilot, half)
        await pilot.press("escape", "d")
        assert isinstance(app.screen, ChoiceDialog)
        await pilot.press("1", "f2", "enter")
        assert "needs a lead" in seen(app)
        assert shop.batch(half).list_open_differences()
        app.session.who = "LL"
        app.update_screens()
        await pilot.press("d", "escape", "d", "4", "escape", "d", "4", "1", "escape")
        assert shop.batch(half).list_open_differences()
        await pilot.press("d", "4", "1", "f2", "enter")

    resolved = next(iter(shop.batch(half).differences.values())).resolved
    assert resolved == "recounted together: the record is right · LL"
    rows = [row.plain for row in draw_acceptance(shop.batch(half), "BB", 78)]
    assert rows[:2] == ["✓ 3 places counted, 1 of them settled", "! Pallet 2 (load 2): 3 counted, 4 recorded; settled"]
    assert rows[-1] == "y: yes, accept and sign   d: by phone, or not at all   n: ask a question"


async def test_setting_pieces_aside_names_no_figure_that_is_still_to_be_counted(
    open_app: Open, shop: Shop, half: str
) -> None:
    """HND-20: neither how many are on a load, nor which of them sit there set aside."""
    said = []
    for offers in (True, False):
        if offers:
            offered(shop, half)
        else:
            shop.do(half, WithdrawHandover(), "LL")
        app = open_app("BB")
        async with app.run_test(size=(80, 24)) as pilot:
            choose_set_aside(app.screen, half, 1)  # type: ignore[arg-type]
            await pilot.pause()
            said.append(words(app))
    blind, open_ = said
    assert "? pieces · Pallet 1" in blind
    assert not FIGURES.search(blind)
    assert "still on the carrier" not in blind
    assert "2 pieces · Pallet 1 · " in open_
    assert "still on the carrier" in open_


async def test_on_a_small_screen_no_line_is_cut(open_app: Open, shop: Shop, half: str) -> None:
    """The time of the offer, the place whose count does not match and the last key are read there too."""
    offered(shop, half)
    shop.do(half, ReadHandoverPage(), "BB")
    first = list_count_subjects(shop.batch(half))[0]
    shop.do(half, CountSubjectPieces(first.key, first.expected + 1), "BB")
    app = open_app("BB")
    async with app.run_test(size=(160, 50)) as pilot:
        await at(pilot, half)
        await pilot.resize_terminal(60, 20)
        for _ in range(3):
            await pilot.pause()
        text = " ".join(seen(app).split())
        assert "someone signs for it. Offered 20:26." in text
        assert f"✕ {first.title} {first.expected + 1}, counts do not match, recount" in text
        assert "another place Esc: leave the field" in text
        assert "has not worked on this batch yet." in text


# --- pictures ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("who", ["LL", "BB"])
def test_picture_of_the_page(picture: Picture, open_app: Open, shop: Shop, half: str, who: str) -> None:
    """The page: with figures for who holds the batch, without for who takes over; the risk on top."""
    offered(shop, half)

    async def go(pilot: Pilot[Any]) -> None:
        await at(pilot, half)

    picture(open_app(who), run_before=go)


def test_picture_of_counting(picture: Picture, open_app: Open, shop: Shop, half: str) -> None:
    """One place agrees, one differs, the next is asked for; at 160 columns the page stands beside it."""
    offered(shop, half)

    async def go(pilot: Pilot[Any]) -> None:
        await at(pilot, half)
        await read_through(pilot)
        await pilot.press("enter", "2", "enter", "3", "enter")

    picture(open_app("BB"), run_before=go)


def test_picture_of_reading_back(picture: Picture, open_app: Open, shop: Shop, half: str, clock: ManualClock) -> None:
    """Safety lines numbered, two read back, the third marked as the next."""
    offered(shop, half)
    shop.do(half, ReadHandoverPage(), "BB")
    for subject in list_count_subjects(shop.batch(half)):
        shop.do(half, CountSubjectPieces(subject.key, subject.expected), "BB")

    async def go(pilot: Pilot[Any]) -> None:
        await at(pilot, half)
        await pilot.press("1", "2")

    picture(open_app("BB"), run_before=go)


async def test_that_the_page_was_read_is_on_record_and_outlasts_a_kill(open_app: Open, shop: Shop, half: str) -> None:
    """HND-06: read, count, talk, accept. Another terminal and the next start know that BB has read."""
    async with taking_over(open_app, shop, half) as (app, pilot, screen):
        await pilot.press("enter")
        assert screen.stage == "count"
        last = shop.batch(half).entries[-1]
        assert (last.kind, last.by) == ("page_read", "BB")
    again = open_app("BB")
    async with again.run_test(size=(80, 24)) as pilot:
        assert (await at(pilot, half)).stage == "count"
        again.session.who = "AA"
        assert again.screen.stage == "read", "who has not read it reads it first"


async def test_totals_and_walks_tell_no_figure_before_the_count(
    open_app: Open, shop: Shop, batch: str, clock: ManualClock
) -> None:
    """HND-16: neither the line of totals, nor the line of a walk that counts its load, here and from afar."""
    hand = SimulatedOperator(shop, batch, "AA", clock, second="BB")
    load = hand.form(10)
    assert not hand.work(load, stop=lambda line: line.kind == "count")
    shop.do(batch, OfferHandover("as usual"), "LL")
    app = open_app("BB")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("b")
        assert "? in process" in seen(app)
        assert "? still usable" in seen(app)
        app.go_walk(batch, hand.run(load).number)
        await pilot.pause()
        assert "Count pieces" in seen(app)
        assert not FIGURES.search(seen(app))
        await pilot.press("f")
        assert not FIGURES.search(seen(app))
        assert "Count pieces" in seen(app)
        await pilot.press("escape")
        for subject in list_count_subjects(shop.batch(batch)):
            shop.do(batch, CountSubjectPieces(subject.key, subject.expected), "BB")
        app.screen.update_all()  # type: ignore[attr-defined]
        assert "Count pieces (4 in)" in seen(app)
        await pilot.press("b")
        assert "10 in process" in seen(app)
        assert "10 still usable" in seen(app)
