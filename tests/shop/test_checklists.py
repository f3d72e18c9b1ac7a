"""The checklists of a shop folder, and whether a batch's file has changed since it was opened."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from floor.batch.lifecycle.commands import OpenBatch
from floor.batch.state import Batch
from floor.checklist.loading import list_shipped_checklists
from floor.shop import Shop
from floor.shop.checklists import (
    ChecklistFile,
    describe_file_change,
    find_checklist_file,
    is_file_changed,
    list_checklists,
)

TEXT = (Path(__file__).parents[1] / "batch" / "part.toml").read_text(encoding="utf-8")


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    shop = Shop(tmp_path / "shop")
    (shop.folder / "checklists").mkdir()
    (shop.folder / "checklists" / "own.toml").write_text(TEXT, encoding="utf-8")
    yield shop
    shop.close()


def opened(shop: Shop, one: ChecklistFile) -> Batch:
    assert one.loaded.checklist is not None
    return shop.open_batch(OpenBatch(shop.find_next_id(), one.loaded.checklist, one.digest, one.name, 5, 5), by="LL")


def test_own_ones_first_then_the_shipped(shop: Shop) -> None:
    found = list_checklists(shop.folder)
    assert [(one.name, one.own) for one in found] == [
        ("checklists/own.toml", True),
        *((path.name, False) for path in list_shipped_checklists()),
    ]


def test_a_shop_without_a_folder_of_its_own_has_the_shipped_ones(tmp_path: Path) -> None:
    assert [one.path for one in list_checklists(tmp_path)] == list_shipped_checklists()


def test_a_broken_one_is_offered_with_its_problems(shop: Shop) -> None:
    (shop.folder / "checklists" / "own.toml").write_bytes(b"\xff\xfe not text")
    first = list_checklists(shop.folder)[0]
    assert first.loaded.checklist is None
    assert first.loaded.problems


def test_an_edit_is_noticed_and_line_ends_are_none(shop: Shop) -> None:
    one = list_checklists(shop.folder)[0]
    batch = opened(shop, one)
    assert find_checklist_file(shop.folder, batch) == one.path
    assert not is_file_changed(batch, one.path)
    assert describe_file_change(shop.folder, batch) == ""

    one.path.write_bytes(b"\xef\xbb\xbf" + TEXT.replace("\n", "\r\n").encode())  # as some editors save it
    assert not is_file_changed(batch, one.path)

    one.path.write_text(TEXT + "# one more remark\n", encoding="utf-8")
    assert is_file_changed(batch, one.path)
    assert describe_file_change(shop.folder, batch).startswith("checklists/own.toml has changed since")
    assert batch.checklist == one.loaded.checklist


def test_a_file_that_is_gone_says_nothing_and_one_that_is_no_text_has_changed(shop: Shop) -> None:
    one = list_checklists(shop.folder)[0]
    batch = opened(shop, one)
    one.path.write_bytes(b"\xff\xfe")
    assert is_file_changed(batch, one.path)

    one.path.unlink()
    assert not is_file_changed(batch, one.path)
    assert find_checklist_file(shop.folder, batch) is None
    assert describe_file_change(shop.folder, batch) == ""


def test_a_shipped_one_is_not_confused_with_an_own_one_of_the_same_name(shop: Shop) -> None:
    name = list_shipped_checklists()[0].name
    (shop.folder / "checklists" / name).write_text(TEXT, encoding="utf-8")
    batch = opened(shop, next(one for one in list_checklists(shop.folder) if one.name == name))
    assert find_checklist_file(shop.folder, batch) == list_shipped_checklists()[0]
    assert describe_file_change(shop.folder, batch) == ""


def test_a_checklist_that_is_gone_or_shut_away_says_nothing(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    one = list_checklists(shop.folder)[0]
    batch = opened(shop, one)
    monkeypatch.setattr("os.access", lambda path, mode: path != one.path)
    one.path.write_bytes(b"\xff\xfe not text")
    assert not is_file_changed(batch, one.path), "may not be read"
    monkeypatch.undo()
    assert is_file_changed(batch, one.path), "no text"
    one.path.unlink()
    assert not is_file_changed(batch, one.path)
    assert find_checklist_file(shop.folder, batch) is None
    assert describe_file_change(shop.folder, batch) == ""
    shipped = opened(shop, list_checklists(shop.folder)[0])
    assert find_checklist_file(shop.folder, shipped) == list_shipped_checklists()[0]
    assert describe_file_change(shop.folder, shipped) == ""
