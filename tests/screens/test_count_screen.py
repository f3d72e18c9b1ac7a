"""Counting: correcting a number changes no mark, and a mark changes no number."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from random import Random

import pytest
from textual.widgets import Static

from floor.batch.counting.commands import MarkedPieces
from floor.batch.counting.scrap import list_open_scrap
from floor.batch.lifecycle.commands import SetPiecesAside
from floor.block_letters import draw_block_letters, draw_blocks
from floor.screens.forms.dialogs import ChoiceDialog, ConfirmDialog, FormDialog
from floor.screens.frame.key_line import KeyLine
from floor.screens.walk import count_form
from floor.screens.walk.count_form import CountScreen
from floor.screens.walk.screen import WalkScreen
from tests.screens.conftest import Open
from tests.screens.keys import fill, words
from tests.screens.operator import Operator, Place, said

SIZE = (80, 24)
CLEAR, MOVES = ("0", "backspace", "space"), ("up", "down", "left", "right", "+", "-")


async def counting(keys: Operator, place: Place, load: int) -> CountScreen:
    """The count of a load, ready for keys."""
    keys.app.go_walk(place.id, place.at(load, "count"))
    await keys.line()
    await keys.press("enter")
    await keys.until(lambda: isinstance(keys.app.screen, CountScreen) and keys.app.screen.is_mounted, "the count")
    assert isinstance(keys.app.screen, CountScreen)
    return keys.app.screen


async def test_the_own_count_of_the_good_ones_and_the_marks_do_not_touch_each_other(
    open_app: Open, place: Place
) -> None:
    """A piece with a fault must not be released as good because a number was typed wrong."""
    app = open_app("AA")
    keys = Operator(app, place.clock, second="BB")
    async with app.run_test(size=SIZE) as pilot:
        screen = await counting(keys, place, place.load())
        await pilot.press("1", ".")
        await fill(pilot, "2")
        assert (list(screen.marks), screen.good) == (["A1"], 2)
        assert "1 too few" in words(app)
        await pilot.press("0")
        assert (list(screen.marks), screen.good) == ([], 2), "a mark taken back leaves the number that was counted"
        await pilot.press(".", "backspace", "enter")
        assert screen.good == 4, "the rest again"


async def test_a_mark_that_is_given_up_leaves_what_stood_there(open_app: Open, place: Place) -> None:
    """Escape at the note of another reason does not make a scrapped piece good."""
    app = open_app("AA")
    keys = Operator(app, place.clock, second="BB")
    async with app.run_test(size=SIZE) as pilot:
        screen = await counting(keys, place, place.load())
        await pilot.press("1", "9")
        assert isinstance(app.screen, FormDialog)
        await pilot.press("escape")
        assert app.screen is screen
        assert {where: reason.code for where, reason in screen.marks.items()} == {"A1": "deep"}


async def test_the_numeric_keypad_alone_counts_a_load(open_app: Open, place: Place) -> None:
    """Gloves: + to the third piece, a digit, Enter records."""
    app = open_app("AA")
    keys = Operator(app, place.clock, second="BB")
    async with app.run_test(size=SIZE) as pilot:
        screen = await counting(keys, place, place.load())
        run = screen.current_run
        await pilot.press("+", "+", "1", "+", "+", "+", "1", "0", "-", "-", "1", "enter")
        marked = place.batch.runs[run.number].count.marks
        assert [place.batch.format_slot(screen.load, piece) for mark in marked for piece in mark.pieces] == ["B1", "B2"]


async def test_scrap_is_asked_about_once_and_nothing_where_there_is_none(open_app: Open, place: Place) -> None:
    """REC-18: one key says that it is marked or destroyed; a count without scrap asks nothing."""
    app = open_app("AA")
    (place.shop.folder / "shop.toml").write_text('scrap_place = "red bin"\n')
    keys = Operator(app, place.clock, second="BB")
    async with app.run_test(size=SIZE) as pilot:
        await counting(keys, place, place.load())
        await pilot.press("1", "+", "1", "enter")
        assert isinstance(app.screen, ChoiceDialog)
        assert "Scrap, 2 pieces: marked or destroyed?" in words(app)
        assert "marked permanently: still on the carrier" in app.screen.choices[0].text, "it holds them fast"
        await pilot.press("1")
        assert isinstance(app.screen, WalkScreen)
        last = place.batch.entries[-1]
        assert (last.kind, last.body["what"], last.body["text"], last.by) == (
            "followed_up", "scrap marked", "still on the carrier", "AA"
        )  # fmt: skip
        assert list_open_scrap(place.batch) == ()

        place.hand.work(1)
        await counting(keys, place, place.load())
        await pilot.press("enter")
        assert isinstance(app.screen, WalkScreen)


@pytest.mark.parametrize("later", ["enter", "escape"])
async def test_scrap_left_open_is_said_on_the_batch_until_it_is_done(open_app: Open, place: Place, later: str) -> None:
    """REC-18: it holds nothing up, Enter goes on; the batch names it and `d` ends it."""
    app = open_app("AA")
    (place.shop.folder / "shop.toml").write_text('scrap_place = "red bin"\n')
    keys = Operator(app, place.clock, second="BB")
    async with app.run_test(size=SIZE) as pilot:
        await counting(keys, place, place.load())
        await pilot.press("1", "enter")
        assert "Enter alone or Esc: not yet" in words(app)
        await pilot.press(later)
        assert isinstance(app.screen, WalkScreen)
        assert len(list_open_scrap(place.batch)) == 1, "it says nothing"
        await pilot.press("b")
        assert "d: scrap marked or destroyed?" in words(app)
        place.hand.do(SetPiecesAside("scrap", "dropped", op=10, count=2))
        await pilot.press("d", "9")
        assert isinstance(app.screen, ChoiceDialog)
        assert app.screen.choices[0].text == "all of them"
        assert len(app.screen.choices) == 3, "what was scrapped by two entries is not answered for in one breath"
        loose = next(n for n, one in enumerate(app.screen.choices) if "dropped" in one.text)
        await pilot.press(str(loose + 1))
        assert app.screen.choices[0].text == "marked permanently: red bin"  # type: ignore[attr-defined]
        await pilot.press("1")
        assert place.batch.entries[-1].body["text"] == "red bin"
        assert len(list_open_scrap(place.batch)) == 1
        await pilot.press("d", "9", "3")
        assert list_open_scrap(place.batch) == ()
        assert "marked or destroyed?" not in words(app)


async def test_the_mouse_alone_counts_a_load(open_app: Open, place: Place) -> None:
    app = open_app("AA")
    keys = Operator(app, place.clock, second="BB")
    async with app.run_test(size=SIZE) as pilot:
        screen = await counting(keys, place, place.load())
        await pilot.pause()  # the cells have their size once they are laid out
        cell, step = screen.places.cell, screen.places.step  # type: ignore[attr-defined]
        await pilot.click("#places", offset=(4 + cell + 1, 2 * step))
        await pilot.click("#reasons", offset=(5, 1))
        assert list(screen.marks) == ["B2"]
        line = app.screen.query_one(KeyLine)
        at = next(n for n in range(80) if (key := line.find_key_at(n)) and key.action == "count")
        await pilot.click(KeyLine, offset=(at + 1, 0))
        assert screen.current_run.count is not None


async def test_all_reasons_are_in_sight_when_the_count_opens(
    open_app: Open, place: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Also those that take two lines beside the places: nobody marks a reason that is out of sight."""
    long = "cut into the wall beside it and reaching the pocket"
    reasons = tuple(replace(one, text=f"{one.text}, {long}") for one in place.batch.operation(10).reasons)
    monkeypatch.setattr(CountScreen, "codes", property(lambda _: reasons))
    app = open_app("AA")
    keys = Operator(app, place.clock, second="BB")
    async with app.run_test(size=SIZE) as pilot:
        screen = await counting(keys, place, place.load())
        for _ in range(4):
            await pilot.pause()
        assert len(screen.reasons.rows) > len(reasons) + 1, "they wrap"
        assert screen.reasons.size.height == len(screen.reasons.rows)


async def test_where_there_is_room_the_sum_stands_in_letters_read_from_two_meters(open_app: Open, place: Place) -> None:
    """What went in and what was counted, and what is left over; on a small screen the line below says it."""

    def drawn(text: str) -> bool:
        return all(row in str(screen.large.content) for row in draw_blocks(draw_block_letters(text), 2))

    app = open_app("AA")
    keys = Operator(app, place.clock, second="BB")
    async with app.run_test(size=(160, 50)) as pilot:
        screen = await counting(keys, place, place.load())
        await pilot.press("1")
        assert drawn("4 in = 3 good")
        assert drawn("+ 1 scrap")
        await pilot.press(".")
        await fill(pilot, "1")
        assert drawn("4 in = 1 good")
        assert drawn("2 too few")
        await pilot.pause()
        assert screen.large.region.bottom <= screen.sum.region.y, "it takes the free room"
        assert screen.box.max_scroll_y == 0, "and no more"
        await pilot.resize_terminal(80, 24)
        await pilot.pause()
        assert not screen.large.display


async def test_the_reason_says_what_becomes_of_a_piece_that_had_its_last_rework(
    open_app: Open, place: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The piece under the cursor: on hold, as its cell and the sum say, not back to rework."""
    load = place.load()
    place.through(load, 10)
    monkeypatch.setattr(count_form, "had_last_pass", lambda _, reason, piece: reason.to == "rework" and piece == 1)
    app = open_app("AA")
    keys = Operator(app, place.clock, second="BB")
    async with app.run_test(size=SIZE) as pilot:
        screen = await counting(keys, place, load)
        digit = screen.key_of(next(one for one in screen.codes if one.to == "rework"))
        await pilot.press(digit)
        assert f" {digit} hold Coat thin" in " ".join(words(app).split())
        assert "1 hold" in words(app)
        await pilot.press("right")
        assert f" {digit} rework Coat thin" in " ".join(words(app).split())


@pytest.mark.parametrize("places", [True, False], ids=["in places", "loose"])
@pytest.mark.parametrize("seed", range(2))
async def test_marks_change_by_their_own_keys_alone(open_app: Open, place: Place, places: bool, seed: int) -> None:
    """Whatever digits, moves and corrections come in between."""
    load = place.load()
    if not places:
        place.through(load, 10, 20, 30)
        place.through(place.load(40), 40)
        load = place.load(50)
    app, random = open_app("AA"), Random(seed)
    keys = Operator(app, place.clock, second="BB")
    async with app.run_test(size=SIZE) as pilot:
        screen = await counting(keys, place, load)
        assert screen.has_places is places
        digits = [screen.key_of(reason) for reason in screen.codes]
        screen.notes = {reason.code: "a dent" for reason in screen.codes}
        marks: dict[str, str] = {}
        heap: list[str] = []
        for key in random.choices([*digits * 3, *CLEAR, *MOVES, "7", "a"], k=60):
            await pilot.press(key)
            if key in digits and (not places or screen.here in screen.names):
                code = screen.codes[digits.index(key)].code
                heap += [code] * (len(heap) < len(screen.current_run.pieces))
                marks[screen.here] = code
            elif key in CLEAR:
                marks.pop(screen.here, None)
                heap = heap[:-1]
            if places:
                assert {where: reason.code for where, reason in screen.marks.items()} == marks, key
            else:
                assert {code: many for code, many in screen.heap.items() if many} == Counter(heap), key
            assert screen.good_typed is None


async def test_a_released_run_without_a_good_piece_says_what_became_of_them(open_app: Open, place: Place) -> None:
    load = place.load()
    marks = (MarkedPieces("deep", positions=("A1", "A2", "B1", "B2")),)
    assert place.hand.work(load, marks=marks)
    run = max(place.batch.runs)
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        assert "miscount: u; later b, j, Del" in words(app)
        assert "✓ Released: 0 good, 4 scrap; none moved on" in words(app)


async def test_where_a_count_stands_the_way_to_correct_it_is_said(open_app: Open, place: Place) -> None:
    run = place.at(place.load(), "release")
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        assert "Enter: record the release    n: leave a note    miscount: u; later b, j, Del" in words(app)
        keys = app.screen.query_one("#step-keys", Static)
        assert keys.size.height == 1, "in one row of 80 columns"
        await pilot.resize_terminal(60, 20)
        await pilot.pause()
        await pilot.pause()
        assert str(keys.content).split("\n") == [
            "Enter: record the release    n: leave a note", "miscount: u; later b, j, Del"]  # fmt: skip
        assert keys.size.height == 2, "broken between two of them"
        await pilot.press("b", "j", "end", "delete")
        assert isinstance(app.screen, FormDialog), "and so it is"


async def test_a_count_that_was_released_is_taken_back_by_one_key_twice(open_app: Open, place: Place) -> None:
    """As the released walk says: first the release, then the count."""
    run = place.at(place.load(), "count")
    app = open_app("AA")
    keys = Operator(app, place.clock, second="BB")
    async with app.run_test(size=SIZE) as pilot:
        app.go_walk(place.id, run)
        await keys.line()
        place.clock.forward(70)
        await keys.count()
        place.clock.forward(10)
        await pilot.press("enter", "u")
        await pilot.pause()
        assert place.batch.runs[run].count is not None
        assert not place.batch.runs[run].released, "the release alone"
        await pilot.press("u")
        await pilot.pause()
        assert place.batch.runs[run].count is None
        before = place.batch.seq
        await pilot.press("u")
        await pilot.pause()
        assert place.batch.seq == before, "nothing else of the last minute is theirs"


async def test_a_count_taken_back_comes_back_with_its_marks(open_app: Open, place: Place) -> None:
    """With the note of a reason that needs one; looking at them and leaving loses nothing."""
    app = open_app("AA")
    keys = Operator(app, place.clock, second="BB")
    async with app.run_test(size=SIZE) as pilot:
        await counting(keys, place, place.load())
        place.clock.forward(70)
        await pilot.press("right", "1", "down", "9")
        await fill(pilot, "bent")
        await pilot.press("enter", "escape", "u", "enter")
        await pilot.pause()
        screen = app.screen
        assert isinstance(screen, CountScreen)
        assert {where: reason.code for where, reason in screen.marks.items()} == {"A2": "deep", "B2": "other"}
        assert "Marked as in the count struck out. Correct it" in said(app)
        await pilot.press("escape")
        assert app.screen is not screen, "nothing to lose, nothing asked"
        await pilot.press("enter", "right", "0", "enter")
        count = place.batch.runs[screen.run_].count
        assert count is not None
        assert [(mark.reason, mark.pieces, mark.note) for mark in count.marks] == [("other", (4,), "bent")]


async def test_loose_pieces_of_a_count_taken_back_are_marked_again(open_app: Open, place: Place) -> None:
    place.through(place.load(), 10, 20, 30)
    place.through(place.load(40), 40)
    app = open_app("AA")
    keys = Operator(app, place.clock, second="BB")
    async with app.run_test(size=SIZE) as pilot:
        await counting(keys, place, place.load(50))
        place.clock.forward(70)
        await pilot.press("1", "1", "enter", "u", "enter")
        await pilot.pause()
        screen = app.screen
        assert isinstance(screen, CountScreen)
        assert screen.marked == 2
        await pilot.press("0")
        assert screen.marked == 1


async def test_marks_and_the_own_count_are_asked_about_before_they_go(open_app: Open, place: Place) -> None:
    app = open_app("AA")
    keys = Operator(app, place.clock, second="BB")
    async with app.run_test(size=SIZE) as pilot:
        screen = await counting(keys, place, place.load())
        await pilot.press("1", "escape")
        assert isinstance(app.screen, ConfirmDialog)
        await pilot.press("escape")
        assert app.screen is screen
        assert list(screen.marks) == ["A1"]
        assert "Enter: record 3 good + 1 scrap" in words(app)
        await pilot.press("escape", "y")
        assert app.screen is not screen


async def test_no_more_loose_pieces_are_marked_than_there_are(open_app: Open, place: Place) -> None:
    place.through(place.load(), 10, 20, 30)
    place.through(place.load(40), 40)
    app = open_app("AA")
    keys = Operator(app, place.clock, second="BB")
    async with app.run_test(size=SIZE) as pilot:
        screen = await counting(keys, place, place.load(50))
        assert not screen.has_places
        await pilot.press(*["1"] * (len(screen.current_run.pieces) + 2))
        assert screen.good == 0
        assert "All pieces are marked" in words(app)


async def test_after_the_last_operation_the_good_ones_are_finished(open_app: Open, place: Place) -> None:
    place.through(place.load(), 10, 20, 30)
    place.through(place.load(40), 40)
    run = place.at(place.load(50), "release")
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        await pilot.press("enter")
        await pilot.pause()
        assert "the good ones are finished" in words(app)
