"""The history by the documented keys: filtered, looked into, struck out, read after closing."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from textual.pilot import Pilot

from floor.app import FloorApp
from floor.batch.corrections.commands import Note
from floor.batch.corrections.strike_effects import find_dependent_runs
from floor.batch.counting.commands import MarkedPieces
from floor.batch.counting.correct_count import list_scrap_of
from floor.batch.gates.open_lot import find_lot_gate
from floor.batch.lifecycle.commands import CloseBatch, SetPiecesAside
from floor.screens.batch.history import HistoryScreen
from floor.screens.batch.trace import TraceScreen
from floor.screens.forms.dialogs import FormDialog
from floor.screens.widgets.entry_lines import EntryDetail
from floor.shop import Shop
from tests.screens.conftest import Picture
from tests.screens.keys import fill
from tests.screens.operator import Place
from tests.screens.seen import seen

Open = Callable[..., FloorApp]


async def at(pilot: Pilot[Any], batch: str) -> HistoryScreen:
    screen = HistoryScreen(pilot.app.session, batch)  # type: ignore[attr-defined]
    pilot.app.push_screen(screen)
    await pilot.pause()
    await pilot.pause()
    return screen


def rows(app: FloorApp) -> list[str]:
    """The lines of entries on screen, without the head and the frame."""
    return [line for line in seen(app).splitlines() if line[1:7].strip().isdecimal()]


async def test_the_newest_entry_is_last_and_under_the_cursor(open_app: Open, shop: Shop, half: str) -> None:
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await at(pilot, half)
        last = shop.batch(half).seq

        assert rows(app)[-1].split()[:2] == [">", str(last)]
        assert "note" not in rows(app)[-1] or "Coolant low since noon" in rows(app)[-1]
        await pilot.press("home")
        assert rows(app)[0].split()[:2] == [">", "1"]
        await pilot.press("end", "up", "up")
        assert [row.split()[1] for row in rows(app) if row.startswith(">")] == [str(last - 2)]


@pytest.mark.parametrize(
    ("keys", "said", "holds"),
    [
        (("slash", "2", "2", "enter"), "load 2", lambda row: row.split()[4] == "2"),
        (("slash", "3", *"30", "enter"), "op 30", lambda row: row.split()[5] == "30"),
        (("slash", "4", "3"), "by LL", lambda row: row.split()[3] == "LL"),
        (("slash", "5", "5"), "counts", lambda row: "counted" in row or "set aside" in row),
        (("slash", "1", *"coolant", "enter"), '"coolant"', lambda row: "Coolant" in row),
    ],
    ids=["load", "op", "person", "kind", "text"],
)
async def test_a_filter_shows_only_what_it_names_and_the_first_choice_shows_all_again(
    open_app: Open, shop: Shop, half: str, keys: tuple[str, ...], said: str, holds: Any
) -> None:
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        screen = await at(pilot, half)
        everything = rows(app)
        await pilot.press(*keys)

        shown = [row.replace(">", "> ", 1) if row.startswith(">") else f". {row}" for row in rows(app)]
        assert shown
        assert all(holds(row) for row in shown), shown
        assert f"Only {said}" in seen(app)
        await pilot.press("slash", "6")
        assert rows(app) == everything
        assert screen.wanted.said() == ""


async def test_a_load_that_is_not_there_is_reported_and_escape_changes_nothing(open_app: Open, half: str) -> None:
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        screen = await at(pilot, half)
        await pilot.press("slash", "2")
        await fill(pilot, "77")
        assert "Load 77 is not in this batch; there are 1, 2, 3" in seen(app)
        await pilot.press("escape", "slash", "escape")
        for key in "12345":
            await pilot.press("slash", key, "escape")

        assert screen.wanted.said() == ""
        assert app.screen is screen


async def test_an_entry_shows_all_its_fields_and_its_hash(open_app: Open, shop: Shop, half: str) -> None:
    app = open_app("AA")
    async with app.run_test(size=(160, 50)) as pilot:
        await at(pilot, half)
        entry = shop.batch(half).entries[-1]
        assert entry.hash[:40] in seen(app), "beside the list where there is room"
        await pilot.press("enter")
        assert isinstance(app.screen, EntryDetail)
        assert entry.hash[:40] in seen(app)
        await pilot.press("enter", "enter", "escape")
        assert isinstance(app.screen, HistoryScreen)


async def test_striking_out_takes_a_reason_and_names_what_to_look_at_again(
    open_app: Open, shop: Shop, half: str
) -> None:
    """21 CFR 11.10(e): a correction does not hide the earlier entry; the old value is still readable."""
    note = shop.do(half, Note("oven [/] is [red]hot"), "AA")[0]
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await at(pilot, half)
        await pilot.press("delete", "escape", "delete", "enter")
        assert note.seq not in shop.batch(half).struck
        assert "Reason: may not stay empty" in seen(app), "the form stays; what is typed next is no key"
        await fill(pilot, "wrong batch")

        assert shop.batch(half).struck == {note.seq: note.seq + 1}
        assert "✕ STRUCK OUT note: oven [/] is [red]hot" in seen(app)
        await pilot.press("slash", "1")
        await fill(pilot, "struck")
        await pilot.press("home", "enter")
        assert "wrong batch" in seen(app)


async def test_later_entries_of_the_same_run_are_shown_before_striking(open_app: Open, shop: Shop, half: str) -> None:
    state = shop.batch(half)
    step = next(entry for entry in state.entries if entry.kind == "step_done" and entry.body["run"] == 1)
    later = [one.seq for one in state.entries if one.body.get("run") == 1 and one.seq > step.seq]
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        screen = await at(pilot, half)
        screen.lines.action_to(step.seq - 1)
        await pilot.press("delete")

        assert isinstance(app.screen, FormDialog)
        assert "Look at these again afterwards" in seen(app)
        assert f"(and {len(later) - 6} more)" in seen(app)
        await fill(pilot, "undone")
        assert f"Look again at {later[0]}, {later[1]}" in " ".join(seen(app).split())


async def test_what_others_entered_is_struck_by_a_lead_only(open_app: Open, shop: Shop, half: str) -> None:
    note = shop.do(half, Note("by LL"), "LL")[0]
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await at(pilot, half)
        screen = app.screen
        await pilot.press("delete")

        assert app.screen is screen, "before a reason is typed"
        assert note.seq not in shop.batch(half).struck
        assert "needs a lead" in seen(app)


async def test_new_entries_are_followed_only_from_the_end(open_app: Open, shop: Shop, half: str) -> None:
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        screen = await at(pilot, half)
        shop.do(half, Note("first"), "LL")
        app.update_screens()
        assert screen.lines.entry is not None
        assert screen.lines.entry.body["text"] == "first"
        await pilot.press("up")
        before = screen.lines.entry
        shop.do(half, Note("second"), "LL")
        app.update_screens()
        assert screen.lines.entry == before


async def test_a_closed_batch_is_read_and_no_more(open_app: Open, shop: Shop, batch: str) -> None:
    shop.do(batch, SetPiecesAside("scrap", "wrong stock", op=10, count=10), "LL")
    shop.do(batch, CloseBatch("wrong stock"), "LL")
    assert batch in shop.closed()
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        screen = await at(pilot, batch)
        assert "closed with 0 finished" in rows(app)[-1]
        assert "it can only be read" in seen(app)
        await pilot.press("delete")
        assert app.screen is screen
        assert screen.current_batch is screen.current_batch, "folded once"
        await pilot.press("home", "down", "t")

        assert isinstance(app.screen, FormDialog), "the entry is about no single piece: it asks which"
        await pilot.press("3", "enter", "enter", "enter")
        assert isinstance(app.screen, TraceScreen)
        assert "Piece 3 of 10: scrap" in seen(app)


async def test_the_trace_starts_at_the_piece_of_the_entry(open_app: Open, shop: Shop, half: str) -> None:
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await at(pilot, half)
        await pilot.press("slash", "1")
        await fill(pilot, "set aside")
        await pilot.press("t")

        piece = next(entry for entry in shop.batch(half).entries if entry.kind == "set_aside").body["pieces"][0]
        assert isinstance(app.screen, TraceScreen)
        assert app.screen.piece == piece
        await pilot.press("escape")
        assert isinstance(app.screen, HistoryScreen)


async def test_the_mouse_chooses_and_opens(open_app: Open, half: str) -> None:
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        screen = await at(pilot, half)
        await pilot.click("#entries", offset=(10, 2))
        assert screen.lines.cursor == screen.lines.top + 2
        await pilot.click("#entries", offset=(10, 2))
        assert isinstance(app.screen, EntryDetail)


def test_picture_of_the_history(picture: Picture, open_app: Open, shop: Shop, half: str) -> None:
    """A struck entry readable and marked by sign and word, the cursor on it; at 160 columns with its fields beside."""
    shop.do(half, Note("typed by mistake"), "AA")

    async def go(pilot: Pilot[Any]) -> None:
        await at(pilot, half)
        await pilot.press("delete")
        await fill(pilot, "wrong batch")
        await pilot.press("up")

    picture(open_app("AA"), run_before=go)


async def test_what_a_struck_proof_let_through_is_listed_and_held_by_the_lead(
    open_app: Open, shop: Shop, half: str
) -> None:
    proof = next(entry for entry in shop.batch(half).entries if entry.body.get("gate") == "tool loaded")
    relying = find_dependent_runs(shop.batch(half), proof.seq)
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        screen = await at(pilot, half)
        screen.lines.action_to(screen.lines.entries.index(proof))
        await pilot.press("delete")
        assert f"load {relying[0].load}, op 10" in seen(app)
        await fill(pilot, "gauge read wrong")
        assert "Hold their pieces?" in seen(app)
        await pilot.press("escape", "delete", "1")
        await fill(pilot, "")
        assert {entry.seq for entry in screen.lines.entries} >= {proof.seq}
        held = shop.batch(half).entries[-1]
        assert (held.kind, held.body["of_run"]) == ("set_aside", relying[0].number), seen(app)
        assert "on hold. Del: the other runs" in seen(app)


async def test_a_wrong_lot_is_corrected_where_it_is_struck_out(open_app: Open, shop: Shop, half: str) -> None:
    batch = shop.batch(half)
    entry = next(one for one in batch.entries if find_lot_gate(batch, one) is not None)
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        screen = await at(pilot, half)
        screen.lines.action_to(screen.lines.entries.index(entry))
        await pilot.press("delete")
        assert "another lot went in" in seen(app)
        await pilot.press("1")
        assert "What was entered first stays on record" in seen(app)
        await fill(pilot, "E-201", *(["2027-01-31"] if "use by" in seen(app).casefold() else []), "read it again")
        corrected = shop.batch(half).corrected_lots[entry.seq]
        assert (corrected.lot, corrected.by, corrected.reason) == ("E-201", "LL", "read it again")
        assert "lot E-201, corrected in entry" in seen(app)

        await pilot.press("delete", "2")
        await fill(pilot, "no lot at all")
        assert entry.seq in shop.batch(half).struck


async def test_a_count_whose_load_has_gone_on_is_corrected_where_it_is_struck_out(
    open_app: Open, shop: Shop, half: str
) -> None:
    """A piece that was counted as scrap and was good: by keys, from the count in the history, until it is on hold."""
    batch = shop.batch(half)
    entry = next(one for one in batch.entries if list_scrap_of(batch, one.seq))
    piece, before = list_scrap_of(batch, entry.seq)[0], batch.total("hold")
    place = batch.format_slot(batch.loads[batch.places[piece].load], piece)
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        screen = await at(pilot, half)
        screen.lines.action_to(screen.lines.entries.index(entry))
        await pilot.press("delete")
        assert "pieces were good" in seen(app)
        await pilot.press("1")
        assert not isinstance(app.screen, FormDialog), "nobody types for nothing"
        app.session.sign_in("LL")
        await pilot.press("delete", "1")
        assert "come back on hold" in seen(app)
        await fill(pilot, place or "1", "it was good")
        assert shop.batch(half).total("hold") == before + 1, seen(app)
        assert "1 piece back on hold, to be decided on (d)" in seen(app)


async def test_what_is_no_lot_of_theirs_is_refused_before_anything_is_typed(
    open_app: Open, shop: Shop, half: str
) -> None:
    batch = shop.batch(half)
    entry = next(one for one in batch.entries if find_lot_gate(batch, one) is not None)
    stranger = next(one for one in ("AA", "BB") if one != entry.by)
    app = open_app(stranger)
    async with app.run_test(size=(80, 24)) as pilot:
        screen = await at(pilot, half)
        screen.lines.action_to(screen.lines.entries.index(entry))
        await pilot.press("delete", "1")
        assert app.screen is screen
        assert "needs a lead" in seen(app)


async def test_what_is_refused_says_what_to_do_instead(open_app: Open, place: Place) -> None:
    """A count whose load has gone on, one piece of it held: what is wrong first, then the ways that there are."""
    load = place.load()
    place.through(load, 10, 20)
    place.hand.work(load, marks=(MarkedPieces("torn", ("A1",)), MarkedPieces("soft", ("A2",))))
    counted = next(one for one in reversed(place.batch.entries) if one.kind == "counted")
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        screen = await at(pilot, place.id)
        screen.lines.action_to(screen.lines.entries.index(counted))
        await pilot.press("delete", "2")
        said = " ".join(seen(app).split())
        assert f"depends on entry {counted.seq}" in said
        assert "Or d on the batch: decide on its held pieces. Or Del, 1: its scrap was good. Or m on" in said
