"""Records of earlier versions of Floor are read, verified and folded to the same state, and left alone."""

from __future__ import annotations

import ast
import json
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from floor.batch.describe import describe
from floor.batch.fold import HANDLERS
from floor.ledger.bundle import read_bundle
from floor.ledger.verify import verify_journal
from floor.shop import Shop
from tests.records.make import HERE, SHOPS
from tests.records.state import states

each = pytest.mark.parametrize("name", SHOPS)


def unpacked(name: str, folder: Path) -> dict[Path, bytes]:
    """The files of a shop of the corpus, now in this folder."""
    with zipfile.ZipFile(HERE / f"{name}.zip") as packed:
        packed.extractall(folder)
    return {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def differences(was: object, now: object, at: str = "") -> Iterator[str]:
    """Where two states differ, a line each. Of a reading out of limits older states hold words made of its values."""
    if at.endswith("/probed") and isinstance(now, dict) and was != now:
        now = without_op(now)
    if isinstance(was, dict) and isinstance(now, dict):
        for key in sorted(was.keys() | now.keys()):
            if "/out/" in at and key in ("said", "title", "of_piece", "gate", "values", "again"):
                continue
            newer = not now.get(key) or ("/waivers/" in at and key == "closed_by") or key in ("left_out", "opened")
            if key not in was and newer:
                continue  # a newer field, of which an older state or record says nothing
            if key not in was or key not in now:
                yield f"{at}/{key}: {'no more' if key in was else 'new'}"
            else:
                yield from differences(was[key], now[key], f"{at}/{key}")
    elif isinstance(was, list) and isinstance(now, list) and len(was) == len(now) and was != now:
        for n, (one, other) in enumerate(zip(was, now, strict=True)):
            yield from differences(one, other, f"{at}/{n}")
    elif was != now:
        yield f"{at}: was {str(was)[:200]}, is {str(now)[:200]}"


def without_op(probed: dict[str, list[list[int]]]) -> dict[str, list[list[int]]]:
    """What was probed by place as older states have it: of all operations of a carrier together."""
    found: dict[str, list[list[int]]] = {}
    for place, readings in probed.items():
        station, _, *rest = ast.literal_eval(place)
        found.setdefault(str([station, *rest]), []).extend(readings)
    return {place: sorted(readings, key=lambda one: one[0]) for place, readings in found.items()}


@each
def test_a_record_is_folded_to_the_same_state_and_left_as_it_is_on_disk(name: str, tmp_path: Path) -> None:
    files = unpacked(name, tmp_path)
    with zipfile.ZipFile(HERE / f"{name}.state.zip") as packed:
        was = json.loads(packed.read("state.json"))

    now = json.loads(json.dumps(states(tmp_path)))

    assert list(differences(was, now))[:20] == []
    assert {path: path.read_bytes() for path in files} == files


@each
def test_a_record_is_verified_and_every_entry_described(name: str, tmp_path: Path) -> None:
    unpacked(name, tmp_path)
    for record in tmp_path.glob("*/record"):
        shop = Shop(record.parent)
        for id in [*(batch.id for batch in shop.batches), *shop.closed()]:
            batch = shop.batch(id)
            assert verify_journal(shop.journals.open(id)).sound
            assert all(describe(batch, entry).strip() for entry in batch.entries)
        shop.close()


def test_the_bundles_are_read(tmp_path: Path) -> None:
    unpacked("away", tmp_path)
    sent, first = read_bundle(tmp_path / "out.floor")
    back, second = read_bundle(tmp_path / "back.floor")
    assert sent == back == "B0001"
    assert second[: len(first)] == first
    assert {entry.boot for entry in second[len(first) :]} == {"otherhost-7f3a"}


def test_every_kind_of_entry_is_in_the_corpus_and_its_batches_are_whole(tmp_path: Path) -> None:
    """A kind not in it would not be missed."""
    kinds: set[str] = set()
    for name in SHOPS:
        unpacked(name, tmp_path / name)
        for record in (tmp_path / name).glob("*/record"):
            shop = Shop(record.parent)
            for id in [*(batch.id for batch in shop.batches), *shop.closed()]:
                kinds |= {entry.kind for entry in shop.batch(id).entries}
            if name in ("order", "pins", "struts"):
                assert [shop.batch(id).closed is not None for id in shop.closed()] == [True]
            shop.close()
    assert {event.KIND for event in HANDLERS} - kinds == {"out_settled"}
