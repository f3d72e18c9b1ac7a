"""The strip of exceptions: how many there are, then the gravest, readable in two lines at 80 columns."""

from __future__ import annotations

from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from textual.widgets import Static

from floor.app import FloorApp
from floor.batch.corrections.commands import StrikeOut
from floor.batch.gates.commands import Waive
from floor.batch.gates.suspect_gauges import ReportSuspectGauge
from floor.batch.handover.commands import CountSubjectPieces, OfferHandover
from floor.batch.handover.page import list_count_subjects
from floor.batch.lifecycle.commands import OpenBatch, StartPieces
from floor.batch.stations.conditions import ReportCondition
from floor.batch.walk.clocks import compute_planned_end
from floor.batch.walk.commands import BeginRun
from floor.screens.batch.load_rows import make_row
from floor.screens.forms.dialogs import TextDialog
from floor.screens.frame.session import Session, Transcription
from floor.screens.frame.troubles import (
    LEVELS,
    Trouble,
    format_abnormal,
    format_by_level,
    list_batch_troubles,
    sort_troubles,
)
from floor.screens.plan.screen import PlanScreen
from floor.screens.shop.people import PeopleScreen
from floor.text import count_cells, format_clock
from tests.batch.factory import edited
from tests.batch.test_gauges import DEPTH
from tests.screens.keys import words
from tests.screens.operator import Place
from tests.screens.painted import rows
from tests.screens.test_surplus import fill_order

LONG = "B0001: TAKE OUT by 15:30, or be in by 17:14: Pallet 1, Oven 1, op 10 soak; nobody in from 15:30 until Tue 07:00"


def test_a_long_sentence_takes_two_lines_and_a_short_one_takes_one() -> None:
    first, second = format_abnormal([LONG], 78)

    assert f"{first} {second.strip()}" == f"! {LONG}"
    assert format_abnormal(["short"], 78) == ["! short"]
    assert format_abnormal([], 78) == []


def test_how_many_there_are_stands_first_and_the_next_ones_have_rows_while_there_are_any() -> None:
    assert format_abnormal(["short", "other"], 78) == ["! 2  short", "     other"]
    assert format_abnormal(["x" * 70, "other", "third"], 78) == ["! 3  " + "x" * 70, "     other"]
    assert format_abnormal(["x" * 70, "other", "third"], 78, 4) == ["! 3  " + "x" * 70, "     other", "     third"]
    first, second = format_abnormal([LONG, "later"], 78)
    assert f"{first} {second.strip()}" == f"! 2  {LONG}", "the gravest is said in full first"


def test_no_hour_at_the_end_of_a_sentence_is_lost() -> None:
    """Neither of a further one at 80 columns, nor of the first at 60."""
    _, *rest = format_abnormal(["short", LONG], 78)
    assert " ".join(line.strip() for line in rest) == LONG
    lines = format_abnormal([LONG, "other"], 58)
    assert " ".join(line.strip() for line in lines) == f"! 2 {LONG}".replace("! 2 ", "! 2  ")


def test_the_gravest_come_first_whenever_they_were_found_and_each_level_is_counted() -> None:
    """At most three priorities, by consequence and by the time there is to act (ISA-18.2, from memory; HMI-28)."""
    found = [Trouble("know", "k"), Trouble("shift", "s"), Trouble("now", "n"), Trouble("shift", "t")]
    assert [one.text for one in sort_troubles(found)] == ["n", "s", "t", "k"]
    assert list(format_by_level(sort_troubles(found))) == [
        f"{LEVELS['now']} (1)", "1  n", f"{LEVELS['shift']} (2)", "2  s", "3  t", f"{LEVELS['know']} (1)", "4  k",
    ]  # fmt: skip
    assert len(LEVELS) <= 3


def test_an_hour_to_be_there_is_read_to_its_end_and_a_waiver_after_it_keeps_its_row(
    place: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Cut in the row below a waiver, it said of each night that nobody is in, and not until when."""
    load = place.load()
    run = place.at(load, "Measure groove depth")
    place.shop.do(place.id, Waive(run, place.hand.current(load).key, "gauge away"), "LL")  # type: ignore[union-attr]
    monkeypatch.setattr("floor.screens.frame.troubles.list_deadline_troubles", lambda planner, batch: [LONG])
    found = list_batch_troubles(Session(place.shop, "AA"), place.batch)
    assert found[0].text == LONG
    assert found[1].stays
    shown = format_abnormal([one.text for one in found[:2]], 78, 2, [found[1].text])
    assert len(shown) == 3
    assert "…" not in "".join(shown)


def test_of_one_level_what_is_lost_at_a_time_goes_before_what_waits_for_a_decision() -> None:
    """A waiver that may wait until the close-out never hides the load that has to be out by 15:30."""
    waived, out = Trouble("shift", "1 gate waived", stays=True), Trouble("shift", LONG, timed=True)
    assert sort_troubles([waived, Trouble("now", "n"), out]) == [Trouble("now", "n"), out, waived]


async def test_a_window_that_closes_with_nobody_in_stands_before_the_waiver_and_on_the_walk_nothing_is_said_twice(
    place: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(
        "floor.screens.frame.troubles.list_deadline_troubles", lambda planner, batch: ["TAKE OUT by 15:30: Tray 1"]
    )
    waived = place.load()
    run = place.at(waived, "Measure groove depth")
    place.shop.do(place.id, Waive(run, place.hand.current(waived).key, "gauge away"), "LL")  # type: ignore[union-attr]
    app = FloorApp(place.shop, who="AA", ticking=False)
    async with app.run_test(size=(60, 20)) as pilot:
        await pilot.pause()
        assert "TAKE OUT by 15:30" in rows(app)[1]
        app.go_walk(place.id, run)
        await pilot.pause()
        said = [one.text for one in app.screen.list_abnormal()]  # type: ignore[attr-defined]
        assert [one.partition(":")[0] for one in said[:2]] == ["TAKE OUT by 15", "Waived on this load"]
        assert sum("Measure groove depth" in one for one in said) == 1
        assert "Waived on this load" in words(app), "it has its rows even where there are none left"


async def test_a_cycle_that_is_over_says_so_on_its_walk_and_in_the_batch(place: Place) -> None:
    load = place.load()
    place.hand.work(load, stop=lambda line: line.kind == "end")
    run = place.hand.run(load)
    planned = compute_planned_end(place.batch, run, place.clock())
    assert planned is not None
    app = FloorApp(place.shop, who="AA", ticking=False)
    async with app.run_test(size=(80, 24)) as pilot:
        app.go_walk(place.id, run.number)
        await pilot.pause()
        assert "CYCLE OVER" not in words(app)
        place.clock.until(planned + timedelta(minutes=20))
        app.update_screens()
        await pilot.pause()
        assert f"CYCLE OVER by 20 min, planned until {format_clock(planned, planned)}" in words(app)
        row = make_row(place.batch, ("load", load, ""), app.session.context(place.id), frozenset())
        assert row.now == "over 20 min: Confirm cycle complete"


async def test_a_guard_off_stands_before_a_waiver_and_a_handover_last(place: Place) -> None:
    load = place.load()
    run = place.at(load, "Measure groove depth")
    place.shop.do(place.id, OfferHandover(), "LL")
    place.shop.do(place.id, Waive(run, place.hand.current(load).key, "gauge away"), "LL")  # type: ignore[union-attr]
    place.shop.do(place.id, ReportCondition("mill", "guard off", "hinge broke"), "AA")
    app = FloorApp(place.shop, who="AA", ticking=False)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        found = app.screen.list_abnormal()  # type: ignore[attr-defined]
        assert list(dict.fromkeys(one.level for one in found)) == list(LEVELS), (
            "a plan may add to what is to be decided"
        )
        assert "guard off" in found[0].text
        assert "handover" in found[-1].text
        await pilot.press("exclamation_mark")
        shown = words(app)
        places = [shown.index(LEVELS[one.level]) for one in found]
        assert places == sorted(places)


@given(
    st.lists(st.text(st.characters(categories=["L", "N", "Zs"]), min_size=1), min_size=2, max_size=6),
    st.integers(2, 4),
)
def test_whatever_it_is_it_has_room_in_its_rows_and_the_count_is_whole(found: list[str], rows: int) -> None:
    lines = format_abnormal([found[0] * 8, *found[1:]], 78, rows)

    assert 1 <= len(lines) <= rows + 1
    assert all(count_cells(line) <= 78 for line in lines)
    assert lines[0].startswith(f"! {len(found)}")


async def test_one_key_lists_all_of_them_in_full(place: Place) -> None:
    fill_order(place)
    place.hand.do(StartPieces(4))
    waived = place.load()
    run = place.at(waived, "Measure groove depth")
    place.shop.do(place.id, Waive(run, place.hand.current(waived).key, "gauge away"), "LL")  # type: ignore[union-attr]
    app = FloorApp(place.shop, who="AA", ticking=False)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        found = app.screen.list_abnormal()  # type: ignore[attr-defined]
        assert len(found) >= 2
        assert rows(app)[1].startswith(f" ! {len(found)}  {found[0].text[:40]}")
        await pilot.press("exclamation_mark")
        assert isinstance(app.screen, TextDialog)
        shown = " ".join(words(app).split())
        for one in found:
            assert one.text in shown
        assert "THIS SHIFT: act or decide" in shown, "each level under its head"
        await pilot.press("escape")
        assert not isinstance(app.screen, TextDialog)


async def test_it_is_read_in_full_on_the_screen(place: Place) -> None:
    fill_order(place)
    app = FloorApp(place.shop, who="AA", ticking=False)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        painted = rows(app)
        assert painted[1].startswith(" ! B0001: ORDER FILLED: 8 of 8 good; 4 pieces in process are not needed")
        assert painted[2].strip() == "on them"


async def test_a_waived_gate_stands_before_what_only_needs_a_decision_and_on_walks_of_other_loads(place: Place) -> None:
    """CBP-38 and HMI-04 of the guidance followed: in sight on every screen, the gravest first."""
    fill_order(place)
    place.hand.do(StartPieces(4))
    waived, other = place.load(), place.load()
    run = place.at(waived, "Measure groove depth")
    place.shop.do(place.id, Waive(run, place.hand.current(waived).key, "gauge away"), "LL")  # type: ignore[union-attr]
    place.hand.work(waived)
    app = FloorApp(place.shop, who="AA", ticking=False)
    async with app.run_test(size=(80, 24)) as pilot:
        app.go_walk(place.id, place.shop.do(place.id, BeginRun(other), "AA")[0].body["run"])
        await pilot.pause()
        said = [one.text for one in app.screen.list_abnormal()]  # type: ignore[attr-defined]
        assert "ORDER FILLED" in " ".join(said), "both are out of the ordinary"
        assert said[0].startswith("1 gate waived: Measure groove depth (op 10, LL")
        assert "1 gate waived: Measure groove depth" in rows(app)[2]


def test_what_stays_has_its_rows_below_whatever_is_graver() -> None:
    """CBP-38: neither a long sentence before it nor others of the same kind leave it to be counted only."""
    waived, other = "B0001: 1 gate waived: Probe G54 X Z (op 10, LL)", "B0002: 1 gate waived: Probe G54 (op 20, LL)"
    first, second, *rest = format_abnormal([LONG, "lock on", waived, other], 78, 2, [waived, other])
    assert f"{first} {second.strip()}" == f"! 4  {LONG}"
    assert rest == [f"     {waived}", f"     {other}"]
    first, *rest = format_abnormal([waived, LONG], 78, 2, [waived])
    assert (first, " ".join(map(str.strip, rest))) == (f"! 2  {waived}", LONG)
    assert "…" not in "".join(format_abnormal(["; ".join([waived] * 5), LONG], 78, 2, ["; ".join([waived] * 5)])[:4])


async def test_a_waiver_of_each_batch_is_named_beside_an_entry_from_paper_and_on_the_screens_of_the_shop(
    place: Place,
) -> None:
    """CBP-38: two batches, an entry from paper under way and a guard off."""
    opening = OpenBatch(place.shop.find_next_id(), edited(), "digest", "part.toml", 8, 12)
    other = Place(place.shop, place.shop.open_batch(opening, by="LL").id, place.clock)
    for one in (place, other):
        load = one.load()
        run = one.at(load, "Measure groove depth")
        one.shop.do(one.id, Waive(run, one.hand.current(load).key, "gauge away"), "LL")  # type: ignore[union-attr]
        one.hand.work(load)  # the mill is free
    place.shop.do(place.id, ReportCondition("mill", "guard off", "hinge broke"), "AA")
    app = FloorApp(place.shop, who="AA", ticking=False)
    async with app.run_test(size=(80, 24)) as pilot:
        app.session.paper = Transcription(place.clock().at)
        app.update_screens()
        for screen in (None, PlanScreen(app.session), PeopleScreen(app.session)):
            if screen is not None:
                app.go(screen)
            await pilot.pause()
            shown = "\n".join(rows(app)[:10])
            for one in (place, other):
                assert f"{one.id}: 1 gate waived: Measure groove depth (op 10, LL)" in shown


async def test_before_the_first_plan_it_says_that_more_may_come(place: Place) -> None:
    """What closes while nobody is in is known by a plan only; until then no list may look complete."""
    app = FloorApp(place.shop, who="AA", ticking=False)
    async with app.run_test(size=(80, 24)) as pilot:
        planner = app.session.planner
        await pilot.press("!")
        assert "Nothing is out of the ordinary" in words(app)
        planner.busy, planner.share = True, 0.4
        app.update_screens()
        assert "planning 40 %" in str(app.screen.query_one("#head-right", Static).content)
        await pilot.press("!")
        assert "Nothing so far. Still being planned" in words(app)
        load = place.load()
        run, line = place.at(load, "Probe G54 X Z"), place.hand.current(load)
        assert line is not None
        place.shop.do(place.id, Waive(run, line.key, "probe is broken"), by="LL")
        app.update_screens()
        await pilot.press("!")
        assert isinstance(app.screen, TextDialog)
        assert "Still being planned: windows and cycles" in app.screen.text


def test_what_has_been_open_for_more_than_a_day_says_since_when(place: Place) -> None:
    """ISA-18.2 (from memory): no alert stays on for more than a day as if it were new."""
    opening = OpenBatch(place.shop.find_next_id(), edited(DEPTH), "digest", "part.toml", 8, 12)
    place = Place(place.shop, place.shop.open_batch(opening, by="LL").id, place.clock)
    for _ in range(2):
        place.through(place.load(), 10)
    probed = next(entry for entry in place.batch.entries if entry.body.get("line") == "probed 1")
    place.shop.do(place.id, StrikeOut(probed.seq, "typed wrong"), "LL")
    place.shop.do(place.id, ReportSuspectGauge("DM-1", "Depth micrometer", "dropped", place.batch.opened), "LL")
    load = place.load()
    run = place.at(load, "Measure groove depth")
    place.shop.do(place.id, Waive(run, place.hand.current(load).key, "probe away"), "LL")  # type: ignore[union-attr]
    place.shop.do(place.id, OfferHandover("see the waiver"), "LL")
    wrong = list_count_subjects(place.batch)[0]
    place.shop.do(place.id, CountSubjectPieces(wrong.key, wrong.expected + 1), "BB")
    session = FloorApp(place.shop, who="AA", ticking=False).session
    since = {format_clock(entry.time) for entry in place.batch.entries}

    def list_told() -> list[str]:
        return [one.text for one in list_batch_troubles(session, place.batch)]

    def list_aged() -> list[str]:
        return [one for one in list_told() if one.rpartition(", since ")[2] in since]

    assert list_aged() == [], list_told()
    place.clock.forward(25 * 3600)
    said = ("1 gate waived", "Lead decision needed: Probe G54", "DM-1", "1 count mismatch open", "LL has offered")
    assert [part for part in said if not any(part in one for one in list_aged())] == [], list_told()
