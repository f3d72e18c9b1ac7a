"""What stands on tags, and that each leads to what it is on."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta, timezone
from pathlib import Path

import pytest

from floor.batch.lifecycle.commands import OpenBatch
from floor.papers.save import save_tag
from floor.papers.tag_codes import draw_ascii
from floor.papers.tags import (
    TagLabel,
    find_labels,
    label_box,
    label_load,
    list_carrier_labels,
    list_gauge_labels,
    list_load_labels,
    list_lot_labels,
    list_person_labels,
    list_station_labels,
    list_tool_labels,
    write_tags,
)
from floor.shop import Shop
from floor.shop.find_tagged import BatchPlace, NoPlace, find_tagged
from floor.shop.simulation import ManualClock, SimulatedOperator
from floor.text import WIDTH, count_cells
from tests.batch.factory import part, two_mills
from tests.papers.half_done import work_to_half

MORNING = datetime(2026, 3, 2, 7, 0, tzinfo=timezone(timedelta(hours=1)))


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    """A shop with a half-done batch, another one on other stations, and a gauge."""
    clock = ManualClock(MORNING)
    shop = Shop(tmp_path_factory.mktemp("tags") / "shop", clock)
    shop.add_person("LL", "Lena Lindqvist", True, by="LL")
    for initials, name in (("AA", "Arne Aas"), ("BB", "Bea Brandt")):
        shop.add_person(initials, name, False, by="LL")
    shop.add_gauge("DM-04", "Depth micrometer", "2026-09-01", "LL")
    id = shop.open_batch(OpenBatch("B0001", part(), "d", "part.toml", 8, 10, reference="PO 12"), by="LL").id
    work_to_half(
        SimulatedOperator(shop, id, "AA", clock, second="BB"), SimulatedOperator(shop, id, "LL", clock, second="BB")
    )
    shop.open_batch(OpenBatch("B0002", two_mills(), "d", "part.toml", 8, 8), by="LL")
    yield shop
    shop.close()


def list_all(shop: Shop) -> list[TagLabel]:
    batches, owner = shop.batches, shop.first_hash
    return [
        *list_carrier_labels(batches, owner),
        *(label for batch in batches for label in list_load_labels(batch)),
        *(label_box(batch) for batch in batches),
        *list_station_labels(batches, owner),
        *list_tool_labels(batches, owner),
        *list_lot_labels(batches, owner),
        *list_person_labels({one.initials: one.name for one in shop.people.active}, owner),
        *list_gauge_labels(shop.people.gauges.values(), owner),
    ]


def test_every_tag_that_the_shop_can_print_leads_somewhere(shop: Shop) -> None:
    """But an empty carrier, which is known as such."""
    labels = list_all(shop)
    assert {one.kind for one in labels} == {"carrier", "load", "box", "station", "tool", "lot", "person", "gauge"}
    for label in labels:
        found = find_tagged(shop, label.text)
        assert not isinstance(found, NoPlace) or found.why == "empty", label


def test_no_two_tags_are_alike(shop: Shop) -> None:
    labels = list_all(shop)
    assert len({one.text for one in labels}) == len(labels)
    assert len({one.stem for one in labels}) == len(labels)


def test_a_load_says_its_carrier_and_part(shop: Shop) -> None:
    batch = shop.batch("B0001")
    load = batch.loads[2]
    label = label_load(batch, load)
    checked = batch.checklist.part
    assert label.words == (
        "B0001 load 2",
        batch.format_carrier(load),
        f"{checked.number} {checked.revision} {checked.name}",
    )


def test_a_box_says_part_batch_and_count_or_leaves_room_for_it(shop: Shop) -> None:
    batch = shop.batch("B0001")
    assert label_box(batch).words[2:] == ("Batch B0001", "Reference PO 12", "Pieces ______, box ______")
    told = label_box(batch, 24, "2")
    assert told.words[-1] == "Pieces 24, box 2"
    assert told.text == label_box(batch).text
    assert find_tagged(shop, told.text) == BatchPlace("B0001", closed=False)


def test_people_ask_by_the_names_on_the_tag(shop: Shop) -> None:
    carriers = list_carrier_labels(shop.batches, shop.first_hash)
    assert [one.words[0] for one in find_labels(carriers, ["pallet 2"])] == ["Pallet 2"]
    tools = list_tool_labels(shop.batches, shop.first_hash)
    station = tools[0].names[0]
    assert {one.names[0] for one in find_labels(tools, [station.upper()])} == {station}
    assert find_labels(tools, [station, "987"]) == []
    assert find_labels(tools, []) == tools


def test_the_page_holds_words_code_and_text_in_80_columns(shop: Shop) -> None:
    pages = write_tags(list_all(shop))
    assert len(pages) == len(list_all(shop))
    for page, label in zip(pages, list_all(shop), strict=True):
        assert max(map(count_cells, page.splitlines())) <= WIDTH
        assert page.endswith(f"{label.text}\n")
        assert all(line in page for line in label.words if len(line) < WIDTH)
    assert all(
        page.isascii() for page in write_tags(list_person_labels({"RK": "Rosa King"}, shop.first_hash), draw_ascii)
    )


def test_the_pictures_of_the_same_tag_are_the_same_files(shop: Shop, tmp_path: Path) -> None:
    label = list_gauge_labels(shop.people.gauges.values(), shop.first_hash)[0]
    paths = save_tag(tmp_path, label)
    assert [one.name for one in paths] == ["tag-gauge-dm-04.svg", "tag-gauge-dm-04.png"]
    assert save_tag(tmp_path, label) == paths
    assert [one.name for one in save_tag(tmp_path, label, "128")] == [
        "tag-gauge-dm-04-bars.svg",
        "tag-gauge-dm-04-bars.png",
    ]
    assert paths[1].read_bytes().startswith(b"\x89PNG")


def test_a_shop_without_a_record_has_no_tags() -> None:
    with pytest.raises(ValueError, match="nobody is entered in this shop yet"):
        list_person_labels({"RK": "Rosa King"}, "")
