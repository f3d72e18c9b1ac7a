"""Held pieces on a carrier that holds them fast while some of its load are in rework: who goes where, with whom."""

from __future__ import annotations

import dataclasses

import pytest

from floor.batch.corrections.commands import StrikeOut
from floor.batch.counting.commands import Dispose, MarkedPieces, TakeOff
from floor.batch.counting.holds import list_held_pieces
from floor.batch.fold import Inapplicable, fold
from floor.batch.lifecycle.commands import SetPiecesAside
from floor.batch.load import Load
from tests.batch.factory import VANCE, Bench, conserved, edited, open_bench


@pytest.fixture
def bench() -> Bench:
    return open_bench(order=4, start=4)


def hold(bench: Bench, load: Load, *places: str) -> None:
    bench.say(SetPiecesAside("hold", "doubtful", load=load.number, positions=places))


def decide(bench: Bench, piece: int, rework: str = "", waive: bool = False) -> None:
    how = "rework" if rework else "use as is"
    word = VANCE if waive else None
    bench.say(Dispose((piece,), how, "looked at again", rework, waive, word), by="LL")  # type: ignore[arg-type]
    conserved(bench.state)


def next_of(bench: Bench, load: Load) -> tuple[int | None, tuple[int, ...]]:
    return load.at, bench.state.find_next_pieces(load)


def thin(bench: Bench, *places: str) -> Load:
    """A pallet whose coat is thin at these places, which are to be coated again before the others go on."""
    load = bench.state.loads[bench.form(10)]
    bench.through(load.number, 10)
    bench.through(load.number, 20, marks=(MarkedPieces("thin", places),))
    assert load.at == 20
    return load


def bare(bench: Bench, *places: str) -> Load:
    """A pallet that is through its last operation, but for these places: coated and cut free again."""
    load = bench.state.loads[bench.form(10)]
    bench.through(load.number, 10, 20)
    bench.clock.forward(49 * 3600)
    bench.through(load.number, 30, marks=(MarkedPieces("bare", places),))
    assert load.at == 20
    return load


def test_one_of_the_others_goes_on_with_the_others_when_the_rework_is_done(bench: Bench) -> None:
    load = thin(bench, "A1", "A2")
    hold(bench, load, "B1")
    decide(bench, 3)
    assert bench.state.present(load) == (1, 2, 3, 4)
    assert next_of(bench, load) == (20, (1, 2))
    bench.through(load.number, 20)
    assert next_of(bench, load) == (30, (1, 2, 3, 4))


def test_one_in_mid_rework_goes_on_with_those_in_rework(bench: Bench) -> None:
    load = bare(bench, "A1", "A2")
    bench.through(load.number, 20)
    hold(bench, load, "A1")
    decide(bench, 1)
    assert next_of(bench, load) == (30, (1, 2))


def test_one_whose_rework_is_waived_waits_for_the_other_on_its_carrier(bench: Bench) -> None:
    load = thin(bench, "A1", "A2")
    hold(bench, load, "A1")
    decide(bench, 1, waive=True)
    assert bench.state.present(load) == (1, 2, 3, 4)
    assert next_of(bench, load) == (20, (2,))
    bench.through(load.number, 20)
    assert next_of(bench, load) == (30, (1, 2, 3, 4))


def test_one_in_mid_rework_waits_where_another_goes_back_once_more(bench: Bench) -> None:
    """Held while B1 is coated a third time, A1 is cut free with the other recoated pieces, and only once."""
    load = bare(bench, "A1", "A2", "B1")
    bench.through(load.number, 20, marks=(MarkedPieces("thin", ("B1",)),))
    hold(bench, load, "A1")
    decide(bench, 1)
    assert next_of(bench, load) == (20, (3,))
    bench.through(load.number, 20)
    assert next_of(bench, load) == (30, (1, 2, 3))
    bench.through(load.number, 30)
    assert bench.state.list_waiting_pools() == [(40, "", 4)]


def test_a_piece_taken_off_in_mid_rework_waits_to_be_loaded_again(bench: Bench) -> None:
    load = bare(bench, "A1", "A2", "B1")
    bench.through(load.number, 20, marks=(MarkedPieces("thin", ("B1",)),))
    hold(bench, load, "A1")
    bench.say(TakeOff((1,)))
    decide(bench, 1)
    assert bench.state.waiting(30) == [1]


def test_waiving_the_rework_of_one_leaves_another_in_its_own(bench: Bench) -> None:
    """All three are cut free again after the coat; only the recoat of A1 is waived."""
    load = bare(bench, "A1", "A2", "B1")
    bench.through(load.number, 20, marks=(MarkedPieces("thin", ("A1",)),))
    hold(bench, load, "A1", "A2")
    bench.say(Dispose((1, 2), "use as is", "looked at again", waive_rework=True, concession=VANCE), by="LL")
    while load.dissolved is None:
        bench.through(load.number, 30)
    done = {piece: [run.op for run in bench.state.runs.values() if piece in run.pieces] for piece in (1, 2, 3, 4)}
    assert done == dict.fromkeys((1, 2, 3), [10, 20, 30, 20, 30]) | {4: [10, 20, 30]}


def test_an_older_record_leaves_one_whose_rework_is_waived_among_those_in_rework(bench: Bench) -> None:
    load = thin(bench, "A1", "A2")
    hold(bench, load, "A1")
    decide(bench, 1, waive=True)
    *before, last = bench.state.entries
    said = {name: value for name, value in last.body.items() if name != "own_way"}
    older = fold([*before, dataclasses.replace(last, body=said)])
    assert older.find_next_pieces(older.loads[load.number]) == (1, 2)


def test_one_sent_to_another_rework_is_not_in_the_first_any_more(bench: Bench) -> None:
    load = thin(bench, "A1", "A2")
    hold(bench, load, "A1")
    decide(bench, 1, "regroove")
    assert next_of(bench, load) == (10, (1,))
    bench.through(load.number, 10, 20)
    assert next_of(bench, load) == (20, (2,)), "grooved and coated again; it is not coated a third time"


def test_what_was_never_cut_is_cut_and_then_coated_alone_before_it_goes_on_with_the_others(bench: Bench) -> None:
    load = bench.state.loads[bench.form(10)]
    hold(bench, load, "A1")
    bench.through(load.number, 10, 20)
    decide(bench, 1, "regroove")
    assert next_of(bench, load) == (10, (1,))
    bench.through(load.number, 10)
    assert next_of(bench, load) == (20, (1,)), "the load was coated without it"
    bench.through(load.number, 20)
    assert next_of(bench, load) == (30, (1, 2, 3, 4))


def test_what_the_load_has_before_it_still_is_not_made_up_for(bench: Bench) -> None:
    load = bench.state.loads[bench.form(10)]
    bench.begin(load.number)
    hold(bench, load, "A1")
    decide(bench, 1, "regroove")
    bench.through(load.number, 10)
    assert next_of(bench, load) == (10, (1,))
    bench.through(load.number, 10)
    assert next_of(bench, load) == (20, (1, 2, 3, 4))


def test_one_is_sent_back_while_the_others_are_through_and_wait_for_a_rework(bench: Bench) -> None:
    load = bare(bench, "A2")
    hold(bench, load, "A1")
    (held,) = list_held_pieces(bench.state)
    assert held.op == 30, "it was cut free, and has not come to the oven"
    decide(bench, 1, "touch up")
    assert next_of(bench, load) == (20, (1, 2))


def test_one_held_again_before_its_first_count_goes_on_from_the_beginning(bench: Bench) -> None:
    load = bench.state.loads[bench.form(10)]
    bench.say(SetPiecesAside("hold", "doubtful", load=load.number, positions=("A1",), off=True))
    decide(bench, 1, "regroove")
    bench.say(SetPiecesAside("hold", "doubtful", op=10, rework="regroove", count=1))
    decide(bench, 1, waive=True)
    assert bench.state.waiting(10) == [1]


def test_what_was_decided_stands_as_long_as_something_came_of_it(bench: Bench) -> None:
    """Struck out, the entries after it would hold a held piece, decide on a free one, take off one that never sat."""
    load = bench.state.loads[bench.form(10)]

    def depends(seq: int, wrong: str) -> None:
        refused = bench.refused(StrikeOut(seq, "entered wrong"), by="LL")
        assert (refused.why, wrong in refused.wrong) == ("later entries", True), refused.wrong

    hold(bench, load, "A1")
    first = bench.state.seq
    decide(bench, 1)
    used = bench.state.seq
    depends(first, "piece 1 is not on hold")
    hold(bench, load, "A1")
    depends(used, "piece 1 is not in process")
    bench.say(TakeOff((1,)))
    depends(bench.state.seq - 1, "piece 1 does not sit on a carrier any more")


def test_a_record_that_passes_over_an_owed_rework_is_not_taken(bench: Bench) -> None:
    load = thin(bench, "A1", "A2")
    hold(bench, load, "A1")
    decide(bench, 1, waive=True)
    *before, last = bench.state.entries
    said = {name: value for name, value in last.body.items() if name != "waives_rework"}
    with pytest.raises(Inapplicable, match="piece 1 is still to be reworked"):
        fold([*before, dataclasses.replace(last, body=said)])


DEBURR = (
    (
        "[[operations]]\nop = 20\n",
        """[[operations]]
op = 12
title = "Scrape by hand"
station = "bench"
carrier = "pallet"
rework_only = true
cycle = false
time = { before_piece = "1 min" }
steps = [{ do = "Scrape the edge", at = "load" }]
reasons = [{ code = "nicked", text = "Nicked" }]

[[operations]]
op = 14
title = "Stone by hand"
station = "bench"
carrier = "pallet"
rework_only = true
cycle = false
time = { before_piece = "1 min" }
steps = [{ do = "Stone the edge", at = "load" }]
reasons = [{ code = "ground", text = "Stoned too far" }]

[[operations]]
op = 20
""",
    ),
    (
        '[[reworks]]\nid = "regroove"\n',
        '[[reworks]]\nid = "deburr"\nname = "Deburr by hand"\nback_to = 12\nops = [12, 14, 20]\n\n'
        '[[reworks]]\nid = "regroove"\n',
    ),
    (
        '{ code = "dropped", text = "Dropped" },',
        '{ code = "dropped", text = "Dropped" },\n'
        '  { code = "burr", text = "Burr", to = "rework", rework = "deburr" },',
    ),
)
"""Edits of the test part: what has a burr is scraped and stoned on its pallet, which only reworked pieces are."""


def test_one_held_between_two_steps_of_a_rework_by_hand_goes_on_between_them() -> None:
    bench = open_bench(lambda: edited(*DEBURR), start=4, order=4)
    load = bench.state.loads[bench.form(10)]
    bench.through(load.number, 10)
    bench.through(load.number, 20, marks=(MarkedPieces("burr", ("A1", "A2")),))
    bench.through(load.number, 12)
    hold(bench, load, "A1")
    (held,) = list_held_pieces(bench.state)
    assert held.op == 14
    decide(bench, 1)
    assert next_of(bench, load) == (14, (1, 2))
