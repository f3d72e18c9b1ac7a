"""What is to be decided on a batch: each decision keeps its digit, whatever else is open."""

from __future__ import annotations

import re

from textual.widgets import OptionList

from floor.app import FloorApp
from floor.batch.corrections.commands import Note, SettleUnproved, StrikeOut
from floor.batch.counting.commands import Dispose
from floor.batch.gates.commands import CloseWaiver, Prove, Waive
from floor.batch.lifecycle.commands import SetPiecesAside
from tests.screens.operator import Place

OPEN_SCRAP = "1 piece of scrap not on record as marked or destroyed (anyone)"


async def list_digits(place: Place) -> dict[str, str]:
    """The rows of the menu, but for how many pieces are held → the digit of each."""
    app = FloorApp(place.shop, who="LL", ticking=False)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("b", "d")
        rows = [str(one.prompt) for one in app.screen.query_one(OptionList).options]
    return {re.sub(r"^\d+ held pieces?", "held", " ".join(row[3:].split())): row[0] for row in rows}


def strike_probing(place: Place, load: int) -> int:
    """A proof struck out after its load went on: a decision for a lead."""
    place.through(load, 10)
    probed = [entry for entry in place.batch.entries if entry.body.get("line") == "probed 1"][-1]
    return place.shop.do(place.id, StrikeOut(probed.seq, "typed wrong"), "LL")[0].seq


async def test_a_decision_keeps_its_digit_when_others_are_taken(place: Place) -> None:
    """Held pieces, a waiver and two proofs that were struck out: each stays its own, and a new one is nobody's."""
    strikes = [strike_probing(place, place.load()) for _ in range(2)]
    run = place.at(place.load(), "Probe G54 X Z")
    (waiver, *_) = place.shop.do(place.id, Waive(run, "probed 1", "probe is broken"), "LL")
    place.shop.do(place.id, SetPiecesAside("hold", "dropped", load=1, positions=("A1",)), "LL")
    before = await list_digits(place)
    assert len(before) == len(set(before.values())) == 4

    place.shop.do(place.id, SettleUnproved(strikes[0], "use as is", "measured since"), "LL")
    place.shop.do(place.id, Dispose(tuple(place.batch.held()), "scrap", "bent"), "LL")
    left = await list_digits(place)
    assert left[OPEN_SCRAP] == "9", "what anybody says at any time"
    assert len(left) == 4
    scrap = {OPEN_SCRAP: left.pop(OPEN_SCRAP)}
    assert left.items() < before.items(), "the second strike, the waivers, and what still sits on its carrier"

    place.shop.do(place.id, CloseWaiver(waiver.seq, "probed by hand"), "LL")
    back = await list_digits(place)
    assert len(back) == 3
    assert back.items() < (left | scrap).items()


async def test_no_decision_takes_the_digit_of_scrap(place: Place) -> None:
    for _ in range(3):
        noted = place.shop.do(place.id, Note("smells"), "LL")[0].seq
        place.shop.do(place.id, StrikeOut(noted, "does not"), "LL")
    strike_probing(place, place.load())
    place.shop.do(place.id, SetPiecesAside("scrap", "dropped", load=1, positions=("A1",)), "LL")
    digits = await list_digits(place)
    assert (digits[OPEN_SCRAP], set(digits.values())) == ("9", {"1", "9", "a"})


async def test_a_decision_keeps_its_digit_when_a_reading_out_of_limits_is_struck_out(place: Place) -> None:
    """It was typed wrong and goes; a proof of another load that was struck out after it stays where it was."""
    place.through(place.load(), 10)
    load = place.load()
    run = place.at(load, "Measure groove depth")
    line = place.hand.current(load)
    assert line is not None
    (reading, *_) = place.shop.do(place.id, Prove(run, line.key, {"value": [3.0, 3.3]}), "AA")
    probed = next(entry for entry in place.batch.entries if entry.body.get("line") == "probed 1")
    place.shop.do(place.id, StrikeOut(probed.seq, "typed wrong"), "LL")
    place.shop.do(place.id, SetPiecesAside("hold", "dropped", load=load, positions=("A1",)), "LL")
    before = await list_digits(place)
    assert len(before) == 2
    place.shop.do(place.id, StrikeOut(reading.seq, "typed wrong"), "LL")
    assert await list_digits(place) == before


async def test_a_waiver_keeps_its_digit_when_another_is_closed(place: Place) -> None:
    load = place.load()
    run = place.at(load, "Probe G54 X Z")
    (first, *_) = place.shop.do(place.id, Waive(run, "probed 1", "probe is broken"), "LL")
    place.at(load, "Measure groove depth")
    line = place.hand.current(load)
    assert line is not None
    place.shop.do(place.id, Waive(run, line.key, "gauge is away"), "LL")
    app = FloorApp(place.shop, who="LL", ticking=False)
    digits = []
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("b")
        for _ in range(2):
            await pilot.press("d")
            rows = [str(one.prompt) for one in app.screen.query_one(OptionList).options]
            digits.append({row[0] for row in rows if "gauge is away" in row})
            await pilot.press("escape")
            if not place.batch.waivers[first.seq].closed:
                place.shop.do(place.id, CloseWaiver(first.seq, "probed by hand"), "LL")
    assert digits == [{"2"}, {"2"}]
