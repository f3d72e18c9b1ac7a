"""The lessons of a batch on screen: read by anybody, taken line by line by a lead."""

from __future__ import annotations

import pytest

from floor.app import FloorApp
from floor.batch.lifecycle.commands import CloseBatch, SetPiecesAside
from floor.screens.batch.lessons import LessonsScreen
from floor.screens.forms.dialogs import ChoiceDialog, ConfirmDialog
from floor.shop import Shop
from floor.shop.simulation import ManualClock
from tests.screens.conftest import Open, Picture
from tests.screens.keys import words
from tests.shop.taught import PART, own_file, teach

LIFE = b'life = "60 min"', b'life = "20 min"'


@pytest.fixture
def taught(shop: Shop, clock: ManualClock) -> str:
    return teach(shop, clock).id


def number_of(app: FloorApp, name: str) -> str:
    """The digit of an offer on view."""
    row = next(row for row in words(app).split("\n") if name in row)
    return row.split()[0]


def shown(app: FloorApp) -> str:
    return " ".join(words(app).split())


async def test_a_lead_takes_a_line_with_two_keys_and_it_is_offered_no_more(open_app: Open, taught: str) -> None:
    app = open_app("LL")
    file = own_file(app.session.shop)
    async with app.run_test(size=(80, 50)) as pilot:
        await pilot.press("b", "v", "4")
        assert isinstance(app.screen, LessonsScreen)
        assert "For checklists/part.toml" in words(app)
        digit = number_of(app, "end mill, life")
        await pilot.press(digit)
        assert isinstance(app.screen, ConfirmDialog)
        assert '- life = "60 min"' in app.screen.question
        assert '+ life = "20 min"' in app.screen.question
        await pilot.press("escape")
        assert file.read_bytes() == PART.read_bytes()
        await pilot.press(digit, "enter")
        assert isinstance(app.screen, ConfirmDialog), "Enter takes nothing"
        await pilot.press("y")
        assert "Taken into checklists/part.toml, on record" in shown(app)
        assert "end mill, life" not in words(app)
        await pilot.press("right")
        assert '✓ tool 1 life: "60 min" to "20 min" in checklists/part.toml, by LL' in shown(app)
    assert file.read_bytes() == PART.read_bytes().replace(*LIFE)


async def test_enter_lists_them_and_a_digit_too_many_is_told(open_app: Open, taught: str) -> None:
    app = open_app("LL")
    async with app.run_test(size=(80, 50)) as pilot:
        await pilot.press("b", "v", "4", "9")
        assert "There is no 9: 1 to " in words(app)
        await pilot.press("enter")
        assert isinstance(app.screen, ChoiceDialog)
        await pilot.press("escape")
        assert isinstance(app.screen, LessonsScreen)
        await pilot.press("enter", "1", "y")
        assert "Taken into checklists/part.toml, on record" in shown(app)


async def test_an_operator_reads_and_does_not_take(open_app: Open, taught: str) -> None:
    app = open_app("AA")
    async with app.run_test(size=(80, 50)) as pilot:
        await pilot.press("b", "v", "4", "1")
        assert isinstance(app.screen, LessonsScreen)
        assert "needs a lead" in shown(app)
    assert own_file(app.session.shop).read_bytes() == PART.read_bytes()


async def test_what_somebody_saves_meanwhile_is_read_again_and_never_overwritten(open_app: Open, taught: str) -> None:
    app = open_app("LL")
    file = own_file(app.session.shop)
    edited = PART.read_bytes().replace(LIFE[0], b'life = "50 min"')
    async with app.run_test(size=(80, 50)) as pilot:
        await pilot.press("b", "v", "4")
        await pilot.press(number_of(app, "end mill, life"))
        assert isinstance(app.screen, ConfirmDialog)
        file.write_bytes(edited)
        await pilot.press("y")
        assert 'tool 1 life is "50 min" there now, not "60 min"' in shown(app)
        assert file.read_bytes() == edited
        assert '- life = "50 min"' in words(app), "and the page shows the file as it is"
        await pilot.press(number_of(app, "end mill, life"), "y")
    assert file.read_bytes() == edited.replace(b"50 min", b"20 min")


async def test_without_its_file_the_lessons_stand_and_are_not_taken(open_app: Open, taught: str) -> None:
    app = open_app("LL")
    own_file(app.session.shop).unlink()
    async with app.run_test(size=(80, 50)) as pilot:
        await pilot.press("b", "v", "4")
        assert "The file checklists/part.toml is not there any more" in shown(app)
        assert 'tool 1 life: "60 min" to "20 min"' in words(app)
        await pilot.press("1")
        assert isinstance(app.screen, LessonsScreen)
        (app.session.shop.folder / "shop.toml").write_text("hands = 0\n", encoding="utf-8")
        own_file(app.session.shop).write_bytes(PART.read_bytes())
        await pilot.press("enter")
        assert "hands: 0 is out of range" in shown(app)


async def test_where_there_is_nothing_to_offer_that_is_said(open_app: Open, batch: str) -> None:
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("b", "v", "4")
        assert "Nothing to offer yet: → says why" in words(app)
        await pilot.press("enter", "right")
        assert "Nothing else is on record yet" in words(app)


async def test_a_closed_batch_teaches_too(open_app: Open, taught: str, shop: Shop) -> None:
    bench = shop.batch(taught)
    for load in bench.list_live_loads():
        shop.do(
            taught, SetPiecesAside("scrap", "stock cracked", load=load.number, count=len(bench.present(load))), "LL"
        )
    for op, _, count in list(shop.batch(taught).list_waiting_pools()):
        shop.do(taught, SetPiecesAside("scrap", "stock cracked", op=op, count=count), "LL")
    shop.do(taught, CloseBatch("all stock cracked"), "LL")
    assert taught in shop.closed()
    app = open_app("LL")
    async with app.run_test(size=(80, 50)) as pilot:
        await pilot.press("c", "3", "v", "4")
        assert isinstance(app.screen, LessonsScreen)
        assert "20 too few" in shown(app)
        await pilot.press(number_of(app, "end mill, life"), "y")
        assert "Taken into checklists/part.toml, on record" in shown(app)
    assert own_file(shop).read_bytes() == PART.read_bytes().replace(*LIFE)


@pytest.mark.parametrize("keys", [(), ("2",), ("right",)], ids=["offers", "asked", "not offered"])
def test_picture_of_the_lessons(picture: Picture, open_app: Open, taught: str, keys: tuple[str, ...]) -> None:
    """To be seen: each offer with the file's line and the new one; what is written before it is; why others are not."""
    picture(open_app("LL"), press=["b", "v", "4", *keys])
