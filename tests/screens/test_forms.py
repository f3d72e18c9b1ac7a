"""One kind of form: what the rules refuse is said in it, what was typed stays, the cursor is in the field refused."""

from __future__ import annotations

from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager

import pytest
from textual.pilot import Pilot
from textual.widgets import Input, Static

from floor.app import FloorApp
from floor.batch.command import Refused
from floor.ledger import LedgerError
from floor.screens.forms.dialogs import FormDialog
from floor.screens.forms.fields import FieldSpec, Values, collect_errors
from floor.screens.forms.form import SEEN_AGAIN, Form
from floor.screens.walk.disturbances import ask_cycle_stop, ask_paper_time, change_station_service
from floor.screens.walk.screen import WalkScreen
from floor.screens.walk.step_actions import add_note, skip_step, waive_gate
from tests.screens.operator import Operator, Place, said

Ask = Callable[[WalkScreen], None]


def skip(screen: WalkScreen) -> None:
    skip_step(screen, screen.batch_id, screen.run_, screen.get_walk().current)


def note(screen: WalkScreen) -> None:
    add_note(screen, screen.batch_id, screen.run_)


def waive(screen: WalkScreen) -> None:
    waive_gate(screen, screen.batch_id, screen.run_, screen.get_walk().current)


def out_of_service(screen: WalkScreen) -> None:
    change_station_service(screen, screen.batch_id, screen.current_run.station)


def stopped(screen: WalkScreen) -> None:
    ask_cycle_stop(screen, screen.batch_id, screen.current_run, "tool broke")


def fields_of(app: FloorApp) -> dict[str, Input]:
    return {(one.id or "").removeprefix("field-"): one for one in app.screen.query(Input)}


@pytest.mark.parametrize(
    ("title", "ask", "typed", "refused"),
    [
        ("Clamp the pallet", skip, {"why": "x"}, "why"),
        ("Second look at tools and program", waive, {"why": "x"}, "why"),
        ("start", note, {"text": "", "for": "y"}, "text"),
        ("start", out_of_service, {"why": "x", "back": ""}, "why"),
        ("start", out_of_service, {"why": "broken down", "back": "99:99"}, "back"),
        ("end", stopped, {"at": "noon", "tool": "2", "note": "it broke"}, "at"),
        ("end", stopped, {"at": "", "tool": "two", "note": "it broke"}, "tool"),
        ("start", ask_paper_time, {"at": "99:99", "second": "", "pin": ""}, "at"),
        ("start", ask_paper_time, {"at": "06:30", "second": "ZZ", "pin": ""}, "pin"),
    ],
)
async def test_what_the_rules_refuse_stays_typed_with_the_cursor_at_it(
    place: Place, title: str, ask: Ask, typed: dict[str, str], refused: str
) -> None:
    run = place.at(place.load(), title, wait=False)
    app = FloorApp(place.shop, who="AA", ticking=False)
    async with app.run_test(size=(80, 24)) as pilot:
        keys = Operator(app, place.clock, "BB")
        app.go_walk(place.id, run)
        await keys.line()
        walk = app.screen
        assert isinstance(walk, WalkScreen)
        before = len(place.batch.entries)
        app.session.sign_in("LL" if ask is waive else "AA")
        ask(walk)
        await keys.until(lambda: isinstance(app.screen, FormDialog) and isinstance(app.focused, Input), "the form")
        await pilot.pause()  # it comes to the first field of itself
        for name, field in fields_of(app).items():
            field.value = typed[name]
        last = list(fields_of(app).values())[-1]
        app.screen.set_focus(last)
        await pilot.pause()
        assert app.focused is last
        await pilot.press("enter")
        await pilot.pause()
        assert isinstance(app.screen, FormDialog), "the form stays"
        assert app.focused is fields_of(app)[refused]
        stays = {name: text for name, text in typed.items() if name != "pin"}
        assert {name: one.value for name, one in fields_of(app).items() if name != "pin"} == stays
        assert said(app)
        assert len(place.batch.entries) == before, "nothing was entered"


@asynccontextmanager
async def asking(place: Place, *fields: FieldSpec) -> AsyncIterator[tuple[FloorApp, Pilot[object], list[Values]]]:
    """A form that refuses its field ``b`` while it is "bad", and all that was entered."""
    entered: list[Values] = []

    def attempt(values: Values) -> dict[str, str]:
        entered.append(dict(values))
        return {"b": "it is bad"} if values["b"] == "bad" else {}

    app = FloorApp(place.shop, who="AA", ticking=False)
    async with app.run_test(size=(80, 24)) as pilot:
        app.push_screen(FormDialog("A form", fields, attempt))
        await pilot.pause()
        yield app, pilot, entered


async def test_enter_in_a_corrected_field_goes_over_the_later_ones_again(place: Place) -> None:
    fields = (FieldSpec("a", "A"), FieldSpec("b", "B"), FieldSpec("c", "C", "3", known=True), FieldSpec("d", "D"))
    async with asking(place, *fields) as (app, pilot, entered):
        await pilot.press("1", "enter", *"bad", "enter", "4", "enter", *"ok")
        assert entered == [{"a": "1", "b": "bad", "c": "3", "d": "4"}]
        assert fields_of(app)["b"].value == "ok", "what is typed next takes the place of what is wrong"
        await pilot.press("enter", "enter")
        assert len(entered) == 1, "also what can be nothing else is seen before it is entered again"
        assert app.focused is fields_of(app)["d"]
        await pilot.press("enter")
        assert entered[1:] == [{"a": "1", "b": "ok", "c": "3", "d": "4"}]


async def test_what_was_entered_of_another_thing_is_gone_over_from_the_first_field(place: Place) -> None:
    async with asking(place, FieldSpec("a", "A"), FieldSpec("b", "B", identity=True)) as (app, pilot, entered):
        fields_of(app)["a"].select_on_focus = False  # as on a walk
        await pilot.press("1", "enter", *"bad", "enter", *"ok", "enter")
        assert app.focused is fields_of(app)["a"], "measured with the gauge that was refused"
        assert fields_of(app)["a"].selected_text == "1", "what is typed takes its place"
        assert app.screen.query_one(Form).wrong == SEEN_AGAIN
        await pilot.press("2", "enter", "enter")
        assert entered[1:] == [{"a": "2", "b": "ok"}]


def refuse(field: str = "") -> Callable[[Values], dict[str, str]]:
    def attempt(values: Values) -> dict[str, str]:
        raise Refused("input", "it will not do", "try again", field=field)

    return attempt


@pytest.mark.parametrize(
    ("names", "field", "at"),
    [
        (("why", "back"), "back", "back"),
        (("why", "back"), "tool", ""),
        (("why", "back"), "", ""),
        (("text",), "", "text"),
    ],
)
def test_a_refusal_is_about_the_field_it_names_or_the_only_one(names: tuple[str, ...], field: str, at: str) -> None:
    errors = collect_errors(refuse(field), dict.fromkeys(names, "x"))
    assert errors == {at: "It will not do. Try again."}


@pytest.mark.parametrize(
    ("signs", "said"),
    [
        ({}, "It is not for you. Ask LL. Esc, then Ctrl+L: the lead signs in."),
        ({"signs": "BB"}, "It is not for you. Ask LL. Esc, then Ctrl+L: BB signs in."),
        ({"signs": ""}, "It is not for you. Ask LL."),
    ],
    ids=["a lead", "one person", "nobody"],
)
def test_a_refusal_says_who_signs_in_where_that_helps(signs: dict[str, str], said: str) -> None:
    def attempt(values: Values) -> dict[str, str]:
        raise Refused("authority", "it is not for you", "ask LL", **signs)

    assert collect_errors(attempt, {"text": "x"}) == {"text": said}


def test_trouble_with_the_record_is_about_no_field() -> None:
    def attempt(values: Values) -> dict[str, str]:
        raise LedgerError("the disk is full")

    assert list(collect_errors(attempt, {"text": "x"})) == [""]


@pytest.mark.parametrize("size", [(80, 24), (60, 20), (40, 16)])
async def test_what_stands_beside_a_field_is_read_whole_on_any_screen(place: Place, size: tuple[int, int]) -> None:
    app = FloorApp(place.shop, who="LL", ticking=False)
    async with app.run_test(size=size) as pilot:
        add_note(app.screen, place.id)  # type: ignore[arg-type]
        await pilot.pause()
        await pilot.pause()
        shown = [one for one in app.screen.query(Static) if "for the record only" in str(one.content) and one.display]
        assert len(shown) == 1
        (hint,) = shown
        drawn = " ".join(hint.render_line(y).text.strip() for y in range(hint.size.height))
        assert drawn == "↓, n: for the record only"
        assert hint.region.right <= app.screen.query_one(".dialog").region.right


async def test_the_field_that_is_typed_in_stays_in_sight_on_a_smaller_screen(place: Place) -> None:
    app = FloorApp(place.shop, who="LL", ticking=False)
    async with app.run_test(size=(100, 40)) as pilot:
        fields = [FieldSpec(f"f{n}", f"Field {n}", hint="say it in a few words") for n in range(8)]
        app.push_screen(FormDialog("Many", fields, lambda _: {}))
        await pilot.pause()
        fields_of(app)["f7"].focus()
        await pilot.resize_terminal(60, 20)
        await pilot.pause()
        await pilot.pause()
        assert app.screen.query_one(".dialog").region.contains_region(fields_of(app)["f7"].region)
