"""Pieces to start and material required, as printed: it fits the paper and shows the computed figures."""

from __future__ import annotations

import json
import re
from dataclasses import replace

import pytest

from floor.checklist.blank_layout import compute_layout, describe_layout
from floor.checklist.equipment import Blank
from floor.checklist.loading import list_shipped_checklists, load_checklist
from floor.checklist.material_required import list_supplies
from floor.checklist.model import Checklist
from floor.checklist.units import read_measure
from floor.figures.layout import Clamps
from floor.papers.drawing import draw_blank
from floor.papers.start_quantity import make_start_data, write_start_text
from floor.planning.start_plan import plan_start

CHECKLISTS = {file.stem: load_checklist(file).checklist for file in list_shipped_checklists()}


def blank(at: Clamps, clamp: str = "20 mm", **piece: str) -> Blank:
    sizes = {"length": "300 mm", "width": "100 mm", "gap": "4 mm", "margin": "5 mm", "clamp": clamp, **piece}
    return Blank(clamp_at=at, **{name: read_measure(text, "length") for name, text in sizes.items()})


@pytest.mark.parametrize("checklist", CHECKLISTS.values(), ids=CHECKLISTS)
def test_it_fits_80_columns_and_names_every_consumable(checklist: Checklist) -> None:
    found = plan_start(checklist, checklist.order or 20, 0.95)
    text = write_start_text(checklist, found)

    assert max(map(len, text.splitlines())) <= 80
    assert f"Material required for {found.pieces} pieces" in text
    for one in found.supplies:
        line = next(line for line in text.splitlines() if line.strip().startswith(one.what[:30]))
        assert one.needed in line
        assert line.endswith(one.to_have)


def test_one_blank_is_not_reported_to_be_several() -> None:
    plate = CHECKLISTS["thermal-break-plate"]
    assert plate is not None
    assert "1 blank to cut, 1 piece on the last" in write_start_text(plate, plan_start(plate, 1, 0.9, pieces=1))


def test_json_holds_the_shelf_the_beds_and_the_layout() -> None:
    plate = CHECKLISTS["thermal-break-plate"]
    assert plate is not None
    found = json.loads(json.dumps(make_start_data(plate, plan_start(plate, 96, 0.95))))

    assert found["stock"]["blanks"] * found["stock"]["pieces_per_blank"] == found["start_rounded"]["pieces"] == 128
    assert found["beds"] == [{"carrier": "Tray", "capacity": 24, "room_for": 24, "rows": "square", "turned": False}]
    for one, written in zip(list_supplies(plate, 128), found["shelf"], strict=True):
        assert (written["what"], written["packages"]) == (one.what, one.packages)
        assert written["needed"] == pytest.approx(one.amount, abs=1e-6)
        assert written["unit"] == (one.unit or "pieces")


@pytest.mark.parametrize(
    ("at", "left", "right", "top", "bottom"),
    [
        ("one end", True, False, False, False),
        ("both ends", True, True, False, False),
        ("one side", False, False, False, True),
        ("both sides", False, False, True, True),
        ("all round", True, True, True, True),
    ],
)
def test_clamps_are_drawn_where_they_sit(at: Clamps, left: bool, right: bool, top: bool, bottom: bool) -> None:
    first, *rows, last = draw_blank(blank(at, piece_diameter="12 mm"), 62)

    assert {len(row) for row in (first, *rows, last)} == {62}
    inside = [row[1:-1] for row in rows]
    assert (set(inside[0]) == {"/"}, set(inside[-1]) == {"/"}) == (top, bottom)
    middle = inside[len(inside) // 2]
    assert (middle[:4] == "////", middle[-4:] == "////") == (left, right)


def test_every_piece_is_drawn_once_with_its_number_and_apart_from_its_neighbors() -> None:
    one = blank("all round", piece_length="40 mm", piece_width="20 mm")
    text = "\n".join(draw_blank(one, 76))

    assert describe_layout(one) == "12 pieces, lengthwise (turned: 11)"
    assert [int(n) for n in sorted(re.findall(r"\d+", text), key=int)] == list(range(1, compute_layout(one).pieces + 1))
    assert "▒░" in text or "░▒" in text, "neighbors without a cell between them are shaded differently"


def test_a_bar_whose_pieces_are_too_small_to_draw_is_not_drawn() -> None:
    """No empty box: in 76 columns the center of the only row lies beside the pieces."""
    bar = replace(blank("both ends", piece_length="45 mm", piece_width="30 mm"), clamp=None)
    sizes = {"length": "3000 mm", "width": "40 mm"}
    long = replace(bar, **{name: read_measure(size, "length") for name, size in sizes.items()})
    assert compute_layout(long).pieces > 50
    assert draw_blank(long, 76) == []
    assert draw_blank(bar, 76) != []

    plate = load_checklist(next(file for file in list_shipped_checklists() if "plate" in file.stem)).checklist
    assert plate is not None
    found = write_start_text(replace(plate, blank=long), plan_start(replace(plate, blank=long), 20, 0.9))
    assert "a blank of 3000 mm x 40 mm" in found
    assert "┌" not in found


def test_a_drawing_is_kept_to_its_height() -> None:
    tall = Blank(
        **{
            name: read_measure(text, "length")
            for name, text in {
                "length": "50 mm",
                "width": "400 mm",
                "gap": "2 mm",
                "margin": "2 mm",
                "piece_diameter": "9 mm",
            }.items()
        }
    )
    assert len(draw_blank(tall, 78, 16)) <= 16
