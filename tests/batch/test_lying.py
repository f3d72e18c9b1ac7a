"""What lies in each place of a carrier, as somebody who stands before it finds it."""

from __future__ import annotations

import pytest

from floor.batch.command import Refused
from floor.batch.counting.commands import CountRun, MarkedPieces, TakeOff
from floor.batch.counting.lying import list_what_lies
from floor.batch.gates.commands import Prove
from floor.batch.gates.decide_out_of_limits import DecideBefore
from floor.batch.lifecycle.commands import FormLoad, SetPiecesAside
from floor.batch.moving.choose import choose_pieces, choose_so_far, find_pieces_in, list_places_meant
from tests.batch.factory import Bench, decide_out, open_bench


@pytest.fixture
def bench() -> Bench:
    return open_bench(order=4, start=4)


def lies(bench: Bench, load: int) -> dict[str, str]:
    return {name: one.lies for name, one in list_what_lies(bench.state, bench.state.loads[load]).items()}


def test_each_place_has_its_piece_and_one_that_was_never_filled_has_none(bench: Bench) -> None:
    bench.say(FormLoad(10, pieces=(4, 1), places=("B1", "A2")))

    there = list_what_lies(bench.state, bench.state.loads[1])

    assert {name: one.piece for name, one in there.items()} == {"A1": None, "A2": 1, "B1": 4, "B2": None}
    assert lies(bench, 1) == {"A1": "", "A2": "good", "B1": "good", "B2": ""}


def test_on_a_pallet_held_and_scrapped_pieces_lie_there_until_they_are_taken_off(bench: Bench) -> None:
    load = bench.form(10)
    bench.through(load, 10, marks=(MarkedPieces("deep", ("A2",)),))
    bench.say(SetPiecesAside("hold", "bent", load=load, positions=("A1",)))
    assert lies(bench, load) == {"A1": "hold", "A2": "scrap", "B1": "good", "B2": "good"}

    bench.say(TakeOff((1,)))
    assert lies(bench, load) == {"A1": "away", "A2": "scrap", "B1": "good", "B2": "good"}


def test_on_a_tray_what_is_held_is_away(bench: Bench) -> None:
    bench.through(bench.form(10), 10, 20, 30)
    tray = bench.form(40)
    bench.say(SetPiecesAside("hold", "bent", load=tray, positions=("A2",)))
    assert lies(bench, tray) == {"A1": "good", "A2": "away", "A3": "good", "B1": "good", "B2": "", "B3": ""}


def test_while_some_are_in_rework_the_others_wait(bench: Bench) -> None:
    load = bench.form(10)
    bench.through(load, 10)
    bench.through(load, 20, marks=(MarkedPieces("thin", ("A1", "B2")),))
    assert lies(bench, load) == {"A1": "rework", "A2": "waits", "B1": "waits", "B2": "rework"}

    bench.through(load, 20)
    assert set(lies(bench, load).values()) == {"good"}, "the rework is done, and they are together again"


def test_what_was_counted_is_said_before_the_release(bench: Bench) -> None:
    load = bench.form(10)
    bench.through(load, 10)
    bench.until(load, "count")
    bench.say(CountRun(bench.run_of(load).number, 3, (MarkedPieces("thin", ("B1",)),)))
    assert lies(bench, load)["B1"] == "rework"
    assert lies(bench, load)["A1"] == "good"


def test_what_was_decided_out_of_limits_is_said_before_the_count(bench: Bench) -> None:
    load = bench.form(10)
    bench.until(load, "measured 1")
    out = bench.say(Prove(bench.run_of(load).number, "measured 1", {"value": [3.0, 3.3]}))[0].seq
    bench.say(decide_out(bench.state, out, "deep", ("B2",)))
    bench.say(DecideBefore(out, 0, "each measured since"), by="LL")
    assert lies(bench, load) == {"A1": "good", "A2": "good", "B1": "good", "B2": "scrap"}


def test_nothing_lies_on_a_carrier_without_places_or_on_an_emptied_one(bench: Bench) -> None:
    load = bench.form(10)
    bench.through(load, 10, 20, 30)
    assert bench.state.loads[load].dissolved
    assert lies(bench, load) == {}


# --- which are meant, while it is typed ------------------------------------------------------------------------------


def test_what_is_being_typed_means_the_pieces_of_its_whole_words(bench: Bench) -> None:
    bench.form(10)
    there = bench.state.present(bench.state.loads[1])
    assert choose_so_far(bench.state, "b2 a", there) == (4,)
    assert choose_so_far(bench.state, "A1-A2, 9 3", there) == (1, 2, 3)
    assert choose_so_far(bench.state, "", there) == ()
    with pytest.raises(Refused):
        choose_pieces(bench.state, "b2 a", there)


def test_places_are_meant_by_their_names_or_by_the_numbers_of_their_pieces(bench: Bench) -> None:
    bench.say(FormLoad(10, pieces=(4, 1, 2), places=("B1", "A2", "A1")))
    load = bench.state.loads[1]
    assert list_places_meant(bench.state, load, "b1, 1-2") == ("B1", "A2", "A1")
    assert list_places_meant(bench.state, load, "3 Z9 1-3") == ("3", "Z9", "1-3"), "to be refused as they were typed"

    bench.say(SetPiecesAside("hold", "bent", load=1, positions=("A1",)))
    assert list_places_meant(bench.state, load, "2") == ("A1",), "it sits there, held"
    assert find_pieces_in(bench.state, load, ("B1", "Z9", "B2", "A1")) == (4, 2), "held too; nothing lies in B2"


def test_all_means_each_of_those_there(bench: Bench) -> None:
    assert choose_pieces(bench.state, " All ", (2, 4)) == (2, 4)
    assert choose_so_far(bench.state, "all", (2, 4)) == (2, 4)
