"""Reworks that pass only some operations, including extra bench work, and where pieces continue afterward."""

from __future__ import annotations

from datetime import timedelta

import pytest

from floor.batch.command import Refused
from floor.batch.counting.commands import Dispose, MarkedPieces
from floor.batch.counting.decide_surplus import BringBackSurplus, TakeOutSurplus
from floor.batch.counting.holds import list_held_pieces, list_pieces_in_rework, list_possible_reworks
from floor.batch.counting.op_yields import list_op_outcomes
from floor.batch.fold import fold
from floor.batch.lifecycle.commands import FormLoad, SetPiecesAside
from floor.batch.lifecycle.enter_half_done import EnterLate
from floor.batch.lifecycle.half_done import PlacedPieces
from floor.batch.load import Load
from floor.batch.walk.load_clocks import list_load_clocks
from floor.batch.walk.next_run import list_unmet_arrival_gates
from floor.papers.closeout import write_close_out
from tests.batch.factory import BY_HAND, MORNING, OWN_LOAD, Bench, by_hand, conserved, edited, open_bench, part


def packed(*marks: MarkedPieces, pieces: int = 4, order: int = 4) -> tuple[Bench, int]:
    """A batch whose pieces are all through to the packing table, and counted there so; that load."""
    bench = open_bench(by_hand, start=pieces, order=order)
    for pallet in [bench.form(10) for _ in range(-(-pieces // 4))]:
        bench.through(pallet, 10, 20)
        bench.clock.forward(49 * 3600)
        bench.through(pallet, 30)
    tray = bench.form(40)
    bench.through(tray, 40)
    bench.clock.forward(3600)
    tote = bench.form(50)
    bench.through(tote, 50, marks=marks)
    return bench, tote


def ops_of(bench: Bench, piece: int) -> list[int]:
    """The operations that a piece has been counted at, in their order."""
    return [run.op for run in bench.state.runs.values() if run.count is not None and piece in run.pieces]


def reload(bench: Bench, op: int, rework: str = "") -> Load:
    return bench.state.loads[bench.form(op, rework=rework)]


def test_only_what_is_named_is_passed_again_and_the_others_never_see_it() -> None:
    bench, _ = packed(MarkedPieces("drop", count=1))
    (piece,) = bench.state.waiting(42, "by hand")
    assert ops_of(bench, piece) == [10, 20, 30, 40, 50]
    assert bench.where() == {"finished": 3, "waiting": 1}

    load = reload(bench, 42, "by hand")
    assert bench.state.format_carrier(load) == "Tray 1"
    bench.through(load.number, 42)
    assert load.at == 44, "two operations of one ride on the tray"
    bench.clock.forward(25 * 3600)
    bench.through(load.number, 44)
    assert bench.state.waiting(50) == [piece], "with the others again, for what all pass"
    bench.through(bench.form(50), 50)
    assert ops_of(bench, piece) == [10, 20, 30, 40, 50, 42, 44, 50]
    assert bench.where() == {"finished": 4}
    last = list_op_outcomes(bench.state)[-1]
    assert (last.op, last.produced, last.good, last.rework, last.first_pass) == (50, 4, 4, 1, 3)
    conserved(bench.state)


def test_the_rework_has_gates_and_clocks_of_its_own() -> None:
    bench, _ = packed(MarkedPieces("drop", count=1))
    load = reload(bench, 42, "by hand")
    bench.through(load.number, 42)
    said = list_load_clocks(bench.state, load, bench.clock())
    assert [one[:2] for one in said] == [("drop dry", "wait")], "and nothing of the oven's, which is not asked again"
    bench.begin(load.number)
    assert (bench.current(load.number).key, bench.current(load.number).state) == ("cured 1", "waits")


def test_what_it_leaves_out_is_not_passed_on_a_carrier_of_its_own() -> None:
    """Back to the pallet, over to the table: op 30 and 40 are left out, and those in rework keep to themselves."""
    bench, _ = packed(MarkedPieces("worn", count=1))
    (piece,) = bench.state.waiting(10, "anew")
    load = reload(bench, 10, "anew")
    assert bench.state.list_leg_ops(load) == (10, 20)
    bench.through(load.number, 10, 20)
    assert (load.dissolved is not None, bench.state.waiting(50)) == (True, [piece])


def test_in_place_the_others_wait_while_it_passes_what_is_named() -> None:
    """Found at op 30 on the pallet: the groove is cut again, the coat of op 20 is left as it is."""
    bench = open_bench(by_hand, start=4, order=4)
    load = bench.state.loads[bench.form(10)]
    bench.through(load.number, 10, 20)
    bench.clock.forward(49 * 3600)
    bench.through(load.number, 30, marks=(MarkedPieces("shallow", positions=("A2",)),))
    assert (load.at, bench.state.find_next_pieces(load)) == (10, (2,))
    bench.through(load.number, 10, 30)
    assert ops_of(bench, 2) == [10, 20, 30, 10, 30]
    assert ops_of(bench, 1) == [10, 20, 30]
    assert len(bench.state.waiting(40)) == 4
    conserved(bench.state)


def test_a_piece_taken_from_the_middle_of_its_rework_goes_on_there() -> None:
    """On hold between filling and rubbing: nothing is waived when it is used as it is, and rubbing is not left out."""
    bench, _ = packed(MarkedPieces("drop", count=2))
    load = reload(bench, 42, "by hand")
    bench.through(load.number, 42)
    bench.say(SetPiecesAside("hold", "dropped", load=load.number, positions=("A1",)))
    (held,) = list_held_pieces(bench.state)
    assert (held.owes, bench.state.find_op_reached(held.piece)) == ("", 50)
    bench.clock.forward(25 * 3600)
    bench.through(load.number, 44)
    bench.say(Dispose((held.piece,), "use as is", "only dusty"), by="LL")
    assert bench.state.waiting(44, "by hand") == [held.piece]
    bench.through(bench.form(44, rework="by hand"), 44)
    assert len(bench.state.waiting(50)) == 2
    conserved(bench.state)


def test_held_by_the_count_in_the_middle_of_its_rework() -> None:
    bench, _ = packed(MarkedPieces("drop", count=2))
    load = reload(bench, 42, "by hand")
    bench.through(load.number, 42, marks=(MarkedPieces("odd", positions=("A1",)),))
    (held,) = list_held_pieces(bench.state)
    bench.say(Dispose((held.piece,), "use as is", "the shade is right"), by="LL")
    assert bench.state.find_next_op(held.piece) == 44, "rubbed flat as the other is"
    assert bench.state.present(load) == tuple(sorted(bench.state.on[load.number]))
    conserved(bench.state)


def test_a_held_piece_takes_no_rework_that_leaves_out_what_it_was_not_through() -> None:
    bench = open_bench(by_hand, start=4, order=4)
    load = bench.form(10)
    bench.through(load, 10, 20)
    bench.say(SetPiecesAside("hold", "rubbed", load=load, positions=("A1",)))
    (held,) = list_held_pieces(bench.state)
    assert [route.id for route in list_possible_reworks(bench.state, (held.piece,))] == [
        "touch up",
        "strip",
        "regroove",
    ]
    refused = bench.refused(Dispose((held.piece,), "rework", "cut it again", "anew"), by="LL")
    assert refused.wrong == "Groove and coat again skips operations that the piece has not passed"
    late = bench.refused(Dispose((held.piece,), "rework", "fill it", "by hand"), by="LL")
    assert late.wrong == "Fill the scratch by hand starts at op 42, later than the piece has come"


def test_its_own_steps_are_asked_where_it_starts_and_not_again_later() -> None:
    bench = open_bench(part, start=4, order=4)
    load = bench.form(10)
    bench.through(load, 10, 20)
    bench.clock.forward(49 * 3600)
    bench.through(load, 30, marks=(MarkedPieces("bare", positions=("A2",)),))
    assert bench.begin(load).rework == "touch up"
    bench.through(load)
    assert (bench.state.loads[load].at, bench.begin(load).rework) == (30, "")


def held_at_20(bench: Bench) -> Load:
    """A load whose first piece is on hold in its place, for a fault of op 10, and that is through op 20 without it."""
    load = bench.state.loads[bench.form(10)]
    bench.through(load.number, 10)
    bench.say(SetPiecesAside("hold", "burr", load=load.number, positions=("A1",)))
    bench.through(load.number, 20)
    return load


def test_a_held_piece_that_sits_on_its_carrier_is_reworked_there() -> None:
    """It is still in its place: nothing to reload, and no carrier of its own to wait for."""
    bench = open_bench(part, start=4, order=4)
    load = held_at_20(bench)
    bench.say(Dispose((1,), "rework", "cut it again", "regroove"), by="LL")
    assert (bench.state.places[1].where, load.at, bench.state.find_next_pieces(load)) == ("load", 10, (1,))
    bench.through(load.number, 10, 20)
    assert (load.at, bench.state.find_next_pieces(load)) == (30, (1, 2, 3, 4)), "all together again"
    conserved(bench.state)


def test_what_the_load_passed_without_it_the_piece_makes_up_for_after_its_rework() -> None:
    bench = open_bench(by_hand, start=4, order=4)
    load = held_at_20(bench)
    bench.clock.forward(49 * 3600)
    bench.begin(load.number)
    bench.say(Dispose((1,), "rework", "coat it", "touch up"), by="LL")
    bench.through(load.number, 30)
    assert (load.at, bench.state.find_next_pieces(load)) == (20, (1,))
    bench.through(load.number, 20)
    bench.clock.forward(49 * 3600)
    bench.through(load.number, 30)
    assert ops_of(bench, 1) == [10, 20, 30]
    assert len(bench.state.waiting(40)) == 4
    conserved(bench.state)


def test_sent_to_rework_while_a_run_is_under_way_it_waits_for_its_release() -> None:
    bench = open_bench(part, start=4, order=4)
    load = bench.state.loads[bench.form(10)]
    bench.through(load.number, 10)
    bench.through(load.number, 20)
    bench.clock.forward(49 * 3600)
    bench.begin(load.number)
    bench.say(SetPiecesAside("hold", "bare place", load=load.number, positions=("A1",)))
    bench.say(Dispose((1,), "rework", "coat it again", "touch up"), by="LL")
    assert (load.at, bench.run_of(load.number).pieces) == (30, (2, 3, 4))
    bench.through(load.number, 30)
    assert (load.at, bench.state.find_next_pieces(load)) == (20, (1,))
    bench.through(load.number, 20)
    bench.clock.forward(49 * 3600)
    bench.through(load.number, 30)
    assert ops_of(bench, 1) == [10, 20, 20, 30]
    assert len(bench.state.waiting(40)) == 4
    conserved(bench.state)


def test_what_it_missed_before_it_was_found_wanting_it_makes_up_for_last() -> None:
    """Set aside while the groove was cut; the others are coated by the time that it is sent back."""
    bench = open_bench(part, start=4, order=4)
    load = bench.state.loads[bench.form(10)]
    bench.begin(load.number)
    bench.say(SetPiecesAside("hold", "chatter", load=load.number, positions=("A1",)))
    bench.through(load.number, 10, 20)
    bench.say(Dispose((1,), "rework", "cut it again", "regroove"), by="LL")
    bench.through(load.number, 10, 20)
    assert (ops_of(bench, 1), load.at, bench.state.find_next_pieces(load)) == ([10, 20], 30, (1, 2, 3, 4))
    conserved(bench.state)


def stripped(*held: str) -> tuple[Bench, Load]:
    """Two pieces whose coat flakes, stripped in their places; those named are put on hold then."""
    bench = open_bench(by_hand, start=4, order=4)
    load = bench.state.loads[bench.form(10)]
    bench.through(load.number, 10)
    bench.through(load.number, 20, marks=(MarkedPieces("flaky", positions=("A1", "A2")),))
    bench.through(load.number, 12)
    if held:
        bench.say(SetPiecesAside("hold", "scratch?", load=load.number, positions=held))
    return bench, load


def test_in_place_too_a_rework_may_have_operations_of_its_own() -> None:
    bench, load = stripped()
    assert (load.at, bench.state.format_op_title(load, 14)) == (14, "rework: Etch")
    bench.through(load.number, 14, 20)
    assert (ops_of(bench, 1), load.at, bench.state.find_next_pieces(load)) == ([10, 20, 12, 14, 20], 30, (1, 2, 3, 4))


def test_a_piece_held_in_the_middle_goes_on_there_though_the_others_are_through() -> None:
    bench, load = stripped("A1")
    bench.through(load.number, 14, 20)
    assert load.at == 30
    bench.say(Dispose((1,), "use as is", "no scratch"), by="LL")
    assert (load.at, bench.state.find_next_pieces(load)) == (14, (1,))
    bench.through(load.number, 14, 20)
    assert (ops_of(bench, 1), load.at, bench.state.find_next_pieces(load)) == ([10, 20, 12, 14, 20], 30, (1, 2, 3, 4))
    conserved(bench.state)


def test_a_piece_held_in_the_middle_joins_those_that_are_still_there() -> None:
    """The other is etched meanwhile: it is etched by itself, and both are coated together."""
    bench, load = stripped("A1")
    bench.begin(load.number)
    bench.until(load.number, "count")
    bench.say(Dispose((1,), "use as is", "no scratch"), by="LL")
    bench.through(load.number, 14)
    assert (load.at, bench.state.find_next_pieces(load), bench.state.format_op_title(load, 14)) == (
        14,
        (1,),
        "rework: Etch",
    )
    bench.through(load.number, 14)
    assert (load.at, bench.state.find_next_pieces(load)) == (20, (1, 2))
    conserved(bench.state)


def test_a_piece_sent_back_again_from_the_middle_starts_again_alone() -> None:
    bench, load = stripped("A1")
    bench.say(Dispose((1,), "rework", "scratched after all", "strip"), by="LL")
    assert (load.at, bench.state.find_next_pieces(load)) == (12, (1,))
    bench.through(load.number, 12, 14, 20)
    assert (load.at, bench.state.find_next_pieces(load)) == (14, (2,)), "the other goes on where it was"
    bench.through(load.number, 14, 20)
    assert (ops_of(bench, 1), ops_of(bench, 2)) == ([10, 20, 12, 12, 14, 20], [10, 20, 12, 14, 20])
    assert bench.state.passes[1, "strip"] == 2
    conserved(bench.state)


def test_held_by_the_count_and_used_before_the_release_it_goes_on_with_the_others() -> None:
    bench = open_bench(by_hand, start=4, order=4)
    load = bench.state.loads[bench.form(10)]
    bench.through(load.number, 10)
    bench.through(load.number, 20, marks=(MarkedPieces("flaky", positions=("A1", "A2")),))
    bench.until(load.number, "release", marks=(MarkedPieces("pitted", positions=("A1",)),))
    bench.say(Dispose((1,), "use as is", "shallow pits"), by="LL")
    bench.through(load.number, 12)
    assert (load.at, bench.state.find_next_pieces(load)) == (14, (1, 2))


def test_a_rework_with_an_operation_on_another_carrier_is_not_passed_in_place() -> None:
    other = edited(
        *BY_HAND,
        (
            'op = 14\ntitle = "Etch"\nstation = "bench"\ncarrier = "pallet"',
            'op = 14\ntitle = "Etch"\nstation = "bench"\ncarrier = "tray"',
        ),
    )
    bench = open_bench(lambda: other, start=4, order=4)
    load = bench.form(10)
    bench.through(load, 10)
    bench.through(load, 20, marks=(MarkedPieces("flaky", positions=("A1",)),))
    assert bench.state.waiting(12, "strip") == [1]
    for op in (12, 14):
        bench.through(bench.form(op, rework="strip"), op)
    assert bench.state.waiting(20) == [1], "with those that are to be coated"


def test_a_piece_held_at_the_end_of_what_only_rework_passes_is_not_reworked_past_the_coat() -> None:
    """Sent back in place it would end at an operation the pallet skips for the others: so it leaves."""
    bench, load = stripped()
    bench.through(load.number, 14, marks=(MarkedPieces("stained", positions=("A1",)),))
    bench.say(Dispose((1,), "rework", "stain goes deep", "strip"), by="LL")
    assert bench.state.waiting(12, "strip") == [1]
    bench.through(load.number, 20)
    assert (load.at, bench.state.find_next_pieces(load)) == (30, (2, 3, 4))


def test_a_load_that_was_loaded_further_on_takes_nothing_back_to_before_that() -> None:
    bench = open_bench(lambda: edited(OWN_LOAD), start=4, order=4)
    load = bench.form(10)
    bench.through(load, 10, 20)
    bench.clock.forward(49 * 3600)
    bench.through(load, 30, marks=(MarkedPieces("bare", positions=("A1",)),))
    again = bench.form(20, rework="touch up")
    bench.through(again, 20)
    bench.clock.forward(49 * 3600)
    bench.through(again, 30, marks=(MarkedPieces("shallow", positions=("A1",)),))
    assert bench.state.waiting(10, "regroove") == [1]


def test_a_held_piece_whose_load_has_not_come_as_far_leaves_it_for_its_rework() -> None:
    """On its place it would be cut again and coated, and coated once more with the others."""
    bench = open_bench(part, start=4, order=4)
    load = bench.form(10)
    bench.through(load, 10)
    bench.say(SetPiecesAside("hold", "burr", load=load, positions=("A1",)))
    bench.say(Dispose((1,), "rework", "cut it again", "regroove"), by="LL")
    assert bench.state.waiting(10, "regroove") == [1]


def test_behind_its_last_operation_a_reworked_load_is_one_like_any_other() -> None:
    own = ('id = "strip"\n', 'id = "strip"\nrides = "own load"\n')
    bench = open_bench(lambda: edited(*BY_HAND, own), start=4, order=4)
    pallet = bench.form(10)
    bench.through(pallet, 10)
    bench.through(pallet, 20, marks=(MarkedPieces("flaky", positions=("A1",)),))
    load = reload(bench, 12, "strip")
    assert bench.state.list_leg_ops(load) == (12, 14, 20, 30)
    assert bench.state.format_op_title(load, 12) == "rework: Strip the coat"
    assert bench.state.format_op_title(load, 12, returns=True) == "rework, back to op 20: Strip the coat"
    bench.through(load.number, 12, 14, 20)
    assert (load.at, bench.state.format_op_title(load, 30), list_pieces_in_rework(bench.state)) == (30, "Cut free", [])


def test_an_old_record_sends_a_held_piece_loose() -> None:
    """In older records a piece did not stay on its carrier for rework; it waited to be loaded again."""
    bench = open_bench(part, start=4, order=4)
    held_at_20(bench)
    entry = bench.say(Dispose((1,), "rework", "cut it again", "regroove"), by="LL")[0]
    assert entry.body.pop("stays") == [1]
    assert fold(bench.state.entries).waiting(10, "regroove") == [1]


def test_spares_taken_out_in_mid_rework_come_back_to_it() -> None:
    bench, _ = packed(MarkedPieces("drop", count=1), pieces=5)
    load = reload(bench, 42, "by hand")
    bench.through(load.number, 42)
    bench.say(TakeOutSurplus("spare", "not needed", load=load.number), by="LL")
    assert bench.where() == {"finished": 4, "spare": 1}
    bench.say(BringBackSurplus(44, "needed after all", rework="by hand"), by="LL")
    assert len(bench.state.waiting(44, "by hand")) == 1


def test_what_is_in_rework_is_reported_until_it_is_with_the_others() -> None:
    bench, _ = packed(MarkedPieces("drop", count=1))
    assert list_pieces_in_rework(bench.state) == ["1 piece waits for op 42 Fill by hand: Fill the scratch by hand"]
    load = reload(bench, 42, "by hand")
    assert bench.state.format_op_title(load, 42) == "rework: Fill by hand"
    assert list_pieces_in_rework(bench.state) == ["1 piece on Tray 1 at op 42: Fill the scratch by hand"]


def test_a_piece_found_bad_in_rework_is_scrap_there() -> None:
    bench, _ = packed(MarkedPieces("drop", count=1))
    load = reload(bench, 42, "by hand")
    bench.through(load.number, 42, marks=(MarkedPieces("spilt", positions=("A1",)),))
    assert bench.where() == {"finished": 3, "scrap": 1}
    conserved(bench.state)


def test_nobody_loads_reworked_pieces_with_others_before_they_go_the_same_way() -> None:
    bench, _ = packed(MarkedPieces("drop", count=1), MarkedPieces("scratch", count=1))
    refusal = bench.refused(FormLoad(42))
    assert isinstance(refusal, Refused)
    load = reload(bench, 42, "by hand")
    assert len(bench.state.present(load)) == 1


def test_a_window_that_is_met_once_is_asked_of_those_alone_that_come_for_the_first_time() -> None:
    """The tote is filled within 8 h of the oven; a scratch filled by hand takes a day, and does not go there again."""
    bench, _ = packed(MarkedPieces("drop", count=1))
    load = reload(bench, 42, "by hand")
    bench.through(load.number, 42)
    bench.clock.forward(25 * 3600)
    bench.through(load.number, 44)
    tote = bench.form(50)
    assert not list_unmet_arrival_gates(bench.state, bench.state.loads[tote], bench.clock())
    fresh = open_bench(by_hand, start=4, order=4)
    pallet = fresh.form(10)
    fresh.through(pallet, 10, 20)
    fresh.clock.forward(49 * 3600)
    fresh.through(pallet, 30)
    fresh.through(fresh.form(40), 40)
    fresh.clock.forward(9 * 3600)
    (late,) = list_unmet_arrival_gates(fresh.state, fresh.state.loads[fresh.form(50)], fresh.clock())
    assert late.verdict.late


def told(*rows: PlacedPieces) -> Bench:
    bench = open_bench(by_hand, start=4, order=4)
    bench.say(EnterLate(rows, MORNING), by="LL")
    conserved(bench.state)
    return bench


def test_pieces_in_the_middle_of_their_rework_are_told_of_a_batch_that_is_half_done() -> None:
    begun = MORNING - timedelta(hours=2)
    bench = told(
        PlacedPieces("load", 1, 44, 1, rework="by hand", found=50, clocks=(("drop dry", begun),)),
        PlacedPieces("waiting", 1, 44, rework="by hand", found=50, clocks=(("drop dry", begun),)),
        PlacedPieces("finished", 2),
    )
    (load,) = bench.state.list_live_loads()
    assert (bench.state.list_leg_ops(load), load.at, bench.state.list_waiting_pools()) == (
        (42, 44),
        44,
        [(44, "by hand", 1)],
    )
    bench.clock.forward(25 * 3600)
    for number in (load.number, bench.form(44, rework="by hand")):
        bench.through(number, 44)
    bench.through(bench.form(50), 50, marks=())
    assert bench.where() == {"finished": 4}


@pytest.mark.parametrize(
    ("row", "wrong"),
    [
        (PlacedPieces("waiting", 4, 42), "only reworked pieces pass op 42"),
        (PlacedPieces("hold", 4, 44, reason="doubtful"), "only reworked pieces pass op 44"),
        (PlacedPieces("load", 4, 40, 1, rework="by hand", found=50), "Fill the scratch by hand does not pass op 40"),
        (PlacedPieces("waiting", 4, 42, rework="by hand", found=30), "Fill the scratch by hand goes from op 42 to"),
        (
            PlacedPieces("waiting", 4, 50, rework="by hand", found=50),
            "loose pieces wait for Fill the scratch by hand at op 42",
        ),
    ],
)
def test_what_no_rework_can_bring_about_is_not_told(row: PlacedPieces, wrong: str) -> None:
    with pytest.raises(Refused) as refused:
        told(row)
    assert refused.value.wrong.startswith(wrong)


def test_the_cure_of_a_few_pieces_in_rework_in_place_is_reported_at_a_handover() -> None:
    """Two of four are stripped and etched on the pallet: a clock for them alone still counts as running."""
    slow = (
        'steps = [{ do = "Strip to bare metal", at = "load" }]',
        'steps = [{ do = "Strip to bare metal", id = "bare", at = "load", skip = false }]\n'
        'clocks = [{ id = "dry", starts = "step bare", windows = [{ earliest = "2 h" }], source = "Label" }]',
    )
    wait = (
        'steps = [{ do = "Etch the bare place", at = "load" }]',
        'steps = [{ gate = "cured", clock = "dry", at = "arrive" }, { do = "Etch the bare place", at = "load" }]',
    )
    bench = open_bench(lambda: edited(*BY_HAND, slow, wait), start=4, order=4)
    load = bench.state.loads[bench.form(10)]
    bench.through(load.number, 10)
    bench.through(load.number, 20, marks=(MarkedPieces("flaky", positions=("A1", "A2")),))
    bench.through(load.number, 12)
    assert ("dry", "wait") in [one[:2] for one in list_load_clocks(bench.state, load, bench.clock())]
    bench.clock.forward(3 * 3600)
    bench.through(load.number, 14, 20)
    assert "dry" not in [one[0] for one in list_load_clocks(bench.state, load, bench.clock())]


def test_what_only_rework_passes_has_no_first_pass() -> None:
    bench, _ = packed(MarkedPieces("drop", count=1))
    load = reload(bench, 42, "by hand")
    bench.through(load.number, 42)
    paper = write_close_out(bench.state, bench.clock(), "hash")
    assert "rolled throughput yield 75.0 %" in paper
    (row,) = [line for line in paper.splitlines() if line.split()[:1] == ["42"] and "n/a" in line]
    assert row.split()[-4:-2] == ["n/a", "n/a"], "before the fall off: first pass and planned"
