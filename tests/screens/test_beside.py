"""What is shown beside and below lists if there is room: the line under the cursor, and losses."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable
from dataclasses import replace

import pytest
from textual.content import Content

from floor.app import FloorApp
from floor.batch.counting.losses import count_losses
from floor.batch.handover.commands import CountSubjectPieces, OfferHandover
from floor.batch.load import Load
from floor.batch.walk.lines import Line, Walk
from floor.batch.walk.station_walk import build_walk
from floor.batch.worklist.due_task import DueTask
from floor.batch.worklist.tasks import list_due_tasks
from floor.checklist.gates import LotRecorded, Measured
from floor.checklist.model import Caution
from floor.entry import Moment
from floor.screens.frame.needs_panel import draw_needs
from floor.screens.frame.side_panel import draw_due_panel, draw_loss_panel, find_walk
from floor.screens.shop.what_next import NextScreen
from floor.text import count_cells
from tests.batch.factory import Bench
from tests.papers.half_done import half_done
from tests.screens.operator import Place
from tests.screens.seen import seen

Open = Callable[..., FloorApp]


def walk_of(bench: Bench, load: Load, now: Moment, who: str) -> Walk:
    walked = find_walk(bench.state, load, now, who)
    assert walked is not None
    return walked


def panel(bench: Bench, due: DueTask, now: Moment, who: str, width: int, height: int) -> Content:
    walked = walk_of(bench, bench.state.loads[due.load], now, who) if due.load is not None else None
    return draw_due_panel(bench.state, due, walked, now, width, height)


@pytest.mark.parametrize(("width", "height"), [(53, 40), (40, 6)])
def test_it_says_of_everything_due_what_it_is_about_and_stays_in_its_room(width: int, height: int) -> None:
    bench = half_done()
    now = bench.clock()
    for due in list_due_tasks([bench.state], now):
        rows = panel(bench, due, now, "AA", width, height).plain.split("\n")

        assert len(rows) <= height
        assert all(count_cells(row) <= width for row in rows)
        if due.load is not None:
            load = bench.state.loads[due.load]
            assert rows[0].startswith(f"{bench.state.format_carrier(load)}: op {load.at}")
            if load.run is not None and height > 20:
                current = build_walk(bench.state, bench.state.runs[load.run], now, "AA").current
                assert current is not None
                assert any(current.title in row and "NOW" in row for row in rows)
    held = next(due for due in list_due_tasks([bench.state], now) if due.go == "hold")
    assert "piece " in panel(bench, held, now, "AA", width, height).plain


def test_what_is_to_be_counted_at_a_handover_has_no_figure_beside_the_list() -> None:
    """HND-16: the count comes before the recorded figure, on every list."""
    bench = half_done()
    bench.say(OfferHandover("as usual"), "LL")
    now = bench.clock()

    for due in list_due_tasks([bench.state], now):
        said = panel(bench, due, now, "BB", 60, 40).plain
        assert not re.search(r"\d+ pieces?|piece \d", said), said


async def test_the_batch_shows_no_figure_that_is_still_to_be_counted(place: Place, open_app: Open) -> None:
    load = place.load()
    place.shop.do(place.id, OfferHandover("as usual"), "LL")
    app = open_app("BB")
    async with app.run_test(size=(80, 24)) as pilot:
        app.go_batch(place.id)
        await pilot.pause()
        row = next(line for line in seen(app).split("\n") if "Pallet 1" in line)
        assert row.split()[2] == "?"
        assert "? = count first" in seen(app)
        place.shop.do(place.id, CountSubjectPieces(f"load {load}", 4), "BB")
        app.update_screens()
        await pilot.pause()
        row = next(line for line in seen(app).split("\n") if "Pallet 1" in line)
        assert row.split()[2] == "4"


def test_what_was_lost_adds_up_and_names_places_and_cause() -> None:
    bench = half_done()
    rows = draw_loss_panel(bench.state, 100, 40).plain.split("\n")

    counted: Counter[str] = Counter()
    for row in rows[1:]:
        many, to = row.split()[:2]
        counted[to] += int(many)
    wanted: Counter[str] = Counter()
    for loss, many in count_losses(bench.state).items():
        wanted[loss.to] += many
    assert counted == wanted
    assert any("places B2" in row for row in rows)


async def test_the_side_follows_the_cursor_and_only_where_there_is_room(place: Place, open_app: Open) -> None:
    place.at(place.load(), "Clamp the pallet")
    app = open_app("AA")
    async with app.run_test(size=(160, 50)) as pilot:
        await pilot.pause()
        assert "Pallet 1: op 10 Mill the groove" in seen(app)
        assert "▶ Clamp the pallet" in seen(app)
        await pilot.press("down")
        await pilot.pause()
        assert "▶ Clamp the pallet" not in seen(app)
        await pilot.press("up")
        await pilot.resize_terminal(100, 30)
        await pilot.pause()
        assert "Pallet 1: op 10" not in seen(app)


def _need(bench: Bench, load: Load, height: int, unfit: str = "") -> str:
    now = bench.clock()
    drawn = draw_needs(bench.state, walk_of(bench, load, now, "AA"), unfit, 90, height)
    assert drawn is not None
    assert len(drawn.plain.split("\n")) <= height
    assert all(count_cells(row) <= 90 for row in drawn.plain.split("\n"))
    return drawn.plain


def test_what_to_bring_to_a_load_names_tools_gauges_lots_and_each_hazard_ahead_once() -> None:
    """Questions 2 and 6: only what is still to come; a load under way needs no program and tool any more."""
    bench = half_done()
    now = bench.clock()
    for load in (one for one in bench.state.loads.values() if one.at is not None):
        walked = walk_of(bench, load, now, "AA")
        said = _need(bench, load, 60, "Mill: AA is not qualified")
        ahead = [line for line in walked.lines if not line.is_satisfied]
        assert said.startswith(f"Have ready for {bench.state.format_carrier(load)}, op {load.at}\n! Mill: AA is not")
        starts = any(line.kind == "start" for line in ahead)
        assert ("tools  " in said) == (starts and bool(walked.operation.tool_numbers))
        for caution in {caution for line in ahead for _, caution in line.cautions}:
            assert said.count(caution.hazard) == 1
        for line in ahead:
            if isinstance(line.gate, LotRecorded):
                assert line.gate.what in said
            if isinstance(line.gate, Measured) and line.gate.gauge:
                assert line.gate.gauge in said


def test_no_hazard_is_left_out_in_silence() -> None:
    """Where the room is short each is named in one line, the gravest first; what is left is counted."""
    bench = half_done()
    now = bench.clock()
    load = next(one for one in bench.state.loads.values() if one.at is not None)
    said = [("NOTICE", "Oil on the floor"), ("WARNING", "Fines burn"), ("CAUTION", "Sharp"), ("DANGER", "Live parts")]
    made = [Caution(word=word, hazard=hazard, avoid="Keep off", source="common practice") for word, hazard in said]
    cautions = tuple((str(n), caution) for n, caution in enumerate(made))
    line = Line("1", "do", "load", "Wipe", "ahead", cautions=cautions)
    walked = replace(walk_of(bench, load, now, "AA"), lines=(line,))

    def needs(height: int) -> list[str]:
        drawn = draw_needs(bench.state, walked, "", 90, height)
        assert drawn is not None
        return [row.strip(" ⚠") for row in drawn.plain.split("\n")[1:]]

    order = ["DANGER  Live parts", "WARNING  Fines burn", "CAUTION  Sharp", "NOTICE  Oil on the floor"]
    assert needs(9) == [row for one in order for row in (one, "Keep off")]
    assert needs(8) == needs(5) == order
    assert needs(4) == [*order[:2], "and 2 more cautions: each stands at its step"]


async def test_what_to_bring_stands_below_the_list_where_there_is_room(place: Place, open_app: Open) -> None:
    place.load()
    app = open_app("AA")
    async with app.run_test(size=(160, 50)) as pilot:
        await pilot.pause()
        await pilot.pause()
        screen = app.screen
        assert isinstance(screen, NextScreen)
        screen.table.move_cursor(row=next(n for n, due in enumerate(screen.due) if due.load))
        await pilot.pause()
        assert "Have ready for Pallet 1, op 10" in str(screen.needs.content)
        assert screen.needs.region.y == screen.table.region.bottom
        assert screen.table.size.height == len(screen.due) + 1
        for size in ((80, 24), (60, 20)):
            await pilot.resize_terminal(*size)
            await pilot.pause()
            assert not screen.needs.display
        await pilot.resize_terminal(160, 50)
        await pilot.pause()
        await pilot.pause()
        assert screen.needs.display
