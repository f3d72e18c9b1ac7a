"""What comes from elsewhere is judged like local entries, whoever wrote it."""

from __future__ import annotations

import json
import random
import sys
from collections.abc import Iterator
from contextlib import suppress
from copy import deepcopy
from dataclasses import replace
from hashlib import sha256
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest

from floor.batch.command import Refused
from floor.batch.corrections.commands import Note
from floor.batch.handover.commands import OfferHandover
from floor.batch.lifecycle.commands import OpenBatch
from floor.entry import Entry
from floor.ledger import BundleRefused, LedgerError
from floor.ledger.bundle import MAX_BUNDLE
from floor.ledger.file_format import CLOSING, encode_header, encode_journal
from floor.ledger.hash_chain import ZERO, encode_canonical, strip_hash
from floor.papers.status import write_status_json, write_status_text
from floor.shop import Shop
from floor.shop.maintenance import receive_batch, review_bundle, send_batch
from floor.shop.simulation import ManualClock, SimulatedOperator
from tests.batch.factory import MORNING, StepClock, part


def bundle_of(entries: list[Entry], path: Path, name: str = "B0001") -> Path:
    """A file as `floor bundle` writes it, whatever its entries say."""
    text = encode_journal(name, entries).rstrip(b" ")
    path.write_bytes(encode_header(name, entries=len(entries), head=entries[-1].hash) + text[text.index(b"\n") :])
    return path


def chained(entries: list[Entry]) -> list[Entry]:
    """Forged entries with their places, links and hashes right."""
    prev, done = ZERO, []
    for seq, entry in enumerate(entries, 1):
        entry = replace(entry, seq=seq, prev=prev)
        prev = sha256(encode_canonical(strip_hash(entry)).encode()).hexdigest()
        done.append(replace(entry, hash=prev))
    return done


def a_shop(folder: Path, clock: StepClock, pin: str = "") -> Shop:
    shop = Shop(folder, clock)
    shop.add_person("LL", "Lee Lead", True, by="-")
    if pin:
        shop.set_pin("LL", pin, by="LL")
    return shop


def worked(shop: Shop) -> None:
    """A batch of which some is worked, some waits, one is held."""
    batch = shop.open_batch(OpenBatch(shop.find_next_id(), part(), "digest", "part.toml", 6, 8), "LL")
    hand = SimulatedOperator(shop, batch.id, "LL", ManualClock(shop.clock().at))
    with suppress(Refused):
        load = hand.form(10)
        hand.work(load, stop=lambda line: line.kind == "end")
    shop.do(batch.id, Note("coolant low", abnormal=True, next_shift=True), "LL")
    shop.do(batch.id, OfferHandover("as it stands"), "LL")


@pytest.fixture
def clock() -> StepClock:
    return StepClock(MORNING)


@pytest.fixture
def here(tmp_path: Path, clock: StepClock) -> Iterator[Shop]:
    shop = a_shop(tmp_path / "here", clock, pin="4711")
    worked(shop)
    yield shop
    shop.close()


def forged_on(entries: list[Entry], *kinds: tuple[str, dict[str, Any]], by: str = "LL") -> list[Entry]:
    last = entries[-1]
    return chained([*entries, *(replace(last, by=by, kind=kind, body=body) for kind, body in kinds)])


def test_nobody_goes_on_with_a_batch_that_is_alive_here(here: Shop, tmp_path: Path) -> None:
    """Somebody copies the batch's file, adds acts in the lead's name and an end, and returns it as a bundle."""
    mine = list(here.batch("B0001").entries)
    noted = {"text": "all gauges right", "abnormal": False, "next_shift": False}
    forged = forged_on(mine, ("noted", noted), ("gone_over", {"to": "here"}))
    offer = review_bundle(here, bundle_of(forged, tmp_path / "b.floor"))
    assert offer.never_sent
    assert [(actor.initials, actor.entries, actor.pin_here) for actor in offer.actors] == [("LL", 2, True)]

    with pytest.raises(Refused, match="B0001 is active here and was sent to nobody"):
        receive_batch(here, offer, "LL")

    assert here.batch("B0001").entries == mine
    assert receive_batch(here, offer, "LL", instead=True).name == "B0001", "a lead may know better"
    assert here.batch("B0001").entries[: len(forged)] == forged


def test_whose_pin_is_known_here_is_reported_of_each_who_acted(here: Shop, tmp_path: Path) -> None:
    here.add_person("AA", "Ann", False, by="LL")
    forged = list(here.batch("B0001").entries)
    for by in ("AA", "ZZ"):
        forged = forged_on(forged, ("noted", {"text": "x"}), by=by)
    forged = forged_on(forged, ("gone_over", {"to": "here"}))

    offer = review_bundle(here, bundle_of(forged, tmp_path / "b.floor"))

    assert {actor.initials: actor.pin_here for actor in offer.actors} == {"AA": False, "LL": True, "ZZ": False}


def test_a_batch_is_taken_in_by_a_lead(here: Shop, tmp_path: Path, clock: StepClock) -> None:
    here.add_person("AA", "Ann", False, by="LL")
    there = a_shop(tmp_path / "there", clock)
    worked(there)
    send_batch(there, "B0001", tmp_path / "b.floor", "home", "LL")
    there.close()

    with pytest.raises(Refused, match="needs a lead"):
        receive_batch(here, review_bundle(here, tmp_path / "b.floor"), "AA")

    assert [batch.id for batch in here.batches] == ["B0001"]


def test_a_file_that_is_another_one_since_it_was_looked_at_is_not_taken_in(here: Shop, tmp_path: Path) -> None:
    mine = list(here.batch("B0001").entries)
    send_batch(here, "B0001", tmp_path / "b.floor", "north shop", "LL")
    offer = review_bundle(here, tmp_path / "b.floor")
    bundle_of(forged_on(mine, ("gone_over", {"to": "x"})), tmp_path / "b.floor")

    with pytest.raises(BundleRefused, match="changed since it was looked at"):
        receive_batch(here, offer, "LL")


def test_a_file_with_another_record_than_a_batchs_is_taken_for_none(here: Shop, tmp_path: Path) -> None:
    """The people of a shop; and a batch under their name, which would pass for the people if nobody is entered yet."""
    people = bundle_of(list(here.journals.open("shop").entries), tmp_path / "people.floor", "B0002")
    mine = forged_on(list(here.batch("B0001").entries), ("gone_over", {"to": "here"}))
    for file in (people, bundle_of(mine, tmp_path / "b.floor", "shop")):
        with pytest.raises(Refused, match="is the record of no batch"):
            review_bundle(here, file)


def test_a_batch_that_was_not_sent_is_not_taken_in(here: Shop, tmp_path: Path) -> None:
    """It is still active where it came from."""
    file = bundle_of(list(here.batch("B0001").entries), tmp_path / "b.floor")

    with pytest.raises(Refused, match="was not sent over with floor bundle"):
        review_bundle(here, file)


@pytest.mark.parametrize("lacks", ["carriers", "stations"])
def test_a_checklist_that_lacks_what_it_names_is_refused(lacks: str, here: Shop, tmp_path: Path) -> None:
    mine = deepcopy(list(here.batch("B0001").entries))
    named = mine[0].body["checklist"]["operations"][-1]
    named["carrier" if lacks == "carriers" else "station"] = "nowhere"
    forged = forged_on(mine, ("gone_over", {"to": "here"}))

    with pytest.raises(Refused, match='"nowhere" is not in the file'):
        review_bundle(here, bundle_of(forged, tmp_path / "b.floor"))


@pytest.mark.parametrize(
    ("forged", "wrong"),
    [
        ({"low": [150.0, "degC", 150.0, "150 degC"]}, "low and high are both 150 degC"),
        ({"low": [160.0, "degC", 160.0, "160 degC"]}, r"low \(160 degC\) is above high"),
        ({"longest_gap": [0.0, "min", 0.0, "0 min"]}, "no two readings are that close"),
    ],
)
def test_a_soak_that_nothing_can_be_worked_out_from_is_refused(
    forged: dict[str, Any], wrong: str, here: Shop, tmp_path: Path
) -> None:
    mine = deepcopy(list(here.batch("B0001").entries))
    low, high = ([value, "degC", value, f"{value:g} degC"] for value in (140.0, 150.0))
    soak = {"gate": "soaked", "low": low, "high": high, "time": [1.0, "h", 3600.0, "1 h"]} | forged
    operation = next(one for one in mine[0].body["checklist"]["operations"] if one.get("cycle", True))
    operation["steps"].append(soak)
    sent = forged_on(mine, ("gone_over", {"to": "here"}))

    with pytest.raises(Refused, match=wrong):
        review_bundle(here, bundle_of(sent, tmp_path / "b.floor"))


@pytest.mark.parametrize(("kind", "wrong"), [("batch_opened", "'/id': is not text"), ("noted", "'/text': is missing")])
def test_an_entry_whose_data_are_of_another_kind_is_refused(kind: str, wrong: str, here: Shop, tmp_path: Path) -> None:
    mine = deepcopy(list(here.batch("B0001").entries))
    if kind == "batch_opened":
        mine[0].body["id"] = ["B0001"]
    else:
        next(entry for entry in mine if entry.kind == kind).body.pop("text")
    forged = forged_on(mine, ("gone_over", {"to": "here"}))

    with pytest.raises(Refused, match=wrong):
        review_bundle(here, bundle_of(forged, tmp_path / "b.floor"))


@pytest.mark.parametrize("screen", ["list_due_tasks", "build_handover_page"])
def test_a_batch_that_a_screen_could_not_show_is_refused(
    screen: str, here: Shop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It would take down the first screen, or the handover, of the whole shop."""

    def fails(*given: object) -> object:
        raise KeyError("what only a forger thinks of")

    forged = forged_on(list(here.batch("B0001").entries), ("gone_over", {"to": "here"}))
    monkeypatch.setattr(f"floor.shop.maintenance.{screen}", fails)

    with pytest.raises(Refused, match="holds no batch that can be worked on: KeyError"):
        review_bundle(here, bundle_of(forged, tmp_path / "b.floor"))


@pytest.mark.parametrize("year", ["9999", "0001", "1999"])
def test_a_time_that_no_clock_shows_is_refused(year: str, here: Shop, tmp_path: Path) -> None:
    mine = [replace(entry, at=f"{year}-12-31T23:59:59.999Z") for entry in here.batch("B0001").entries]
    forged = forged_on(mine, ("gone_over", {"to": "here"}))

    with pytest.raises(BundleRefused, match="not one that Floor writes"):
        review_bundle(here, bundle_of(forged, tmp_path / "b.floor"))


def test_no_memory_is_spent_on_what_is_no_batch(here: Shop, tmp_path: Path) -> None:
    file = tmp_path / "b.floor"
    with file.open("wb") as large:
        large.truncate(MAX_BUNDLE + 1)
    with pytest.raises(BundleRefused, match="larger than 64 MB"):
        review_bundle(here, file)
    file.write_bytes(encode_header("B0001", entries=1, head="x") + b"\n" + b"[]," * (1 << 20) + CLOSING)
    with pytest.raises(BundleRefused, match="that many small values"):
        review_bundle(here, file)


ODD: tuple[Any, ...] = (
    None, "", "x", "GG", -1, 0, 1, 10**6, 10**400, 0.5, 1e308, True, [], {}, [[]], [1, 1], {"a": 1},
    "9999-12-31T23:59:59.000Z", "9999-12-31", "0001-01-01", "2026-03-02T06:00:00.000Z", "step_done", "load 1",
)  # fmt: skip


def mutate(entries: list[Entry], rng: random.Random) -> list[Entry]:
    """One to three entries changed in ways that a program might, and a person with bad intent."""
    entries = deepcopy(entries)
    for _ in range(rng.randint(1, 3)):
        at = rng.randrange(len(entries))
        entry = entries[at]
        how = rng.randrange(8)
        if how < 4:
            _spoil(entry.body, rng)
        elif how == 4:
            field = rng.choice(["at", "tz", "up", "boot", "by", "kind"])
            entries[at] = replace(entry, **{field: rng.choice(ODD)})
        elif how == 5:
            entries.insert(rng.randrange(len(entries)), entry)
        elif how == 6 and len(entries) > 2:
            entries.pop(at)
        else:
            other = rng.choice(entries)
            entries[at] = replace(entry, kind=other.kind, body=other.body if rng.random() < 0.5 else entry.body)
    return entries


def _spoil(data: Any, rng: random.Random) -> None:
    """Change one value somewhere in the data, take it away, or add one."""
    while True:
        keys = list(data) if isinstance(data, dict) else list(range(len(data)))
        if not keys:
            if isinstance(data, dict):
                data["x"] = rng.choice(ODD)
            return
        key = rng.choice(keys)
        inner = data[key]
        if isinstance(inner, dict | list) and inner and rng.random() < 0.8:
            data = inner
            continue
        if isinstance(data, dict) and rng.random() < 0.2:
            del data[key]
        else:
            data[key] = deepcopy(rng.choice(ODD))
        return


def attack(count: int, seed: int, folder: Path) -> dict[str, int]:
    """Offer so many forged bundles; what was accepted must be shown and worked on as any batch."""
    clock, rng = StepClock(MORNING), random.Random(seed)
    source = a_shop(folder / "source", clock)
    worked(source)
    clock.forward(600)
    mine = list(source.batch("B0001").entries)
    source.close()
    came = {"refused": 0, "accepted": 0}
    shop = a_shop(folder / "here", clock)
    for number in range(count):
        forged = mutate(mine, rng)
        forged.append(replace(mine[-1], kind="gone_over", body={"to": "x"}))
        try:
            file = bundle_of(chained(forged), folder / "b.floor")
        except (LedgerError, TypeError):  # no JSON: it cannot be written at all
            continue
        if len(shop.batches) > 10:
            shop.close()
            shop = a_shop(folder / f"here {number}", clock)
        try:
            offer = review_bundle(shop, file)
        except (Refused, LedgerError):
            came["refused"] += 1
            continue
        with suppress(Refused, LedgerError):
            receive_batch(shop, offer, "LL")
        now = shop.now()
        write_status_text(shop.batches, shop.due(now), now)
        json.loads(write_status_json(shop.batches, shop.due(now), now))
        came["accepted"] += 1
    return came


def test_no_forged_bundle_makes_the_shop_fail(tmp_path: Path) -> None:
    came = attack(400, 20260302, tmp_path)

    assert came["refused"] > 100
    assert came["accepted"] > 20


if __name__ == "__main__":  # the long trial: python -m tests.shop.test_forged_bundles 4000
    with TemporaryDirectory() as place:
        sys.stdout.write(f"{attack(int(sys.argv[1]), 1, Path(place))}\n")
