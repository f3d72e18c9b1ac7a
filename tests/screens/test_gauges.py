"""The register of gauges, driven by the documented keys and read back from the record."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from threading import Event, Thread, current_thread
from typing import Any

import pytest

from floor.batch.command import Refused
from floor.batch.corrections.commands import StrikeOut
from floor.batch.corrections.unproved_work import find_open_unproved_work
from floor.batch.gates.commands import Prove
from floor.batch.gates.suspect_gauges import ReportSuspectGauge
from floor.batch.lifecycle.commands import CloseBatch, OpenBatch, SetPiecesAside
from floor.screens.batch.suspect_gauge import decide_suspect_gauge
from floor.screens.forms.dialogs import ChoiceDialog, FormDialog, TextDialog
from floor.screens.shop.gauges import GaugesScreen
from floor.screens.shop.what_next import NextScreen
from floor.screens.walk.screen import WalkScreen
from floor.screens.widgets.place_map import PlaceMap
from floor.shop import Shop
from floor.shop.closed_gauge_uses import ClosedUses
from floor.shop.simulation import ManualClock
from tests.batch.factory import edited
from tests.batch.test_gauges import DEPTH
from tests.screens.conftest import Open, Picture
from tests.screens.keys import fill, words
from tests.screens.operator import Place


async def test_a_gauge_is_entered_changed_withdrawn_and_brought_back(shop: Shop, open_app: Open) -> None:
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("c", "2", "a")
        await fill(pilot, "dm-04", "Depth micrometer", "2026-09-01", "2026-01-15")
        assert isinstance(app.screen, GaugesScreen)
        assert shop.people.gauges["DM-04"].due.isoformat() == "2026-09-01"

        await pilot.press("enter", "1", *["backspace"] * 10)
        await fill(pilot, "2027-09-01", "", "")
        assert "Calibrated: nothing entered. Enter the day, or n if only the due date was" in words(app)
        await fill(pilot, "n", "")
        gauge = shop.people.gauges["DM-04"]
        assert (gauge.due.isoformat(), str(gauge.checked)[:10]) == ("2027-09-01", "2026-01-15")

        await pilot.press("enter", "2", "f2", "enter", *"maybe", "enter")
        assert "Enter y or n" in words(app)
        await pilot.press("n", "enter")  # over what was wrong
        assert shop.people.gauges["DM-04"].withdrawn == "dropped"

        await pilot.press("enter", "3")
        await fill(pilot, "checked on blocks", "")
        assert not shop.people.gauges["DM-04"].withdrawn


async def test_a_withdrawn_gauge_is_called_suspect_later(place: Place, open_app: Open) -> None:
    place.shop.add_gauge("DM-1", "Depth micrometer", "2026-09-01", "LL", "2026-01-15")
    place.through(place.load(), 10)
    place.shop.withdraw_gauge("DM-1", "at the laboratory", False, "AA")
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("c", "2", "enter", "2")
        assert "Withdrawn: at the laboratory." in words(app)
        assert "1 check in 1 open batch used it since " in words(app)
        await pilot.press("f2", "enter")
        await fill(pilot, "")
        assert [one.reason for one in place.batch.list_open_suspect_gauges()] == ["calibration: out of its limits"]
        assert place.shop.people.gauges["DM-1"].suspect


async def test_who_is_no_lead_is_told_before_typing_and_may_withdraw(shop: Shop, open_app: Open) -> None:
    shop.add_gauge("DM-04", "Depth micrometer", "2026-09-01", "LL")
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("c", "2")
        for keys in (("a",), ("enter", "1"), ("enter", "3")):
            await pilot.press(*keys)
            assert isinstance(app.screen, GaugesScreen)
            assert "needs a lead" in words(app)
        await pilot.press("enter", "2", *"dropped", "enter", "y", "enter")
    assert shop.people.gauges["DM-04"].withdrawn == "dropped"


async def test_without_gauges_it_says_so_and_no_key_fails(shop: Shop, open_app: Open) -> None:
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("c", "2", "enter", "1", "2", "3", "delete")
        assert isinstance(app.screen, GaugesScreen)
        assert "No gauges yet" in words(app)


def test_picture_of_the_gauges(picture: Picture, shop: Shop, open_app: Open) -> None:
    """What is due first, then the others, withdrawn ones last with the reason."""
    for serial, name, due in (
        ("DM-04", "Depth micrometer", "2026-09-01"),
        ("BG-11", "Bore gauge", "2026-03-20"),
        ("MC-02", "Micrometer 0 to 25 mm", "2026-03-02"),
        ("MC-03", "Micrometer 0 to 25 mm", "2026-12-15"),
    ):
        shop.add_gauge(serial, name, due, "LL")
    shop.withdraw_gauge("MC-03", "dropped", False, "AA")
    picture(open_app(), press=["c", "2"])


# --- at a check ----------------------------------------------------------------------------------------------------


@pytest.fixture
def place(shop: Shop, clock: ManualClock) -> Place:
    """A batch of the test part whose groove is measured with a gauge that has a serial number."""
    opening = OpenBatch(shop.find_next_id(), edited(DEPTH), "digest", "part.toml", 8, 10)
    return Place(shop, shop.open_batch(opening, by="LL").id, clock)


AT = "Measure groove depth"


async def test_the_only_gauge_that_it_can_be_stands_there_and_costs_no_key(place: Place, open_app: Open) -> None:
    place.shop.add_gauge("DM-04", "Depth micrometer", "2026-09-01", "LL")
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        app.go_walk(place.id, place.at(place.load(), AT))
        await pilot.pause()
        assert "Depth micrometer, due 2026-09-01" in words(app)
        await fill(pilot, "3", "3.02")
        values = place.batch.entries[-1].body["values"]
        assert (values["value"], values["gauge"]) == ([3.0, 3.02], "DM-04")


async def test_of_two_gauges_the_one_in_hand_is_typed(place: Place, open_app: Open) -> None:
    """Even if the other one was used for the load before."""
    for serial in ("DM-1", "DM-04"):
        place.shop.add_gauge(serial, "Depth micrometer", "2026-09-01", "LL")
    place.through(place.load(), 10)
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        app.go_walk(place.id, place.at(place.load(), AT))
        await pilot.pause()
        await fill(pilot, "3", "3.02", "")
        assert isinstance(app.screen, WalkScreen)
        assert app.focused is app.screen.asks.input("gauge")
        await fill(pilot, "dm04")
        assert place.batch.entries[-1].body["values"]["gauge"] == "DM-04"


async def test_a_withdrawn_gauge_is_refused_at_its_field_and_stays_on_record(place: Place, open_app: Open) -> None:
    place.shop.add_gauge("DM-04", "Depth micrometer", "2026-09-01", "LL")
    place.shop.withdraw_gauge("DM-04", "dropped", False, "AA")
    run = place.at(place.load(), AT)
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        await fill(pilot, "3", "3.01", "dm-04")
        walk = app.screen
        assert isinstance(walk, WalkScreen)
        assert walk.asks.wrong == "DM-04 is withdrawn: dropped. Use another gauge."
        assert app.focused is walk.asks.input("gauge")
        assert place.batch.entries[-1].kind == "attempt_refused"
        await fill(pilot, "dm-05")
        assert app.focused is walk.asks.inputs[0], "what the refused one measured is gone over"
        await fill(pilot, "", "", "")
        assert place.batch.entries[-1].kind == "proved"


def test_only_registered_gauges_if_the_shop_says_so(tmp_path: Path, clock: ManualClock) -> None:
    (tmp_path / "shop").mkdir()
    (tmp_path / "shop" / "shop.toml").write_text("registered_gauges_only = true\n")
    shop = Shop(tmp_path / "shop", clock)
    shop.add_person("AA", "Arne", True, by="-")
    shop.add_person("BB", "Bea", False, by="AA")
    place = Place(shop, shop.open_batch(OpenBatch("B0001", edited(DEPTH), "d", "part.toml", 8, 10), "AA").id, clock)
    run = place.at(place.load(), AT)
    with pytest.raises(Refused, match="Own 7 is not in the register of gauges"):
        shop.do(place.id, Prove(run, "measured 1", {"value": [3, 3], "gauge": "own 7"}), "AA")
    assert [entry.body["what"] for entry in place.batch.entries if entry.kind == "attempt_refused"] == [
        "not in the register"
    ]
    shop.close()


def test_picture_of_a_measurement_with_its_gauge(picture: Picture, place: Place, open_app: Open) -> None:
    """The serial number that it can only be stands below the values, with what the register knows of it."""
    place.shop.add_gauge("DM-1", "Depth micrometer", "2026-09-01", "LL")
    place.through(place.load(), 10)
    run = place.at(place.load(), AT)

    async def opened(pilot: Any) -> None:
        pilot.app.go_walk(place.id, run)
        await pilot.pause()
        await pilot.press(*"3.01")

    picture(open_app("AA"), run_before=opened)


async def test_withdrawing_says_what_depends_on_it_and_a_lead_decides_on_what_is_next(
    place: Place, open_app: Open
) -> None:
    place.shop.add_gauge("DM-1", "Depth micrometer", "2026-09-01", "LL")
    place.through(place.load(), 10)
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("c", "2", "enter", "2")
        assert "1 check in 1 open batch used it. If suspect, a lead decides" in words(app)
        await pilot.press("f2", "enter", "y", "enter", "escape")
        assert place.batch.entries[-1].kind == "gauge_suspected"
        screen = app.screen
        assert isinstance(screen, NextScreen)
        row = next(n for n, due in enumerate(screen.due) if due.go == "gauge")
        await pilot.press("home", *["down"] * row, "enter")
        assert "load 1, op 10: Measure groove depth: A1 3, B2 3 mm" in words(app)
        assert "Measured with it, now on Pallet 1 (A1, B2)" in words(app)
        drawn = app.screen.query_one("#drawn-0", PlaceMap).render().plain
        assert "1 2 A good 1■ good 2 B good 3 good 4■ ■ measured with it" in " ".join(drawn.split())
        await fill(pilot, "measured again with DM-2")
    assert place.batch.list_open_suspect_gauges() == []


async def test_closed_batches_that_a_suspect_gauge_measured_are_named_at_once(place: Place, open_app: Open) -> None:
    place.shop.add_gauge("DM-1", "Depth micrometer", "2026-09-01", "LL")
    place.through(place.load(), 10)
    place.shop.do(place.id, SetPiecesAside("scrap", "cracked", load=1, count=4), "LL")
    place.shop.do(place.id, SetPiecesAside("scrap", "cracked", op=10, count=6), "LL")
    place.shop.do(place.id, CloseBatch("all of it cracked"), "LL")
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("c", "2", "enter", "2", "f2", "enter", "y", "enter")
        assert isinstance(app.screen, TextDialog)
        assert f"since its last good check: {place.id} (1 check). Tell a lead now" in words(app)
        await pilot.press("escape", "escape", "c", "3", "enter", "exclamation_mark")
        assert "Since then: gauge DM-1 Depth micrometer was found suspect" in words(app)


async def until(pilot: Any, fact: Callable[[], bool]) -> None:
    for _ in range(200):
        if fact():
            return
        await pilot.pause(0.05)
    raise AssertionError("it did not come")


@pytest.mark.parametrize("canceled", [False, True])
async def test_while_closed_batches_are_looked_through_the_form_waits_and_keys_are_free(
    place: Place, open_app: Open, monkeypatch: pytest.MonkeyPatch, canceled: bool
) -> None:
    """For a calibration laboratory's word weeks later; a form that is canceled meanwhile records nothing."""
    place.shop.add_gauge("DM-1", "Depth micrometer", "2026-09-01", "LL")
    place.through(place.load(), 10)
    place.shop.withdraw_gauge("DM-1", "at the laboratory", False, "AA")
    may_end, look = Event(), Shop.find_closed_uses
    began: list[Thread] = []

    def look_slowly(shop: Shop, serial: str) -> ClosedUses:
        began.append(current_thread())
        assert may_end.wait(60)
        return look(shop, serial)

    monkeypatch.setattr(Shop, "find_closed_uses", look_slowly)
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("c", "2", "enter", "2", "f2", "enter", "enter")
        assert isinstance(app.screen, FormDialog)
        assert "Looking it up…" in words(app)
        await pilot.press("x", "enter")
        assert not place.shop.people.gauges["DM-1"].suspect
        if canceled:
            await pilot.press("escape")
            assert isinstance(app.screen, GaugesScreen)
        may_end.set()
        await until(pilot, lambda: not began[0].is_alive())
        if not canceled:
            await until(pilot, lambda: place.shop.people.gauges["DM-1"].suspect)
        await pilot.pause()
        assert isinstance(app.screen, GaugesScreen)
        assert place.shop.people.gauges["DM-1"].suspect is not canceled
        assert len(began) == 1
        if not canceled:
            assert [one.reason for one in place.batch.list_open_suspect_gauges()] == ["calibration: out of its limits"]


def test_picture_of_what_a_suspect_gauge_measured(picture: Picture, place: Place, open_app: Open) -> None:
    """The gauge and why, each check that used it with its operation and load, the pieces on their carriers."""
    place.shop.add_gauge("DM-1", "Depth micrometer", "2026-09-01", "LL")
    for _ in range(2):
        place.through(place.load(), 10)
    place.shop.withdraw_gauge("DM-1", "dropped", True, "AA")

    async def opened(pilot: Any) -> None:
        decide_suspect_gauge(pilot.app.screen, place.id, place.batch.seq)
        await pilot.pause()

    picture(open_app("LL"), run_before=opened)


async def test_several_are_listed_each_with_who_may_decide(open_app: Open, place: Place) -> None:
    place.shop.add_gauge("DM-1", "Depth micrometer", "2026-09-01", "LL")
    place.through(place.load(), 10)
    probed = next(entry for entry in place.batch.entries if entry.body.get("line") == "probed 1")
    [report] = place.shop.do(place.id, ReportSuspectGauge("DM-1", "Depth micrometer", "dropped", None), "LL")
    place.shop.do(place.id, StrikeOut(probed.seq, "typed wrong"), "LL")
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("b", "d")
        assert isinstance(app.screen, ChoiceDialog)
        gauge, probe = (choice.text for choice in app.screen.choices)
        assert probe.startswith("Decide (lead): Probe G54")
        assert gauge.startswith("Decide (lead): gauge DM-1 suspect")
        await pilot.press(app.screen.picks[0])
        await fill(pilot, "measured again")
        await pilot.pause()
        assert place.batch.suspect_gauges[report.seq].settled == "measured again (LL)"
        assert find_open_unproved_work(place.batch), "the other one stays"
