"""The walk on screen: the place is kept, entries are checked at their field, whatever voids a proof says so."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from textual.pilot import Pilot
from textual.widgets import Input, Static

from floor.app import FloorApp
from floor.batch.corrections.commands import Note
from floor.batch.counting.commands import MarkedPieces
from floor.batch.gates.commands import Prove, Waive
from floor.batch.lifecycle.commands import OpenBatch
from floor.batch.state import Batch
from floor.batch.stations.commands import Disturb
from floor.batch.walk.clocks import compute_planned_end
from floor.batch.walk.commands import BeginRun
from floor.batch.walk.lines import Line, LineState
from floor.batch.walk.station_walk import build_walk
from floor.checklist.gates import Cured, FirstPiece
from floor.screens.batch.screen import BatchScreen
from floor.screens.forms.dialogs import ChoiceDialog, ConfirmDialog, FormDialog
from floor.screens.frame.too_small import TooSmall
from floor.screens.shop.what_next import NextScreen
from floor.screens.walk.begin_run import BeginScreen
from floor.screens.walk.count_form import CountScreen
from floor.screens.walk.recap_dialog import RecapDialog
from floor.screens.walk.screen import WalkScreen
from floor.screens.walk.step_panel import describe_keys_where_stopped
from floor.shop import Shop
from floor.shop.simulation import ManualClock, SimulatedOperator
from floor.text import count_cells
from tests.batch.factory import decide_out, edited, part
from tests.batch.test_cure_air import curing, read_air
from tests.batch.test_recheck import AFTER
from tests.screens.keys import fill as paste
from tests.screens.keys import words
from tests.screens.operator import Operator, Place, said
from tests.screens.painted import flat, painted

SIZE = (80, 24)


def kinds(batch: Batch) -> list[str]:
    return [entry.kind for entry in batch.entries]


def strip(app: FloorApp) -> str:
    """The fixed line for what is out of the ordinary."""
    return str(app.screen.query_one("#strip", Static).content)


def open_walk(place: Place, run: int, who: str = "AA") -> tuple[FloorApp, Operator]:
    app = FloorApp(place.shop, who=who, ticking=False)
    return app, Operator(app, place.clock, "BB")


@asynccontextmanager
async def on_walk(place: Place, run: int) -> AsyncIterator[tuple[FloorApp, Operator, Pilot[None]]]:
    """The program on the walk of a run, its line ready for keys."""
    app, keys = open_walk(place, run)
    async with app.run_test(size=SIZE) as pilot:
        app.go_walk(place.id, run)
        await keys.line()
        yield app, keys, pilot


# --- the place -----------------------------------------------------------------------------------------------------


async def test_the_place_is_kept_over_quitting_and_found_again_with_one_key(
    place: Place, clock: ManualClock, tmp_path: Path
) -> None:
    """Resuming takes at most two keys from the start of the program to the step (CBP-46 of the guidance followed:
    Dodhia & Dismukes 2009 on interruptions; the number is a design decision)."""
    load = place.load()
    run = place.at(load, "Load and measure tool 2")
    app, keys = open_walk(place, run)
    async with app.run_test(size=SIZE):
        app.go_walk(place.id, run)
        await keys.line()
        await keys.fill({"tool": 2})
        await keys.line()
        await keys.back()
        keys.send("q")
        await keys.until(lambda: not app.is_running, "the end")
    place.shop.close()

    again = FloorApp(Shop(Path("shop"), clock), ticking=False)
    pressed = Operator(again, clock, "BB")
    async with again.run_test(size=SIZE):
        await pressed.until(lambda: isinstance(again.screen, NextScreen) and again.screen.due, "the opening screen")
        await pressed.press("r")
        assert isinstance(again.screen, WalkScreen)
        assert len(pressed.keys) <= 2
        current = again.screen.get_walk().current
        assert current is not None
        assert current.title == "Second look at tools and program"
    again.session.shop.close()


async def test_another_load_in_between_moves_no_place(place: Place) -> None:
    first, other = place.load(), place.load()
    place.through(first, 10)
    run = place.at(first, "Mix lacquer and hardener")
    app, keys = open_walk(place, run)
    async with app.run_test(size=SIZE):
        app.go_walk(place.id, run)
        await keys.line()
        await keys.back()
        screen = app.screen
        assert isinstance(screen, NextScreen)
        screen.table.move_cursor(row=next(n for n, due in enumerate(screen.due) if due.load == other))
        await keys.press("enter")
        await keys.until(lambda: isinstance(app.screen, BeginScreen) and app.screen.is_mounted, "what comes next")
        await keys.press("y")
        await keys.until(lambda: isinstance(app.screen, WalkScreen), "the other walk")
        await keys.press("enter")
        await keys.back()
        app.go_walk(place.id, run)
        line = await keys.line()

        assert line is not None
        assert line.title == "Mix lacquer and hardener"
    assert place.current(other) == "Press each corner: nothing rocks"


async def test_the_lines_before_and_after_the_current_one_are_in_sight(place: Place) -> None:
    """CBP-05 of the guidance followed (NUREG-0700 section 8, from memory): without scrolling, at 80 x 24."""
    load = place.load()
    run = place.at(load, "Clamp the pallet")
    walked = build_walk(place.batch, place.batch.runs[run], place.clock(), "AA").lines
    lines = [line for line in walked if line.kind != "caution"]  # shown with its step
    async with on_walk(place, run) as (app, _, pilot):
        while (line := place.hand.current(load)) is not None and line.key != "start":
            text = await painted(pilot)
            key = line.key.removeprefix("caution ")
            at = [one.key for one in lines].index(key)
            for beside in lines[at - 1 : at + 2]:
                assert flat(beside.title) in text, f"{line.title}: {beside.title} is out of sight"
            place.hand.work(load, stop=lambda one, key=line.key: one.key != key)  # type: ignore[misc]
            app.update_screens()


async def test_looking_ahead_and_back_moves_neither_place_nor_record(place: Place) -> None:
    """CBP-06 of the guidance followed (NUREG-0700 on navigation, from memory): one key returns."""
    run = place.at(place.load(), "Clamp the pallet")
    async with on_walk(place, run) as (app, keys, pilot):
        before = place.batch.seq
        await pilot.press("down", "down", "down")
        assert "View only" in words(app)
        marked = [row for row in words(app).splitlines() if "▶" in row and "NOW" in row]
        assert [row.split("▶")[1].split("  ")[0].strip() for row in marked] == ["Clamp the pallet"]

        await pilot.press("enter")  # looking, it returns and confirms nothing
        assert place.batch.seq == before
        await pilot.press("up", "up", "home")
        assert "View only" not in words(app)
        await pilot.press("enter")
        assert kinds(place.batch)[-1] == "step_done"
        assert place.batch.entries[-1].body["line"] == place.batch.operation(10).numbered_steps[5][0]


# --- the form ------------------------------------------------------------------------------------------------------


async def test_letters_are_no_keys_while_typing_and_escape_leaves_the_field_first(place: Place) -> None:
    """WCAG 2.2 success criterion 2.1.4, character key shortcuts."""
    run = place.at(place.load(), "Record the lot of bar stock")
    app, keys = open_walk(place, run)
    async with app.run_test(size=SIZE):
        app.go_walk(place.id, run)
        await keys.line()
        walk = app.screen
        await keys.type("wsxnpb 7")
        assert isinstance(app.focused, Input)
        assert app.focused.value == "wsxnpb 7"
        assert app.screen is walk

        await keys.press("escape")
        assert app.focused is None
        assert app.screen is walk
        await keys.press("n")
        assert isinstance(app.screen, FormDialog)
        await keys.press("escape")  # the dialog is gone, the field has the focus again: typing goes on
        await keys.line()
        assert app.focused is walk.asks.inputs[0]  # type: ignore[attr-defined]
        await keys.press("escape", "escape")
        assert isinstance(app.screen, NextScreen)
    assert place.current(1) == "Record the lot of bar stock"


async def test_a_value_outside_its_limits_is_recorded_said_at_the_form_and_asked_again(place: Place) -> None:
    """21 CFR 11 and FDA findings on overwritten readings: no second try replaces the first (REC-37, REC-38)."""
    run = place.at(place.load(), "Measure groove depth")
    async with on_walk(place, run) as (app, keys, pilot):
        walk = app.screen
        await keys.fill({"value": ["2.7", "3.0"]})
        await keys.until(lambda: isinstance(app.screen, ChoiceDialog), "the question, with the piece in hand")
        assert "depth 2.7, must be 2.9 to 3.1 mm" in words(app)
        assert place.batch.entries[-1].body["values"]["value"] == [2.7, 3.0]

        await keys.press("escape")
        await keys.until(lambda: app.screen is walk, "not answered yet")
        assert "must be 2.9 to 3.1 mm" in said(app)
        assert not walk.asks.inputs, "no other piece is measured before it is decided"
        await keys.press("enter")
        await keys.until(lambda: isinstance(app.screen, ChoiceDialog), "the question again")
        await keys.press("1")
        await keys.until(lambda: isinstance(app.screen, FormDialog), "which place")
        await keys.type("A1")
        await keys.press("enter")
        await keys.until(lambda: "Suspect pieces" in words(app), "those before it")
        await keys.press("backspace")
        await keys.type("1")
        await pilot.press("enter", "enter")
        assert "needs a lead. Ask LL. Esc, then Ctrl+L: the lead signs in" in words(app).replace("\n", " ")
        await pilot.press("up", "backspace")
        await keys.type("2")
        await pilot.press("enter", "enter")
        await keys.until(lambda: app.screen is walk, "back on the walk")
    assert place.current(1) == "Accept the first piece"
    assert [entry.body["values"]["value"] for entry in place.batch.entries if entry.body.get("gate") == "measured"] == [
        [2.7, 3.0],
    ]  # fmt: skip
    assert [(entry.kind, entry.body.get("hold")) for entry in place.batch.entries[-2:]] == [
        ("out_decided", None), ("before_decided", 2),
    ]  # fmt: skip


async def test_a_void_proof_is_measured_again_in_full(place: Place) -> None:
    """CBP-31: a value from before the carrier was lifted is no value; only what a try left good is kept."""
    run = place.at(place.load(), "Shut the door")
    there = place.batch.runs[run]
    place.hand.do(Disturb(there.station, "lifted", load=there.load))
    app, keys = open_walk(place, run)
    async with app.run_test(size=SIZE):
        app.go_walk(place.id, run)
        line = await keys.line()
        while line is not None and not app.screen.asks.inputs:
            await keys.pass_line(place.batch.runs[run], line)
            line = await keys.line()
        assert line is not None
        assert line.title == "Probe G54 X Z"
        assert [field.value for field in app.screen.asks.inputs] == ["", ""]


async def test_of_several_pieces_one_goes_to_the_one_that_is_wrong(place: Place) -> None:
    run = place.at(place.load(), "Measure groove depth")
    app, keys = open_walk(place, run)
    async with app.run_test(size=SIZE):
        app.go_walk(place.id, run)
        await keys.line()
        before = place.batch.seq
        await keys.press("enter")
        await keys.type("3")
        await keys.press("enter")
        await keys.until(lambda: "A1 groove depth: nothing entered" in said(app), "which piece")
        assert app.focused is app.screen.asks.inputs[0]
        await keys.type("2.9.1")
        await keys.press("enter", "enter")
        await keys.until(lambda: "2.9.1 is not a number" in said(app), "what is wrong")
        assert app.focused is app.screen.asks.inputs[0]
        await keys.type("2.9")
        await keys.press("enter")
        app.screen.asks.inputs[1].value = ""
        await keys.type("3,0,1")
        app.screen.set_focus(app.screen.asks.inputs[0])
        await keys.press("down", "enter")
        await keys.until(lambda: "3,0,1 is not a number" in said(app), "what is wrong")
        assert app.focused is app.screen.asks.inputs[1]
        assert place.batch.seq == before


@pytest.mark.parametrize(("given", "stand", "at"), [
    ({"X": "0.25", "Z": "0.5"}, ["0.25", ""], 1), ({"X": "1.5", "Z": "0.05"}, ["", "0.05"], 0),
])  # fmt: skip
async def test_where_one_axis_is_out_the_others_stand_and_the_cursor_is_on_it(
    place: Place, given: dict[str, str], stand: list[str], at: int
) -> None:
    run = place.at(place.load(), "Probe G54 X Z")
    app, keys = open_walk(place, run)
    async with app.run_test(size=SIZE):
        app.go_walk(place.id, run)
        await keys.line()
        await keys.fill(given)
        await keys.line()
        assert [field.value for field in app.screen.asks.inputs] == stand
        assert app.focused is app.screen.asks.inputs[at]
        assert "if the work was moved, probe every axis again" in words(app)
        await keys.type("0")
        await keys.press(*["enter"] * (2 - at))
        assert place.batch.entries[-1].body["values"] == {
            name: float(text or 0) for name, text in zip("XZ", stand, strict=True)
        }


async def test_the_length_of_a_wrong_tool_is_not_taken_for_the_right_one(place: Place) -> None:
    run = place.at(place.load(), "Load and measure tool 1")
    async with on_walk(place, run) as (app, keys, pilot):
        await keys.fill({"tool": "3", "length": "150"})
        await keys.until(lambda: "must be 1" in words(app), "what is wrong")
        await keys.until(lambda: len(app.screen.asks.inputs) == 2, "asked again")
        assert [field.value for field in app.screen.asks.inputs] == ["", ""]
        before = place.batch.seq
        await keys.type("1")
        await pilot.press("enter")
        assert place.batch.seq == before
        await keys.type("120")
        await pilot.press("enter")
        assert place.batch.entries[-1].body["values"] == {"tool": 1, "length": 120.0}


@pytest.mark.parametrize("independent", [False, True])
async def test_who_accepts_the_first_piece_types_their_initials_also_where_the_operator_may(
    shop: Shop, clock: ManualClock, independent: bool
) -> None:
    plain = part()
    first, *rest = plain.operations
    steps = tuple(replace(one, independent=independent) if isinstance(one, FirstPiece) else one for one in first.steps)
    changed = replace(plain, operations=(replace(first, steps=steps), *rest))
    id = shop.open_batch(OpenBatch("B0001", changed, "d", "part.toml", 8, 10), by="LL").id
    place = Place(shop, id, clock)
    run = place.at(place.load(), "Accept the first piece")
    app, keys = open_walk(place, run)
    async with app.run_test(size=SIZE):
        app.go_walk(id, run)
        await keys.line()
        where, person, found = app.screen.asks.inputs
        assert (where.value, person.value, found.value) == ("A1", "", ""), "the piece that is meant is proposed"
        assert app.focused is person


async def test_after_a_first_piece_that_failed_all_of_the_next_one_is_measured(shop: Shop, clock: ManualClock) -> None:
    """A good value of the piece that is out is no value of the next."""
    values = (
        '{ gate = "first piece accepted", independent = true }',
        '{ gate = "first piece accepted", characteristics = [\n'
        '    { what = "depth", low = "2.9 mm", high = "3.1 mm" }, { what = "width", low = "9 mm", high = "11 mm" } ] }',
    )
    id = shop.open_batch(OpenBatch("B0001", edited(values), "d", "part.toml", 8, 10), by="LL").id
    place = Place(shop, id, clock)
    run = place.at(place.load(), "Accept the first piece")
    line = "first piece accepted 1"
    said = {"value 1": 3.5, "value 2": 10, "person": "BB"}
    (entry,) = place.shop.do(id, Prove(run, line, said), "AA")
    place.shop.do(id, decide_out(place.batch, entry.seq, "deep", ("A1",)), "AA")
    async with on_walk(place, run) as (app, keys, pilot):
        await keys.line()
        assert [field.value for field in app.screen.asks.inputs] == ["A2", "", "", ""]


@pytest.mark.parametrize("size", [(80, 24), (40, 16)])
async def test_a_long_question_of_a_first_piece_is_read_whole_beside_a_field_that_is_seen(
    shop: Shop, clock: ManualClock, size: tuple[int, int]
) -> None:
    values = (
        '{ gate = "first piece accepted", independent = true }',
        '{ gate = "first piece accepted", characteristics = [\n'
        '    { what = "cross hole", accept = "3.00 mm pin goes, 3.05 mm pin does not" } ] }',
    )
    id = shop.open_batch(OpenBatch("B0001", edited(values), "d", "part.toml", 8, 10), by="LL").id
    place = Place(shop, id, clock)
    run = place.at(place.load(), "Accept the first piece")
    app, keys = open_walk(place, run)
    async with app.run_test(size=size) as pilot:
        app.go_walk(id, run)
        await keys.line()
        await pilot.pause()
        row = app.screen.asks.inputs[1].parent
        assert row is not None
        label = row.query_one(".field-label", Static)
        drawn = " ".join(label.render_line(y).text.strip() for y in range(label.size.height))
        assert drawn.strip() == "cross hole: 3.00 mm pin goes, 3.05 mm pin does not?"
        assert app.screen.asks.inputs[1].region.right <= size[0]
        assert app.screen.asks.inputs[1].content_size.width >= 10
        if size[0] >= 80:
            aside = row.query_one(".field-aside", Static)
            assert str(aside.content) == "yes or no"
            assert aside.content_size.width >= len("yes or no")


def mark_before(field: Input) -> str:
    """The sign that is seen before a field."""
    assert field.parent is not None
    sign = field.parent.query_one(".field-mark", Static)
    return str(sign.content) if sign.styles.visibility == "visible" else ""


async def test_the_field_that_takes_what_is_typed_is_told_by_a_sign(place: Place) -> None:
    """HMI-08, -12: by a sign and by weight, not by color alone; one field at a time, in walk, form and dialog."""
    run = place.at(place.load(), "Probe G54 X Z")
    async with on_walk(place, run) as (app, keys, pilot):
        assert [mark_before(field) for field in app.screen.asks.inputs] == ["▸", ""]
        await pilot.press("down")
        assert [mark_before(field) for field in app.screen.asks.inputs] == ["", "▸"]
        assert app.screen.asks.inputs[1].parent is not None
        assert app.screen.asks.inputs[1].parent.query_one(".field-label").styles.text_style.bold
        await pilot.press("escape")
        assert [mark_before(field) for field in app.screen.asks.inputs] == ["", ""]
        await pilot.press("n")
        assert [mark_before(field) for field in app.screen.query(Input)] == ["▸", ""]
        await pilot.press("tab")
        assert [mark_before(field) for field in app.screen.query(Input)] == ["", "▸"]
        await pilot.press("escape", "escape", "m")
        assert [mark_before(field) for field in app.screen.query(Input)] == ["▸", "", "", ""]


async def test_what_is_no_number_is_refused_at_the_form_and_nothing_is_recorded(place: Place) -> None:
    run = place.at(place.load(), "Probe G54 X Z")
    app, keys = open_walk(place, run)
    async with app.run_test(size=SIZE):
        app.go_walk(place.id, run)
        await keys.line()
        before = place.batch.seq
        await keys.fill({"X": "0-1", "Z": "0.1"})
        await keys.until(lambda: "is not a number" in said(app), "the refusal")
        assert "G54 X" in said(app)
        assert "-1 to 1 mm" in said(app)
        assert place.batch.seq == before
        walk = app.screen
        assert isinstance(walk, WalkScreen)
        await keys.until(lambda: app.focused is walk.asks.inputs[0], "the field that is wrong")
        await keys.press("backspace", "0")
        await keys.until(lambda: not said(app), "the refusal gone")


@pytest.mark.parametrize("absurd", ["1e400", "nan", "99999999999"])
async def test_absurd_numbers_are_refused(place: Place, absurd: str) -> None:
    run = place.at(place.load(), "Probe G54 X Z")
    async with on_walk(place, run) as (app, keys, pilot):
        before = place.batch.seq
        await paste(pilot, "0", absurd)
        await keys.until(lambda: "makes no sense" in said(app), "the refusal")
        assert place.batch.seq == before


async def test_arrows_go_from_field_to_field_and_keep_what_is_typed(place: Place) -> None:
    run = place.at(place.load(), "Probe G54 X Z")
    app, keys = open_walk(place, run)
    async with app.run_test(size=SIZE):
        app.go_walk(place.id, run)
        await keys.line()
        walk = app.screen
        assert isinstance(walk, WalkScreen)
        await keys.type("0.4")
        await keys.press("down")
        await keys.type("0.03")
        await keys.press("up")
        await keys.until(lambda: app.focused is walk.asks.inputs[0], "the first field")
        await keys.press("backspace", "5", "down", "enter")
    assert place.batch.entries[-1].body["values"] == {"X": 0.5, "Z": 0.03}


# --- what voids, stops and passes ----------------------------------------------------------------------------------


async def test_a_lifted_pallet_voids_its_probing_and_the_start_is_refused(place: Place) -> None:
    """The gate lapses when its basis changes (CBP-31, NUREG-0700 section 8 from memory)."""
    load = place.load()
    run = place.at(load, "Start the cycle")
    app, keys = open_walk(place, run)
    async with app.run_test(size=SIZE):
        app.go_walk(place.id, run)
        await keys.line()
        await keys.press("x", "1")
        await keys.until(lambda: kinds(place.batch)[-1] == "disturbed", "the disturbance on record")
        line = await keys.line()

        assert line is not None
        assert line.title == "Press each corner: nothing rocks"
        assert "void since 07:" in said(app).casefold()
        await keys.press("enter")
        line = await keys.line()
        assert line is not None
        assert line.title == "Probe G54 X Z"
        assert "carrier lifted or re-seated" in said(app)
        assert "cycle_started" not in kinds(place.batch)
        await keys.fill({"X": "0.2", "Z": "0.02"})
        line = await keys.line()
        assert line is not None
        assert line.kind == "start"
    assert kinds(place.batch).count("proved") >= 2


async def test_a_waiver_needs_a_lead_and_a_reason_and_shows_everywhere_until_closed(place: Place) -> None:
    """CBP-36 to CBP-38 of the guidance followed (IEEE 1786-2011 from memory; the Windscale shield-door case)."""
    load = place.load()
    run = place.at(load, "Measure groove depth")
    app, keys = open_walk(place, run)
    async with app.run_test(size=SIZE):
        app.go_walk(place.id, run)
        await keys.line()
        await keys.press("escape", "w")
        assert "needs a lead" in said(app)
        assert app.screen.query_one("#asks"), "no form asks for a reason that would be in vain"

        app.session.who = "LL"
        await keys.press("w")
        await keys.press("escape")
        assert not place.batch.waivers
        await keys.line()
        await keys.press("escape", "w", "enter")
        await keys.until(lambda: "Reason: may not stay empty" in said(app), "what is wrong, in the form that stays")
        await keys.type("gauge away")
        await keys.press("enter")
        await keys.until(lambda: place.batch.waivers, "the waiver")
        for screen in (WalkScreen, BatchScreen, NextScreen):
            await keys.until(lambda screen=screen: isinstance(app.screen, screen), screen.__name__)
            await keys.until(lambda: "Measure groove depth" in strip(app), "the waiver in the fixed line")
            assert "LL" in strip(app)
            if screen is WalkScreen:
                await keys.line()
                await keys.press("escape", "b")
            elif screen is BatchScreen:
                await keys.back()
        await keys.press("b")
        await keys.press("d", "1")
        await keys.type("gauge is back, 3.0 mm")
        await keys.press("enter")
        await keys.until(lambda: not place.batch.list_open_waivers(), "the closing")
        await keys.until(lambda: "Measure groove depth" not in strip(app), "the fixed line without the waiver")


async def test_what_may_not_be_waived_or_skipped_says_so(place: Place) -> None:
    load = place.load()
    run = place.at(load, "Press each corner: nothing rocks")
    app, keys = open_walk(place, run, who="LL")
    async with app.run_test(size=SIZE):
        app.go_walk(place.id, run)
        await keys.line()
        await keys.press("w")
        assert "may not be waived" in said(app)
        assert "w: waive" not in words(app)
        await keys.press("s")
        assert "This is a required check: nobody may waive it" in said(app)
    assert place.batch.waivers == {}


async def test_a_step_that_is_never_skipped_says_so_before_a_reason_is_typed(place: Place) -> None:
    load = place.load()
    place.through(load, 10)
    app, keys = open_walk(place, place.at(load, "Mix lacquer and hardener"))
    async with app.run_test(size=SIZE):
        app.go_walk(place.id, place.batch.loads[load].run)
        await keys.line()
        await keys.press("s")
        assert "Mix lacquer and hardener: may not be skipped" in said(app)
        assert isinstance(app.screen, WalkScreen), "no form asks for a reason"


@pytest.mark.parametrize("state", ["waits", "blocked"])
@pytest.mark.parametrize("waive", ["lead", "never"])
def test_a_waiver_is_offered_only_where_one_may_be_given(state: LineState, waive: str) -> None:
    gate = Cured(gate="cured", clock="cure", waive=waive)
    line = Line("cured 1", "gate", "arrive", "Wait for cure", state, gate)
    assert ("w: waive (lead)" in describe_keys_where_stopped(line)) == (waive == "lead")


@pytest.mark.parametrize(
    ("air", "said"), [(15, "x: record the air   u: put it back"), (25, "Nothing to do here   u: ")]
)
def test_the_key_that_records_better_air_is_named_where_it_would_help(air: float, said: str) -> None:
    bench, load = curing()
    bench.begin(load)
    read_air(bench, air, 50)
    assert describe_keys_where_stopped(bench.current(load)).startswith(said)


async def test_who_may_not_waive_hears_it_before_typing_a_reason(place: Place) -> None:
    run = place.at(place.load(), "Probe G54 X Z")
    app, keys = open_walk(place, run)
    async with app.run_test(size=SIZE):
        app.go_walk(place.id, run)
        await keys.line()
        await keys.press("escape", "w")
        assert "Waiving a gate needs a lead" in said(app)
        assert isinstance(app.screen, WalkScreen), "no form asks for a reason"


async def test_a_step_is_skipped_with_a_reason_picked_by_one_key(place: Place) -> None:
    run = place.at(place.load(), "Clamp the pallet")
    app, keys = open_walk(place, run)
    async with app.run_test(size=SIZE):
        app.go_walk(place.id, run)
        await keys.line()
        await keys.press("s", "escape")
        assert kinds(place.batch)[-1] != "step_skipped"
        await keys.press("s", "f2", "enter")
        await keys.until(lambda: kinds(place.batch)[-1] == "step_skipped", "the skip")
        assert place.batch.entries[-1].body["reason"] == "not needed on this load"
        assert "SKIPPED AA" in words(app)


async def test_a_second_person_signs_with_a_pin_of_their_own(place: Place) -> None:
    place.shop.set_pin("BB", "4711", by="LL")
    run = place.at(place.load(), "Second look at tools and program")
    app, keys = open_walk(place, run)
    async with app.run_test(size=SIZE):
        app.go_walk(place.id, run)
        await keys.line()
        await keys.fill({"person": "aa"})
        await keys.until(lambda: "after a pause" in said(app), "the refusal of one's own signature")
        app.screen.asks.inputs[0].value = ""  # type: ignore[attr-defined]
        await keys.type("bb")
        await keys.press("enter")
        await keys.until(lambda: isinstance(app.screen, FormDialog), "the pin")
        await keys.type("0000")
        await keys.press("enter")
        await keys.until(lambda: "pin" in said(app).casefold(), "the wrong pin")
        assert kinds(place.batch)[-1] != "proved" or place.batch.entries[-1].body["gate"] != "signed"
        assert isinstance(app.screen, FormDialog), "the pin is asked for again"
        await keys.type("4711")
        await keys.press("enter")
        await keys.until(lambda: place.batch.entries[-1].body.get("gate") == "signed", "the signature")
    assert place.batch.entries[-1].by == "AA"
    assert place.batch.entries[-1].body["values"]["person"] == "BB"


# --- interruptions -------------------------------------------------------------------------------------------------


async def test_initials_typed_as_a_second_person_go_with_who_typed_them(place: Place) -> None:
    run = place.at(place.load(), "Second look at tools and program")
    async with on_walk(place, run) as (app, keys, pilot):
        await keys.type("BB")
        assert app.screen.asks.input("person").value == "BB"
        app.session.sign_in("BB")
        app.screen.update_all()
        assert app.screen.asks.input("person").value == ""


async def test_pausing_takes_two_keys_and_coming_back_says_what_was_last_and_what_lapsed(place: Place) -> None:
    """CBP-42 and CBP-43 of the guidance followed: Dodhia & Dismukes 2009, Dismukes 2006."""
    load = place.load()
    run = place.at(load, "Start the cycle")
    app, keys = open_walk(place, run)
    async with app.run_test(size=SIZE):
        app.go_walk(place.id, run)
        await keys.line()
        keys.keys = []
        await keys.press("p")
        assert "You will resume at: Start the cycle" in words(app)
        await keys.press("1")
        await keys.until(lambda: isinstance(app.screen, NextScreen), "the opening screen")
        assert len(keys.keys) == 2
        assert place.batch.entries[-1].body["reason"] == "called away"

        place.clock.forward(40 * 60)
        place.shop.do(place.id, Disturb("mill", "power lost"), "BB")
        app.update_screens()
        await keys.press("r")
        assert isinstance(app.screen, RecapDialog), "the first screen of the return"
        recap = " ".join(words(app).split())
        assert "Last entry here 40 min ago" in recap
        assert "Last: paused: called away (AA)" in recap
        assert "Meanwhile: entries by BB" in recap
        assert "To repeat: Probe G54 X Z" in recap
        assert "Next: Read back the program" in recap
        before = len(place.batch.entries)
        await keys.press("enter")
        assert isinstance(app.screen, WalkScreen)
        assert len(place.batch.entries) == before, "reading it records nothing"
        line = await keys.line()
        assert line is not None
        assert line.title == "Read back the program"


async def test_coming_back_to_a_cycle_that_runs_by_itself_costs_no_key(place: Place) -> None:
    run = place.at(place.load(), "Confirm cycle complete")
    place.clock.forward(40 * 60)
    app, keys = open_walk(place, run)
    async with app.run_test(size=SIZE):
        app.go_walk(place.id, run)
        await keys.until(lambda: isinstance(app.screen, WalkScreen) and app.screen.is_mounted, "the walk")
        assert "Last entry 40 min ago" in said(app)


async def test_after_an_interruption_one_key_records_that_the_last_steps_were_checked_again(
    shop: Shop, clock: ManualClock
) -> None:
    place = Place(shop, shop.open_batch(OpenBatch("B0001", edited(AFTER), "d", "part.toml", 8, 10), "AA").id, clock)
    run = place.at(place.load(), "Start the cycle")
    place.clock.forward(20 * 60)
    app, keys = open_walk(place, run)
    async with app.run_test(size=SIZE):
        app.go_walk(place.id, run)
        await keys.until(lambda: "Recheck: " in words(app), "the page")
        assert isinstance(app.screen, RecapDialog)
        await keys.press("enter", "enter")
        assert place.batch.entries[-1].kind == "steps_checked"
        line = await keys.line()
        assert line is not None
        assert line.title == "Start the cycle"


async def test_a_note_goes_to_the_load_and_to_the_next_shift(place: Place) -> None:
    run = place.at(place.load(), "Clamp the pallet")
    app, keys = open_walk(place, run)
    async with app.run_test(size=SIZE):
        app.go_walk(place.id, run)
        await keys.line()
        await keys.press("n")
        await keys.type("oil")
        await keys.press("enter")
        await keys.until(lambda: kinds(place.batch)[-1] == "noted", "the note")
        assert place.batch.entries[-1].body == {"text": "oil", "run": run, "next_shift": True}
        for answer, passed_on in (("n", False), ("x", True)):
            await keys.press("n")
            await keys.type(f"rag {answer}")
            await keys.press("down", "backspace")
            await keys.type(answer)
            await keys.press("enter")
            await keys.until(lambda: place.batch.entries[-1].body["text"] == f"rag {answer}", "the note")  # noqa: B023
            assert place.batch.entries[-1].body.get("next_shift", False) is passed_on


async def test_two_presses_in_one_turn_answer_one_dialog_once(place: Place) -> None:
    run = place.at(place.load(), "Clamp the pallet")
    async with on_walk(place, run) as (app, keys, pilot):
        await keys.press("p")
        assert isinstance(app.screen, ChoiceDialog)
        keys.send("2")
        keys.send("2")
        await pilot.pause()
        assert isinstance(app.screen, NextScreen | BatchScreen)
        await keys.back()
        assert app.screen_stack == [app.screen]
    assert kinds(place.batch).count("paused") == 1
    assert place.batch.entries[-1].body["reason"] == "waiting for material"


async def test_a_small_terminal_says_so_and_gives_everything_back(place: Place) -> None:
    run = place.at(place.load(), "Record the lot of bar stock")
    async with on_walk(place, run) as (app, keys, pilot):
        await keys.type("H-22")
        await pilot.resize_terminal(39, 15)
        assert isinstance(app.screen, TooSmall)
        assert "40 x 16" in words(app)
        assert "39 x 15" in words(app)
        await pilot.resize_terminal(*SIZE)
        assert isinstance(app.screen, WalkScreen)
        assert [field.value for field in app.screen.asks.inputs] == ["H-22"]


# --- time and other terminals --------------------------------------------------------------------------------------


async def test_a_cure_finishes_on_the_walk_by_itself_and_rings(place: Place) -> None:
    """CBP-48 of the guidance followed: start, ready time by the clock, time left; then it is met without a key."""
    load = place.load()
    place.through(load, 10, 20)
    run = int(place.hand.do(BeginRun(load, anyway=True))[0].body["run"])
    app, keys = open_walk(place, run)
    rung: list[str] = []
    app.bell = lambda: rung.append("bell")  # type: ignore[method-assign]
    async with app.run_test(size=SIZE, notifications=True) as pilot:
        app.go_walk(place.id, run)
        await keys.line()
        app.advance_clocks()
        assert "Cure needs" in said(app)
        assert "Ready " in said(app)
        assert not rung
        await keys.press("enter")
        assert rung == ["bell"], "the refusal rings"

        place.clock.forward(12 * 3600 + 60)
        app.advance_clocks()
        await pilot.pause()
        line = await keys.line()
        assert line is not None
        assert line.title == "Probe G54 Z"
        assert rung == ["bell", "bell"]
        assert len(app.news.waiting) == 1


async def test_the_second_terminal_sees_the_first_by_name_and_its_entries(place: Place, clock: ManualClock) -> None:
    run = place.at(place.load(), "Clamp the pallet")
    other = Shop(Path("shop"), clock)
    app, keys = open_walk(place, run, who="BB")
    async with app.run_test(size=SIZE):
        app.go_walk(place.id, run)
        await keys.line()
        await keys.press("enter")
        clock.forward(30)
        other.refresh()
        SimulatedOperator(other, place.id, "AA", clock, second="BB").work(1, stop=lambda line: line.kind == "start")
        app.look()
        line = await keys.line()
        assert line is not None
        assert line.kind == "start"
        assert "AA is also working on this load" in strip(app)
        await keys.press("enter", "enter", "y")  # the first one was for the line before
        assert place.batch.entries[-1].kind == "cycle_started"
    other.close()


# --- counting ------------------------------------------------------------------------------------------------------


async def test_a_count_that_does_not_add_up_is_refused_with_the_difference(place: Place) -> None:
    """Good, scrap, rework and hold add up to what went in (21 CFR 211.188(b)(7); REC-05 of the guidance followed)."""
    load = place.load()
    run = place.at(load, "count")
    app, keys = open_walk(place, run)
    async with app.run_test(size=SIZE):
        app.go_walk(place.id, run)
        await keys.line()
        await keys.press("enter")
        await keys.until(lambda: isinstance(app.screen, CountScreen) and app.screen.is_mounted, "the count")
        await keys.press(".", "3", "enter")
        await keys.until(lambda: isinstance(app.screen, CountScreen), "the count")
        await keys.press("enter")
        assert "1 piece too few" in said(app)
        assert place.batch.runs[run].count is None
        await keys.press("1", "enter")
        await keys.until(lambda: place.batch.runs[run].count is not None, "the count taken")
    count = place.batch.runs[run].count
    assert count is not None
    assert (count.good, count.total("scrap")) == (3, 1)


async def test_scrapping_the_piece_under_the_cursor_takes_three_keys_with_its_count(place: Place) -> None:
    load = place.load()
    run = place.at(load, "count")
    app, keys = open_walk(place, run)
    async with app.run_test(size=SIZE):
        app.go_walk(place.id, run)
        await keys.line()
        keys.keys = []
        await keys.press("enter")
        await keys.until(lambda: isinstance(app.screen, CountScreen) and app.screen.is_mounted, "the count")
        await keys.press("1", "enter")
        await keys.until(lambda: place.batch.runs[run].count is not None, "the count")
        assert len(keys.keys) == 3
    mark = place.batch.entries[-1].body["marks"][0]
    assert mark["places"] == ["A1"]
    assert mark["reason"] == "deep"
    assert place.batch.total("scrap") == 1


async def test_something_else_takes_a_note_and_escape_takes_the_mark_back(place: Place) -> None:
    load = place.load()
    run = place.at(load, "count")
    app, keys = open_walk(place, run)
    async with app.run_test(size=SIZE):
        app.go_walk(place.id, run)
        await keys.line()
        await keys.press("enter")
        await keys.until(lambda: isinstance(app.screen, CountScreen) and app.screen.is_mounted, "the count")
        screen = app.screen
        assert isinstance(screen, CountScreen)
        await keys.press("right", "9")
        assert isinstance(app.screen, FormDialog)
        await keys.press("escape")
        await keys.until(lambda: not screen.marks, "the mark taken back")
        await keys.press("9")
        await keys.type("dent")
        await keys.press("enter")
        await keys.until(lambda: app.screen is screen, "the count")
        await keys.press("down", "1", "space", "enter")
        await keys.until(lambda: place.batch.runs[run].count is not None, "the count")
    marks = place.batch.entries[-1].body["marks"]
    assert [(mark["places"], mark["note"]) for mark in marks] == [(["A2"], "dent")]


async def test_a_place_is_chosen_with_the_mouse(place: Place) -> None:
    load = place.load()
    run = place.at(load, "count")
    async with on_walk(place, run) as (app, keys, pilot):
        await keys.press("enter")
        await keys.until(lambda: isinstance(app.screen, CountScreen) and app.screen.is_mounted, "the count")
        await pilot.pause()
        screen = app.screen
        assert isinstance(screen, CountScreen)
        cell, step = screen.places.cell, screen.places.step  # type: ignore[attr-defined]
        assert cell * step >= 6, "a target of about 3 cells by 2 rows (WCAG 2.2, 2.5.8)"
        await pilot.click("#places", offset=(4 + cell + 2, 2 * step))
        await pilot.press("1", "enter")
    assert place.batch.entries[-1].body["marks"][0]["places"] == ["B2"]


# --- a cycle ended before its time ---------------------------------------------------------------------------------


async def test_ending_a_cycle_long_before_its_time_is_asked_about(place: Place, clock: ManualClock) -> None:
    """One key does nothing that cannot be taken back at the machine; silence and escape mean no."""
    load = place.load()
    run = place.at(load, "end", wait=False)
    async with on_walk(place, run) as (app, keys, pilot):
        await pilot.press("enter")
        await pilot.pause()
        for silent in ("enter", "space", "n"):
            assert isinstance(app.screen, ConfirmDialog)
            assert "Is it really complete?" in words(app)
            await pilot.press(silent)
            await pilot.pause()
        await pilot.press("escape")
        await pilot.pause()
        assert isinstance(app.screen, WalkScreen)
        assert kinds(place.batch)[-1] != "cycle_ended"

        await pilot.press("enter")
        await pilot.pause()
        await pilot.press("y", "y")
        await pilot.pause()

    assert kinds(place.batch).count("cycle_ended") == 1


async def test_a_cycle_ended_a_little_early_shows_its_cautions_first(shop: Shop, clock: ManualClock) -> None:
    """They come as a line of their own only once the cycle is over: a hot part is hot a minute before, too."""
    hot = edited(('program = "KB7-10 A"\n', 'program = "KB7-10 A"\nend_cautions = ["hot"]\n'))
    opened = shop.open_batch(OpenBatch(shop.find_next_id(), hot, "digest", "part.toml", 8, 10), by="LL")
    place = Place(shop, opened.id, clock)
    run = place.at(place.load(), "end", wait=False)
    ends = compute_planned_end(place.batch, place.batch.runs[run], clock())
    assert ends is not None
    clock.until(ends - timedelta(minutes=1))
    async with on_walk(place, run) as (app, keys, pilot):
        await pilot.press("enter")
        await pilot.pause()
        assert isinstance(app.screen, ConfirmDialog)
        assert hot.cautions["hot"].hazard in words(app)
        await pilot.press("y")
        await pilot.pause()
    assert kinds(place.batch)[-2:] == ["cautions_read", "cycle_ended"]


async def test_a_cycle_that_ends_about_on_time_takes_one_key(place: Place, clock: ManualClock) -> None:
    load = place.load()
    run = place.at(load, "end", wait=False)
    ends = compute_planned_end(place.batch, place.batch.runs[run], clock())
    assert ends is not None
    clock.until(ends - timedelta(minutes=1))
    async with on_walk(place, run) as (app, keys, pilot):
        await pilot.press("enter")
        await pilot.pause()

    assert kinds(place.batch)[-1] == "cycle_ended"


async def test_what_another_terminal_records_shows_behind_an_open_dialog(place: Place, clock: ManualClock) -> None:
    load = place.load()
    run = place.at(load, "release")
    app, keys = open_walk(place, run, who="")
    async with app.run_test(size=SIZE) as pilot:
        app.go_walk(place.id, run)
        await keys.line()
        walk = app.screen
        await pilot.press("enter")  # nobody is signed in: it asks who
        await pilot.pause()
        assert app.screen is not walk
        other = Shop(Path("shop"), clock)
        SimulatedOperator(other, place.id, "AA", clock).work(load)
        other.close()

        app.look()

        assert "Released" in str(walk.query_one("#step-title", Static).content)


MANY = (
    '{ gate = "measured", what = "groove depth", low = "2.9 mm", high = "3.1 mm", sample = 2 },',
    '{ gate = "measured", what = "size", sample = "all", characteristics = [\n'
    '    { what = "outside diameter", low = "12.018 mm", high = "12.034 mm" },\n'
    '    { what = "length", low = "15.9 mm", high = "16.1 mm" },\n'
    '    { what = "bore", accept = "go goes in, no-go does not" } ] },',
)
"""An edit of the test part: twelve values of four pieces in one form, one of them asked for in many words."""


async def test_in_a_long_form_each_field_has_a_line_with_its_limits_and_its_place(
    shop: Shop, clock: ManualClock
) -> None:
    """The question is cut to its place where the cursor is elsewhere, and read whole where it is."""
    id = shop.open_batch(OpenBatch("B0001", edited(MANY), "d", "part.toml", 8, 10), by="LL").id
    place = Place(shop, id, clock)
    run = place.at(place.load(), "Measure size")
    app, keys = open_walk(place, run)
    async with app.run_test(size=(80, 24)) as pilot:
        app.go_walk(id, run)
        await keys.line()
        await pilot.pause()
        form = app.screen.asks
        await pilot.press(*"12.026")
        await pilot.press("enter", "1", "6", "enter")
        await pilot.pause()
        assert len(form.inputs) == 12
        labels = list(form.query(".field-label").results(Static))
        assert "├" in str(form.query(".field-aside").first(Static).content)
        for at, (label, aside) in enumerate(zip(labels, form.query(".field-aside").results(Static), strict=True)):
            assert aside.size.height == 1 or at == 2, "limits and band in one line"
            assert count_cells(str(aside.content)) <= aside.content_size.width
            if at != 2:
                assert label.size.height == 1
                assert str(label.content).split()[0] == form.fields[at].label.split()[0], "which piece"
        assert " ".join(str(labels[2].content).split()) == "A1 bore: go goes in, no-go does not?"
        for _ in range(9):
            await pilot.press("down")
            await pilot.pause()
            focused = app.focused
            assert focused is not None
            assert form.query_one(".form-fields").region.contains_region(focused.region), "in sight"


async def test_the_walk_of_a_rework_says_where_its_pieces_return_to(place: Place) -> None:
    """DOE-STD-1029-92, branching and referencing (from memory)."""
    load = place.load()
    for marks in ((), (), (MarkedPieces("bare", ("A1",)),)):
        assert place.hand.work(load, marks=marks)
    run = int(place.hand.do(BeginRun(load, anyway=True))[0].body["run"])
    async with on_walk(place, run) as (app, _, _):
        assert "op 20 rework, back to op 30: Coat" in str(app.screen.query_one("#head-left", Static).content)


async def test_a_note_offers_what_people_noted_last_by_one_key(place: Place) -> None:
    """Notes are optional, and picked phrases come first: a typed one costs seven seconds."""
    place.shop.do(place.id, Note("coolant low"), "AA")
    place.shop.do(place.id, Note("Floor found the file damaged", abnormal=True), "AA")
    run = place.at(place.load(), "start")
    async with on_walk(place, run) as (app, keys, _):
        await keys.press("n")
        assert "coolant low" in words(app)
        assert "Floor found" not in words(app), "no phrase of theirs"
        await keys.press("f2", "enter")
        await keys.until(lambda: place.batch.entries[-1].body.get("run") == run, "the note")
        assert (place.batch.entries[-1].kind, place.batch.entries[-1].body["text"]) == ("noted", "coolant low")


async def test_a_waiver_offers_the_reasons_of_the_last_ones_by_one_key(place: Place) -> None:
    first, second = place.load(), place.load()
    run = place.at(first, "Measure groove depth")
    line = place.hand.current(first)
    assert line is not None
    place.shop.do(place.id, Waive(run, line.key, "gauge is away"), "LL")
    place.through(first, 10)
    run = place.at(second, "Measure groove depth")
    async with on_walk(place, run) as (app, keys, _):
        app.session.who = "LL"
        await keys.press("escape", "w", "f2", "enter")
        await keys.until(lambda: len(place.batch.waivers) == 2, "the waiver")
    assert [one.reason for one in place.batch.waivers.values()] == ["gauge is away"] * 2
