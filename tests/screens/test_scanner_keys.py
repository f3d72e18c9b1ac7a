"""A scanner that reads where no field is open enters nothing, however slowly it sends its letters."""

from __future__ import annotations

from collections.abc import Callable
from inspect import isawaitable
from typing import Any

import pytest
from textual import events
from textual.keys import _character_to_key
from textual.pilot import Pilot

from floor.app import FloorApp
from floor.batch.tag import format_tag, make_tag
from floor.screens.forms.dialogs import ChoiceDialog, ConfirmDialog, FormDialog
from floor.screens.forms.field_rows import FormInput
from floor.screens.forms.fields import FieldSpec
from floor.screens.forms.form import NOT_FOR_A_FIELD
from floor.screens.frame.key_reader import MOST_AT_ONCE, TAG_PAUSE
from floor.screens.plan.screen import PlanScreen
from floor.screens.walk.begin_run import BeginScreen
from floor.screens.walk.count_form import CountScreen
from floor.screens.walk.screen import WalkScreen
from floor.shop.find_tagged import name_tagged
from floor.text import LONGEST_TEXT
from tests.screens.operator import Place, said

SIZE = (80, 24)
SCANS = ("s1204", "p2", "x1", "m12", "w5", "d1", "u", "y7", "a9", "o1", "k", "n17b", "70-03A", "1", "xbjk2")
"""Lots, tools and orders as a shop has them; their letters are keys here."""


class Hand:
    """Keys at given times, and the timers that run out between them: nothing here waits."""

    def __init__(self, app: FloorApp, pilot: Pilot[Any]) -> None:
        self.app, self.pilot, self.now = app, pilot, 100.0
        self.timers: list[tuple[float, Callable[[], Any]]] = []
        app.key_reader.guard.gap = 0.6
        app.key_reader.set_timer = self.set_timer

    def set_timer(self, delay: float, callback: Callable[[], Any]) -> Timer:
        timer = self.now + delay, callback
        self.timers.append(timer)
        return Timer(self, timer)

    async def wait(self, seconds: float) -> None:
        """Time goes on, and what has run out by then is called."""
        until = self.now + seconds
        while due := [timer for timer in self.timers if timer[0] <= until]:
            self.now, callback = timer = min(due, key=lambda one: one[0])
            self.timers.remove(timer)
            made = callback()
            if isawaitable(made):
                await made
            await self.pilot.pause()
        self.now = until

    async def press(self, *keys: str, pause: float, jitter: float = 0.0) -> None:
        """As the terminal does, so many seconds apart.

        Args:
            jitter: by how much every other pause is longer, on a busy line.
        """
        assert self.app._driver is not None
        for n, key in enumerate(keys):
            event = events.Key(_character_to_key(key) if len(key) == 1 else key, key if len(key) == 1 else None)
            event.time = self.now
            event.set_sender(self.app)
            self.app._driver.send_message(event)
            await self.pilot.pause()
            await self.wait(pause + jitter * (n % 2))

    async def pour(self, text: str) -> None:
        """All at once, as a paste comes from a terminal that does not mark it."""
        assert self.app._driver is not None
        for letter in text:
            event = events.Key(_character_to_key(letter), letter)
            event.time = self.now
            event.set_sender(self.app)
            self.app._driver.send_message(event)
        await self.pilot.pause()
        await self.pilot.pause()


class Timer:
    def __init__(self, hand: Hand, timer: tuple[float, Callable[[], Any]]) -> None:
        self.hand, self.timer = hand, timer

    def stop(self) -> None:
        if self.timer in self.hand.timers:
            self.hand.timers.remove(self.timer)


@pytest.mark.parametrize(("pause", "jitter"), [(0.005, 0), (0.1, 0), (0.2, 0), (0.2, 0.06)])
@pytest.mark.parametrize("scan", SCANS)
async def test_no_scan_enters_anything_in_the_walk(place: Place, scan: str, pause: float, jitter: float) -> None:
    run = place.at(place.load(), "Clamp the pallet")
    app = FloorApp(place.shop, who="LL", ticking=False)
    async with app.run_test(size=SIZE) as pilot:
        hand = Hand(app, pilot)
        app.go_walk(place.id, run)
        await pilot.pause()
        before = place.batch.seq
        await hand.press(*scan, "enter", pause=pause, jitter=jitter)
        await hand.wait(1.0)
        assert place.batch.seq == before, place.batch.entries[-1].kind


TYPED = [("1204", pause) for pause in (0.23, 0.3, 0.45, 0.6, 0.8, 1.5)] + [("4", 4.0), ("70-03", 0.5), ("12f", 0.5)]
"""What a gloved hand, or the slowest scanner, types where no field takes it; seconds a key."""


@pytest.mark.parametrize(
    ("at", "confirming", "typed", "pause"),
    [("Clamp the pallet", "enter", *one) for one in TYPED]
    + [(at, key, "1204", 0.45) for at in ("Clamp the pallet", "start", "count") for key in ("enter", "space")][1:],
)
async def test_digits_where_no_field_is_open_never_end_in_a_confirmation(
    place: Place, at: str, confirming: str, typed: str, pause: float
) -> None:
    """However slowly: the digits are named at once, and the key says that nothing was entered."""
    run = place.at(place.load(), at)
    app = FloorApp(place.shop, who="AA", ticking=False)
    async with app.run_test(size=SIZE) as pilot:
        hand = Hand(app, pilot)
        app.go_walk(place.id, run)
        await pilot.pause()
        place.clock.forward(20)
        before, walk = place.batch.seq, app.screen
        await hand.press(*typed, pause=pause)
        plain = app.screen is walk
        if plain:
            assert f'{typed[-1]}" ignored: no field open' in said(app)
        await hand.press(confirming, pause=1.0)
        if plain:
            assert "no field open" in said(app) or "Scan ignored" in said(app)
        assert app.screen is walk, "not the count, no question"
        assert place.batch.seq == before, place.batch.entries[-1].kind


async def test_after_digits_that_nothing_took_a_second_enter_is_meant(place: Place) -> None:
    run = place.at(place.load(), "Clamp the pallet")
    app = FloorApp(place.shop, who="AA", ticking=False)
    async with app.run_test(size=SIZE) as pilot:
        hand = Hand(app, pilot)
        app.go_walk(place.id, run)
        await pilot.pause()
        place.clock.forward(20)
        before = place.batch.seq
        await hand.press("1", "2", "enter", "enter", pause=0.3)
        assert place.batch.seq == before, "a scanner ends with two, or a hand bounces"
        await hand.wait(1.0)
        await hand.press("enter", pause=1.0)
        assert place.batch.seq == before + 1


@pytest.mark.parametrize("forgotten", [("down", "home"), ("v", "escape"), ("escape", "escape")])
async def test_another_key_shows_that_the_digits_are_forgotten(place: Place, forgotten: tuple[str, ...]) -> None:
    run = place.at(place.load(), "Clamp the pallet")
    app = FloorApp(place.shop, who="AA", ticking=False)
    async with app.run_test(size=SIZE) as pilot:
        hand = Hand(app, pilot)
        app.go_walk(place.id, run)
        await pilot.pause()
        place.clock.forward(20)
        before = place.batch.seq
        await hand.press("4", *forgotten, pause=1.0)
        app.go_walk(place.id, run)
        await pilot.pause()
        await hand.press("enter", pause=1.0)
        assert place.batch.seq == before + 1


async def test_digits_at_the_count_that_are_no_reason_do_not_end_in_a_record(place: Place) -> None:
    run = place.at(place.load(), "count")
    app = FloorApp(place.shop, who="AA", ticking=False)
    async with app.run_test(size=SIZE) as pilot:
        hand = Hand(app, pilot)
        app.go_walk(place.id, run)
        await pilot.pause()
        place.clock.forward(20)
        await hand.press("enter", pause=1.0)
        assert isinstance(app.screen, CountScreen)
        await hand.press("1", "7", "enter", pause=0.5)
        assert '"7" ignored: no field open, nothing entered' in said(app)
        assert place.batch.runs[run].count is None
        await hand.press("+", "1", "enter", pause=0.7)
        assert place.batch.runs[run].count is not None, "a digit that marks is taken"


@pytest.mark.parametrize("pause", [0.35, 0.6])
async def test_digits_before_a_letter_that_acts_do_not_make_it_act(place: Place, pause: float) -> None:
    """A label that ends in the letter which starts a run."""
    load = place.load()
    app = FloorApp(place.shop, who="AA", ticking=False)
    async with app.run_test(size=SIZE) as pilot:
        hand = Hand(app, pilot)
        app.go(BeginScreen(app.session, place.id, load))
        await pilot.pause()
        before = place.batch.seq
        await hand.press(*"70y", pause=pause)
        await hand.wait(1.0)
        assert place.batch.seq == before
        await hand.press("y", pause=1.0)
        assert place.batch.seq > before


async def test_a_question_that_a_scan_opened_goes_away_and_that_is_said(place: Place) -> None:
    run = place.at(place.load(), "Clamp the pallet")
    app = FloorApp(place.shop, who="LL", ticking=False)
    async with app.run_test(size=SIZE) as pilot:
        hand = Hand(app, pilot)
        app.go_walk(place.id, run)
        await pilot.pause()
        await hand.press(*"s1204b", "enter", pause=0.2)
        assert isinstance(app.screen, WalkScreen)
        assert "Scan ignored, nothing entered" in said(app)


async def test_a_hand_opens_the_question_and_answers_it(place: Place) -> None:
    run = place.at(place.load(), "Clamp the pallet")
    app = FloorApp(place.shop, who="LL", ticking=False)
    async with app.run_test(size=SIZE) as pilot:
        hand = Hand(app, pilot)
        app.go_walk(place.id, run)
        await pilot.pause()
        await hand.press("p", "2", pause=0.3)
        assert place.batch.entries[-1].kind == "paused"


async def test_a_tag_scanned_anywhere_opens_what_it_is_on(place: Place) -> None:
    load = place.load()
    run = place.at(load, "Clamp the pallet")
    text = format_tag(make_tag("load", (place.id, load), place.batch.entries[0].hash))
    app = FloorApp(place.shop, who="LL", ticking=False)
    async with app.run_test(size=SIZE) as pilot:
        hand = Hand(app, pilot)
        await hand.press(*text, "enter", pause=0.0)
        assert isinstance(app.screen, WalkScreen)
        assert app.screen.run_ == run
        before = place.batch.seq
        await hand.press(*text[:8], pause=0.0)
        assert said(app) == ""
        await hand.wait(TAG_PAUSE)
        assert "Scan ignored" in said(app), "half a tag"
        assert place.batch.seq == before


@pytest.mark.parametrize("pause", [0.05, 0.1, 0.2])
async def test_a_scan_takes_no_act_back_and_answers_no_question(place: Place, pause: float) -> None:
    """A letter that acts by itself waits until no scanner can go on."""
    run = place.at(place.load(), "Clamp the pallet")
    app = FloorApp(place.shop, who="LL", ticking=False)
    async with app.run_test(size=SIZE) as pilot:
        hand = Hand(app, pilot)
        app.go_walk(place.id, run)
        await pilot.pause()
        place.clock.forward(20)
        await hand.press("enter", pause=1.0)
        done = place.batch.seq
        await hand.press(*"u7", "enter", pause=pause)
        await hand.wait(1.0)
        assert place.batch.seq == done, "the last step is not taken back"
        answers: list[bool | None] = []
        app.push_screen(ConfirmDialog("Sure?"), answers.append)
        await pilot.pause()
        await hand.press(*"y7", "enter", pause=pause)
        await hand.wait(1.0)
        assert True not in answers
        await hand.press("escape", "u", pause=1.0)
        assert place.batch.entries[-1].kind == "struck_out", "by a hand it is"


async def test_after_a_scan_a_hand_types_as_before(place: Place) -> None:
    app = FloorApp(place.shop, who="LL", ticking=False)
    place.load()
    async with app.run_test(size=SIZE) as pilot:
        hand = Hand(app, pilot)
        await hand.press(*"s1204", "enter", pause=0.2)
        await hand.wait(1.0)
        await hand.press("b", "g", pause=0.15)
        await hand.wait(1.0)
        assert isinstance(app.screen, PlanScreen)


async def test_a_tag_does_not_answer_a_question(place: Place, monkeypatch: pytest.MonkeyPatch) -> None:
    load = place.load()
    text = format_tag(make_tag("load", (place.id, load), place.batch.entries[0].hash))
    app = FloorApp(place.shop, who="LL", ticking=False)
    bells: list[None] = []
    async with app.run_test(size=SIZE) as pilot:
        monkeypatch.setattr(app, "bell", lambda: bells.append(None))
        hand = Hand(app, pilot)
        app.push_screen(asked := ConfirmDialog("Sure?"))
        await pilot.pause()
        await hand.press(*text, "enter", pause=0.0)
        assert app.screen is asked
        assert len(bells) == 1


def load_tag(place: Place, load: int) -> str:
    return format_tag(make_tag("load", (place.id, load), place.batch.entries[0].hash))


@pytest.mark.parametrize("pause", [0.0, 0.05, 0.2])
async def test_a_tag_scanned_into_a_number_opens_its_load_and_none_of_it_stays_in_the_field(
    place: Place, pause: float
) -> None:
    """Of a load on the walk of another one, whose cursor is in a field: what the operator scans one after the other."""
    one, other = place.load(), place.load()
    run = place.at(one, "Probe G54 X Z")
    text = load_tag(place, other)
    app = FloorApp(place.shop, who="LL", ticking=False)
    async with app.run_test(size=SIZE) as pilot:
        hand = Hand(app, pilot)
        app.go_walk(place.id, run)
        await pilot.pause()
        walk, field = app.screen, app.focused
        assert isinstance(field, FormInput)
        assert field.number
        await hand.press(*text, "enter", pause=pause)
        assert app.screen is not walk
        assert field.value == ""
        await hand.press("escape", pause=1.0)
        await hand.press("4", pause=1.0)
        await hand.press(*text, "enter", pause=pause)
        assert isinstance(app.screen, ConfirmDialog), "something is typed there: asked first"
        await hand.press("y", pause=1.0)
        assert app.screen is not walk
        assert field.value == "4", "it stays"


async def test_what_a_hand_types_that_begins_like_a_tag_is_typed(place: Place) -> None:
    app = FloorApp(place.shop, who="LL", ticking=False)
    async with app.run_test(size=SIZE) as pilot:
        hand = Hand(app, pilot)
        app.push_screen(FormDialog("Note", [FieldSpec("text", "Note")], lambda _: {}))
        await pilot.pause()
        assert isinstance(app.focused, FormInput)
        await hand.press(*"%L% a", pause=0.3)
        assert app.focused.value == "%L% a"
        await hand.press(*" 45%of", pause=0.1)
        assert app.focused.value == "%L% a 45%of"
        await hand.press("%", "backspace", pause=0.1)
        assert app.focused.value == "%L% a 45%of"


async def test_a_tag_that_is_no_value_of_a_field_is_refused_there_in_words(place: Place) -> None:
    load = place.load()
    app = FloorApp(place.shop, who="LL", ticking=False)
    async with app.run_test(size=SIZE) as pilot:
        hand = Hand(app, pilot)
        app.push_screen(FormDialog("Depth", [FieldSpec("depth", "Depth", number=True)], lambda _: {}))
        await pilot.pause()
        await hand.press("1", *load_tag(place, load), "enter", pause=0.01)
        assert isinstance(app.focused, FormInput)
        assert app.focused.value == "1"
        assert NOT_FOR_A_FIELD in said(app)


async def test_the_number_of_a_tool_is_read_off_its_label_and_no_other_label_is_taken(place: Place) -> None:
    """CBP-11: a tool is read back from the label on its holder, at the station that the label is for."""
    run = place.at(place.load(), "Load and measure tool 1")
    station, owner = place.batch.runs[run].station, place.shop.first_hash
    label = format_tag(make_tag("tool", (station, 1), owner))
    assert name_tagged(place.shop, label, "bench") == "", "that of another station"
    app = FloorApp(place.shop, who="AA", ticking=False)
    async with app.run_test(size=SIZE) as pilot:
        hand = Hand(app, pilot)
        app.go_walk(place.id, run)
        await pilot.pause()
        field = app.focused
        assert isinstance(field, FormInput)
        await hand.press(*label, "enter", pause=0.01)
        assert field.value == "1"
        assert app.focused is not field, "on to the length offset"


async def test_the_next_scan_takes_the_place_of_the_window_of_a_tool(place: Place) -> None:
    load = place.load()
    run = place.at(load, "Clamp the pallet")
    station = place.batch.runs[run].station
    tool = place.batch.checklist.tools_at(station)[0].number
    scanned = format_tag(make_tag("tool", (station, tool), place.shop.first_hash))
    app = FloorApp(place.shop, who="LL", ticking=False)
    async with app.run_test(size=SIZE) as pilot:
        hand = Hand(app, pilot)
        await hand.press(*scanned, "enter", pause=0.0)
        assert isinstance(app.screen, ChoiceDialog)
        await hand.press(*load_tag(place, load), "enter", pause=0.0)
        await pilot.pause()
        assert isinstance(app.screen, WalkScreen)


async def test_of_a_long_paste_that_comes_as_keys_a_field_takes_what_it_refuses_as_too_long(place: Place) -> None:
    """Each key costs a redraw: 5,000 would stop the program for as long as somebody types a page."""
    app = FloorApp(place.shop, who="LL", ticking=False)
    async with app.run_test(size=SIZE) as pilot:
        hand = Hand(app, pilot)
        app.push_screen(FormDialog("Note", [FieldSpec("text", "Note")], lambda _: {}))
        await pilot.pause()
        field = app.focused
        assert isinstance(field, FormInput)
        await hand.pour("x" * 2000)
        assert LONGEST_TEXT < len(field.value) <= MOST_AT_ONCE + 1
        await hand.press("enter", pause=1.0)
        assert "more than the 500 that are kept" in said(app)
        await hand.press("backspace", "o", "k", pause=0.3)
        assert field.value == "ok", "the hand types on at once"


async def test_a_long_paste_on_a_screen_is_one_scan_that_is_ignored(place: Place) -> None:
    run = place.at(place.load(), "Clamp the pallet")
    app = FloorApp(place.shop, who="LL", ticking=False)
    async with app.run_test(size=SIZE) as pilot:
        hand = Hand(app, pilot)
        app.go_walk(place.id, run)
        await pilot.pause()
        before, looks = place.batch.seq, 0
        find = app.key_reader._find_action

        def count(key: str) -> str:
            nonlocal looks
            looks += 1
            return find(key)

        app.key_reader._find_action = count  # type: ignore[method-assign]
        await hand.pour("p2 x1 s3 w4 " * 100)
        await hand.wait(1.0)
        assert "Scan ignored, nothing entered" in said(app)
        assert place.batch.seq == before
        assert looks < 10, "what each key would do is not looked up"
