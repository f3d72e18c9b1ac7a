"""Whose work it is, in sight wherever work is done: batch, order, part, revision, operation, carrier, step n of N."""

from __future__ import annotations

import pytest

from floor.app import FloorApp
from floor.batch.gates.commands import Waive
from floor.batch.lifecycle.commands import OpenBatch
from floor.screens.walk.begin_run import BeginScreen
from floor.screens.walk.count_form import CountScreen
from floor.screens.walk.large_view import LargeViewScreen
from floor.shop import Shop
from floor.shop.simulation import ManualClock
from tests.batch.factory import part
from tests.screens.operator import Place
from tests.screens.seen import seen


@pytest.fixture
def ordered(shop: Shop, clock: ManualClock) -> Place:
    """A batch with the number of its order."""
    id = shop.find_next_id()
    shop.open_batch(OpenBatch(id, part(), "digest", "part.toml", 8, 10, reference="PO 4711"), by="LL")
    return Place(shop, id, clock)


def top_rows(app: FloorApp) -> list[str]:
    return [row.strip() for row in seen(app).splitlines()[:4]]


@pytest.mark.parametrize("waived", [False, True], ids=["all is well", "something is out of the ordinary"])
@pytest.mark.parametrize("where", ["start", "walk", "count"])
async def test_whose_work_it_is_stands_on_every_working_screen(ordered: Place, where: str, waived: bool) -> None:
    load = ordered.load()
    if waived:
        run = ordered.at(load, "Probe G54 X Z")
        ordered.shop.do(ordered.id, Waive(run, "probed 1", "probe is broken"), "LL")
        ordered.through(load, 10)
    run = 0
    if where != "start":
        run = ordered.at(load, "Brush the coat on" if where == "walk" and waived else "count")
    app = FloorApp(ordered.shop, who="AA", ticking=False)
    async with app.run_test(size=(80, 24)) as pilot:
        if where == "start":
            app.go(BeginScreen(app.session, ordered.id, load))
        elif where == "walk":
            app.go_walk(ordered.id, run)
        else:
            app.go(CountScreen(app.session, ordered.id, run))
        await pilot.pause()
        head, job, *below = top_rows(app)
        op = 20 if waived else 10
        assert head.startswith("B0001  ")
        assert "Pallet 1" in head
        assert f"op {op} " in head
        assert job.startswith("KB-7 A · Pallet 1 of 3 · PO 4711")
        assert any(row.startswith("! ") for row in below) == waived
        if where == "walk":
            walked = app.screen.get_walk()  # type: ignore[attr-defined]
            assert f"step {walked.step}/{walked.steps}" in head
            met = sum(line.state == "done" for line in walked.gates)
            assert f"{met} of {len(walked.gates)} checks met" in job


@pytest.mark.parametrize(
    ("columns", "whole"),
    [
        (80, "KB-7 A · Pallet 1 of 3 · PO 4711 · 5 of 9 checks met · Keeper bracket"),
        (60, "KB-7 A · Pallet 1 of 3 · PO 4711 · 5 of 9 checks met"),
        (40, "KB-7 A · Pallet 1 of 3 · PO 4711"),
    ],
)
async def test_with_less_room_the_name_gives_way_first_and_the_part_last(
    ordered: Place, columns: int, whole: str
) -> None:
    run = ordered.at(ordered.load(), "Clamp the pallet")
    app = FloorApp(ordered.shop, who="AA", ticking=False)
    async with app.run_test(size=(columns, 24)) as pilot:
        app.go_walk(ordered.id, run)
        await pilot.pause()
        assert top_rows(app)[1] == whole


async def test_on_a_short_screen_it_gives_way_to_what_is_out_of_the_ordinary(ordered: Place) -> None:
    run = ordered.at(ordered.load(), "Probe G54 X Z")
    app = FloorApp(ordered.shop, who="AA", ticking=False)
    async with app.run_test(size=(60, 20)) as pilot:
        app.go_walk(ordered.id, run)
        await pilot.pause()
        assert top_rows(app)[1].startswith("KB-7 A")
        ordered.shop.do(ordered.id, Waive(run, "probed 1", "probe is broken"), "LL")
        app.update_screens()
        await pilot.pause()
        assert top_rows(app)[1].startswith("! ")


async def test_the_large_letters_stand_under_the_number_of_the_order_too(ordered: Place) -> None:
    run = ordered.at(ordered.load(), "Clamp the pallet")
    app = FloorApp(ordered.shop, who="AA", ticking=False)
    async with app.run_test(size=(80, 24)) as pilot:
        app.go(LargeViewScreen(app.session, ordered.id, run))
        await pilot.pause()
        assert top_rows(app)[0].startswith("B0001 KB-7 A  PO 4711  op 10 Mill the groove")


async def test_without_a_number_of_the_order_no_place_is_kept_for_it(place: Place) -> None:
    run = place.at(place.load(), "Clamp the pallet")
    app = FloorApp(place.shop, who="AA", ticking=False)
    async with app.run_test(size=(80, 24)) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        assert top_rows(app)[1].startswith("KB-7 A · Pallet 1 of 3 · 5 of 9 checks met")
