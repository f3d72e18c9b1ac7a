"""A value out of limits does not pass by measuring another piece: it needs a decision, and stays in sight."""

from __future__ import annotations

from dataclasses import replace

import pytest

from floor.batch.corrections.commands import StrikeOut
from floor.batch.counting.commands import CountRun, Dispose, MarkedPieces
from floor.batch.counting.conformance import list_standing_readings, list_standing_values
from floor.batch.describe import describe
from floor.batch.events import Concession
from floor.batch.fold import fold
from floor.batch.gates.commands import Prove, Waive
from floor.batch.gates.decide_out_of_limits import DecideBefore, SettleOut
from floor.batch.gates.judge_readings import ALL_DECIDED, say_out
from floor.batch.handover.page import build_handover_page, list_safety_lines
from floor.batch.lifecycle.commands import SetPiecesAside, open_points
from floor.batch.stations.commands import Disturb
from floor.batch.walk.commands import Release
from floor.batch.worklist.tasks import list_due_tasks
from floor.checklist.gates import Measured
from floor.checklist.model import Checklist
from floor.checklist.units import read_measure
from floor.papers.closeout import write_close_out
from tests.batch.factory import (
    VANCE,
    Bench,
    conserved,
    decide_out,
    edited,
    look_at_loose_pieces,
    measure_again,
    open_bench,
    part,
    two_up,
)

DEPTH = "measured 1"


@pytest.fixture
def bench() -> Bench:
    return open_bench()


def measured(bench: Bench, *values: float) -> tuple[int, int]:
    """A load whose groove depth was read so (2.9 to 3.1 mm, 2 of 4 pieces); the load and the entry."""
    load = bench.form(10)
    bench.until(load, DEPTH)
    return load, bench.prove(load, DEPTH, value=list(values)).seq


def paper(bench: Bench) -> str:
    return " ".join(write_close_out(bench.state, bench.clock(), "h" * 64).split())


def sheet(bench: Bench) -> str:
    return "\n".join(line.text for section in build_handover_page(bench.state, bench.clock()) for line in section.lines)


def test_no_other_piece_is_measured_and_nothing_waived_before_it_is_decided(bench: Bench) -> None:
    load, _ = measured(bench, 3.0, 3.2)
    run = bench.run_of(load).number

    for command in (Prove(run, DEPTH, {"value": [3.0, 3.0]}), Waive(run, DEPTH, "it will do")):
        refused = bench.refused(command, by="LL")
        assert refused.wrong == "Measure groove depth: B2: groove depth 3.2, must be 2.9 to 3.1 mm"
        assert refused.remedy == "decide what becomes of it"
    assert bench.current(load).key == DEPTH
    (due,) = (due for due in list_due_tasks([bench.state], bench.clock()) if due.run == run)
    assert due.what == "Decide: B2: groove depth 3.2, must be 2.9 to 3.1 mm"


@pytest.mark.parametrize(("code", "to", "where"), [("deep", "scrap", "scrap"), ("", "hold", "hold")])
def test_it_is_named_and_decided_then_one_more_is_measured_and_the_count_says_it(
    bench: Bench, code: str, to: str, where: str
) -> None:
    load, seq = measured(bench, 3.0, 3.2)
    bench.say(decide_out(bench.state, seq, code, positions=("B1",)))
    assert bench.current(load).verdict.clear == "decide on the pieces made since the last good check"  # type: ignore[union-attr]
    bench.say(DecideBefore(seq, 0, "cutter chipped on B1, it shows"), by="LL")
    line = bench.current(load)
    assert line.key == DEPTH
    assert line.verdict is not None
    assert line.verdict.why == "1 more piece to measure in place of the one decided on"
    bench.prove(load, DEPTH, value=[3.0, 3.05])
    assert f"out: groove depth 3.2, must be 2.9 to 3.1 mm: B1 {to} (AA)" in bench.line(load, DEPTH).evidence

    bench.until(load, "count")
    assert bench.refused(CountRun(bench.run_of(load).number, 4)).why == "count", "B1 is no good piece"
    bench.say(CountRun(bench.run_of(load).number, 3))

    assert bench.state.places[3].where == where
    (mark,) = bench.run_of(load).count.marks  # type: ignore[union-attr]
    assert (mark.to, mark.pieces) == (to, (3,))
    conserved(bench.state)
    assert "groove depth 3.2, must be 2.9 to 3.1 mm" in paper(bench)
    assert f"B1 {to} (AA)" in paper(bench)


def test_what_nobody_has_decided_yet_is_told_without_a_decision(bench: Bench) -> None:
    _, seq = measured(bench, 3.0, 3.2)
    assert say_out(bench.state, bench.state.out[seq]) == "out: groove depth 3.2, must be 2.9 to 3.1 mm"


def test_those_before_it_are_held_in_the_same_run_or_a_lead_says_why_not(bench: Bench) -> None:
    load, seq = measured(bench, 3.0, 3.2)
    bench.say(decide_out(bench.state, seq, "deep", positions=("A1",)))
    assert bench.refused(DecideBefore(seq, 0, "looks good")).why == "authority"
    assert bench.refused(DecideBefore(seq, 1, ""), by="LL").wrong.startswith("leaving them in process needs a reason")
    slip = bench.refused(DecideBefore(seq, 2, "all measured since, all good"), by="LL")
    assert (slip.why, slip.field) == ("input", "hold"), "the reason says none; the number says all"
    bench.say(DecideBefore(seq, 2))
    assert bench.line(load, DEPTH).state == "done", "one is good, one is out, two are held"
    assert bench.line(load, DEPTH).evidence.endswith("A1 scrap (AA); those before it: 2 of 2 on hold (AA)")
    bench.through(load)

    assert bench.where()["hold"] == 2
    assert bench.where()["scrap"] == 1
    conserved(bench.state)


def test_loads_since_the_last_good_check_are_in_doubt_too(bench: Bench) -> None:
    """The check of the first load was good; that of the second was waived, so nothing is known of it."""
    first, second, third = bench.form(10, 3), bench.form(10, 3), bench.form(10, 2)
    bench.through(first)
    bench.until(second, DEPTH)
    bench.say(Waive(bench.run_of(second).number, DEPTH, "gauge is out"), by="LL")
    bench.through(second)
    bench.until(third, DEPTH)
    seq = bench.prove(third, DEPTH, value=[3.0, 3.3]).seq
    assert bench.state.out[seq].before == 3
    bench.say(decide_out(bench.state, seq, "deep", positions=("A2",)))

    bench.say(DecideBefore(seq, 3))

    assert {piece for piece, place in bench.state.places.items() if place.where == "hold"} == {4, 5, 6}
    assert bench.state.sitting(bench.state.loads[second], "hold") == (4, 5, 6), "they are still on their pallet"
    conserved(bench.state)


def test_a_load_that_has_not_been_cut_is_in_no_doubt() -> None:
    """It is on the bed of the mill beside the one that was measured, and its cycle has not started."""
    bench = open_bench(two_up)
    first, second = bench.form(10), bench.form(10)
    bench.until(second, "start")
    bench.until(first, DEPTH)
    seq = bench.prove(first, DEPTH, value=[3.0, 3.3]).seq
    bench.say(decide_out(bench.state, seq, "deep", positions=("A2",)))

    bench.say(DecideBefore(seq, 2))

    assert {piece for piece, place in bench.state.places.items() if place.where == "hold"} < set(
        bench.state.loads[first].pieces
    )
    assert len(bench.run_of(second).pieces) == 4


def test_typed_wrong_is_struck_out_and_stays_on_the_papers(bench: Bench) -> None:
    load, seq = measured(bench, 3.0, 30.0)
    bench.say(StrikeOut(seq, "typed 30 for 3.0"))
    assert not bench.state.out
    bench.prove(load, DEPTH, value=[3.0, 3.0])
    assert bench.line(load, DEPTH).state == "done"
    assert "struck out" in paper(bench)
    assert "typed 30 for 3.0 (AA)" in paper(bench)
    assert "typed 30 for 3.0" in sheet(bench)


def test_what_rests_on_it_is_struck_out_first(bench: Bench) -> None:
    _, seq = measured(bench, 3.0, 3.2)
    bench.say(decide_out(bench.state, seq, "deep", positions=("A1",)))
    assert bench.refused(StrikeOut(seq, "typed wrong")).why == "later entries"


def test_the_same_piece_again_takes_a_reason_and_keeps_the_first_reading_in_sight(bench: Bench) -> None:
    load, seq = measured(bench, 3.0, 3.2)
    assert bench.refused(measure_again(bench.state, seq, 3.05, "")).wrong.endswith("needs a reason")
    bench.say(measure_again(bench.state, seq, 3.05, "chip under the gauge"))

    line = bench.line(load, DEPTH)
    assert line.state == "done"
    assert line.evidence.startswith("3, 3.05 mm")
    for said in (line.evidence, paper(bench), sheet(bench)):
        assert "3.2" in said
        assert "chip under the gauge" in said


def test_out_again_it_is_decided_and_a_third_time_needs_a_lead(bench: Bench) -> None:
    load, seq = measured(bench, 3.0, 3.2)
    bench.say(measure_again(bench.state, seq, 3.15, "chip under the gauge"))
    assert bench.current(load).verdict.decide == seq  # type: ignore[union-attr]
    assert bench.refused(measure_again(bench.state, seq, 3.05, "once more")).why == "authority"
    bench.say(measure_again(bench.state, seq, 3.05, "with the other gauge"), by="LL")
    assert bench.line(load, DEPTH).state == "done"


def test_a_piece_set_aside_meanwhile_is_named_and_nothing_else_is_done_to_it(bench: Bench) -> None:
    load, seq = measured(bench, 3.0, 3.2)
    bench.say(SetPiecesAside("scrap", "too deep", load=load, positions=("A1",)))
    assert bench.current(load).verdict.decide == seq, "which it was is still not said"  # type: ignore[union-attr]
    entries = bench.say(decide_out(bench.state, seq, "", positions=("A1",)))
    assert [entry.kind for entry in entries] == ["out_decided"]
    assert entries[0].body["to"] == "scrap"


def test_where_the_whole_load_is_set_aside_it_still_stands_and_the_batch_is_not_closed(bench: Bench) -> None:
    load, seq = measured(bench, 3.2, 3.2)
    bench.say(SetPiecesAside("hold", "all doubtful", load=load, count=4))
    (due,) = (due for due in list_due_tasks([bench.state], bench.clock()) if due.go == "out")
    assert due.entry == seq
    assert "out" in {point.kind for point in open_points(bench.state)}
    assert any("OUT OF LIMITS" in line.text for line in list_safety_lines(bench.state, bench.clock()))
    assert bench.refused(decide_out(bench.state, seq, "", positions=("A1", "A2", "B1"))).why == "count"
    bench.say(decide_out(bench.state, seq, "", positions=("A1", "A2")))
    bench.say(DecideBefore(seq, 0))
    assert not bench.state.list_open_out_of_limits()


def test_where_every_piece_is_decided_on_the_walk_goes_on_to_the_count(bench: Bench) -> None:
    load = bench.form(10, 1)
    bench.until(load, DEPTH)
    seq = bench.prove(load, DEPTH, value=3.2).seq
    bench.say(decide_out(bench.state, seq, "", positions=("A1",)))
    bench.until(load, "count")
    bench.say(CountRun(bench.run_of(load).number, 0))
    bench.say(Release(bench.run_of(load).number))
    assert bench.where() == {"waiting": 7, "hold": 1}


def test_rework_is_announced_at_once_and_done_by_the_count() -> None:
    """Loose pieces have no places: the form asks only how many."""
    bench, tote, seq = look_at_loose_pieces(faulty=2)
    assert bench.state.out[seq].before == 0, "a look is at every piece"
    bench.say(decide_out(bench.state, seq, "scratch", count=1))
    assert "(1 of 2 still to be named)" in bench.current(tote).verdict.why  # type: ignore[union-attr]
    bench.say(decide_out(bench.state, seq, "bent", count=1))
    assert bench.line(tote, DEPTH).state == "done", "the others passed the look"
    bench.through(tote)

    assert bench.where() == {"waiting": 1, "scrap": 1, "finished": 2}
    assert bench.state.list_waiting_pools() == [(20, "touch up", 1)]


def test_a_piece_that_passes_when_looked_at_again_leaves_one_fewer_to_name() -> None:
    bench, tote, seq = look_at_loose_pieces(faulty=2)

    bench.say(measure_again(bench.state, seq, 0, "dust on it"))

    out = bench.state.out[seq]
    assert (out.many, bench.state.proofs[out.key].values["faulty"]) == (1, 1)
    bench.say(decide_out(bench.state, seq, "bent", count=1))
    assert bench.line(tote, DEPTH).state == "done"


def test_what_is_out_before_the_cycle_leaves_the_load_at_once() -> None:
    def early() -> Checklist:
        plain = part()
        first, *rest = plain.operations
        steps = tuple(replace(one, at="load") if isinstance(one, Measured) else one for one in first.steps)
        return replace(plain, operations=(replace(first, steps=steps), *rest))

    bench = open_bench(early)
    load, seq = measured(bench, 3.0, 3.2)
    bench.say(decide_out(bench.state, seq, "deep", positions=("A1",)))
    assert bench.state.places[1].where == "scrap"
    assert bench.run_of(load).pieces == (2, 3, 4)


def test_used_as_it_is_names_piece_reason_and_lead_on_handover_and_close_out(bench: Bench) -> None:
    load, seq = measured(bench, 3.0, 3.12)
    bench.say(decide_out(bench.state, seq, "", positions=("A2",)))
    bench.say(DecideBefore(seq, 0, "each measured since"), by="LL")
    bench.through(load)
    refused = bench.refused(Dispose((2,), "use as is", "looks fine"), by="LL")
    assert (refused.why, refused.field) == ("authority", "granted_by"), "REC-17: the customer's word, not a lead's"
    bench.say(Dispose((2,), "use as is", "two hundredths deep", concession=VANCE), by="LL")
    for said in (paper(bench), sheet(bench)):
        assert "Pallet 1 A2 (piece 2), op 10" in said
        assert "concession of Ms Vance 2026-02-27, 26-114" in " ".join(said.split())
        assert "LL" in said


# --- what shows that a piece found out of limits conforms after all


def held_out(bench: Bench) -> tuple[int, int]:
    """A load counted with A2 on hold, as its groove depth was out; the load and the entry that read it."""
    load, seq = measured(bench, 3.0, 3.12)
    bench.say(decide_out(bench.state, seq, "", positions=("A2",)))
    bench.say(DecideBefore(seq, 0, "each measured since"), by="LL")
    bench.through(load)
    return load, seq


def test_a_new_reading_of_the_piece_stands_instead_of_a_concession(bench: Bench) -> None:
    load, seq = held_out(bench)
    assert [(one.out, one.ask.band) for one in list_standing_values(bench.state, 2)] == [(seq, "2.9 to 3.1 mm")]
    refused = bench.refused(Dispose((2,), "use as is", "measured again", measured=("3.11",)), by="LL")
    assert (refused.why, refused.field) == ("authority", "granted_by")
    assert refused.wrong == "still out of limits, groove depth 3.11 mm: only the customer can accept it"
    for wrong in ("deep", "3.0 in"):
        assert bench.refused(Dispose((2,), "use as is", "again", measured=(wrong,)), by="LL").field == "measured-1"
    (entry,) = bench.say(Dispose((2,), "use as is", "chip under the gauge", measured=("3.06",)), by="LL")
    said = "chip under the gauge, measured again: groove depth 3.06 mm"
    assert said in describe(bench.state, entry)
    assert said in paper(bench)
    assert list_standing_values(bench.state, 2) == []
    bench.say(SetPiecesAside("hold", "scratched", load=load, positions=("A2",)))
    bench.say(Dispose((2,), "use as is", "polished out"), by="LL")
    assert bench.state == fold(bench.state.entries, checklist=bench.state.checklist)


def test_a_good_reading_of_another_piece_makes_no_piece_good(bench: Bench) -> None:
    """One more was measured in its stead, and that one was good."""
    load, _ = held_out(bench)
    assert bench.state.runs[1].count is not None
    bench.say(SetPiecesAside("hold", "doubtful", load=load, positions=("A1",)))
    both = bench.refused(Dispose((1, 2), "use as is", "again", measured=("3.0",)), by="LL")
    assert (both.wrong, both.field) == ("a reading is that of one piece", "measured-1")
    assert bench.refused(Dispose((2,), "use as is", "the next was good"), by="LL").why == "authority"
    none = bench.refused(Dispose((1,), "use as is", "again", measured=("3.0",)), by="LL")
    assert none.wrong == "1 value measured again, 0 out of limits"
    bench.say(Dispose((1,), "use as is", "never out"), by="LL")


def test_a_look_and_a_first_piece_are_repeated_value_by_value() -> None:
    """Of a first piece only what was out; a look is answered yes or no."""
    values = '{ what = "bore", low = "8 mm", high = "8.1 mm" }, { what = "face", accept = "no chatter" }'
    first = '{ gate = "first piece accepted", independent = true'
    bench = open_bench(lambda: edited((first, f"{first}, characteristics = [{values}]")))
    load = bench.form(10)
    bench.until(load, "first piece accepted 1")
    out = bench.prove(load, "first piece accepted 1", person="BB", **{"value 1": 8.2, "value 2": "no"}).seq  # type: ignore[arg-type]
    bench.say(decide_out(bench.state, out, positions=("A1",)))
    bench.through(load)
    assert [one.ask.short for one in list_standing_values(bench.state, 1)] == ["bore", "face"]
    assert bench.refused(Dispose((1,), "use as is", "again", measured=("8.05", "")), by="LL").field == "measured-2"
    assert bench.refused(Dispose((1,), "use as is", "again", measured=("8.05", "no")), by="LL").why == "authority"
    bench.say(Dispose((1,), "use as is", "chip under it", measured=("8.05", "yes")), by="LL")
    assert list_standing_values(bench.state, 1) == []

    bench = open_bench(start=4)
    bench.through(bench.form(10), 10, 20, 30)
    bench.through(bench.form(40))
    tote = bench.form(50)
    bench.until(tote, DEPTH)
    seq = bench.prove(tote, DEPTH, faulty=1).seq
    bench.say(decide_out(bench.state, seq, "doubtful", count=1))
    bench.through(tote)
    (piece,) = bench.state.held()
    assert [one.ask.kind for one in list_standing_values(bench.state, piece)] == ["look"]
    bench.say(Dispose((piece,), "use as is", "wiped", measured=("y",)), by="LL")
    assert list_standing_values(bench.state, piece) == []


def test_a_piece_accepted_once_is_not_asked_for_again(bench: Bench) -> None:
    load, _ = held_out(bench)
    bench.say(Dispose((2,), "use as is", "two hundredths deep", concession=VANCE), by="LL")
    bench.say(SetPiecesAside("hold", "doubtful", load=load, positions=("A2",)))
    bench.say(Dispose((2,), "use as is", "looked at"), by="LL")


def test_a_piece_that_was_reworked_is_not_out_any_more(bench: Bench) -> None:
    """Not while its rework is under way, and not by the work of the others meanwhile."""
    load, seq = held_out(bench)
    bench.say(Dispose((2,), "rework", "cut it again", "regroove"), by="LL")
    assert [one.seq for one in list_standing_readings(bench.state, [2])] == [seq]
    assert bench.state.loads[load].at == 10
    bench.until(load, "count")
    bench.say(SetPiecesAside("hold", "doubtful", load=load, positions=("A2",)))
    assert [one.seq for one in list_standing_readings(bench.state, [2])] == [seq]
    bench.say(Dispose((2,), "rework", "cut it again", "regroove"), by="LL")
    bench.through(load, 10)
    assert list_standing_readings(bench.state, [2]) == []
    bench.say(SetPiecesAside("hold", "scratched", load=load, positions=("A2",)))
    bench.say(Dispose((2,), "use as is", "polished out"), by="LL")


def test_a_piece_that_came_out_of_its_rework_held_is_still_out() -> None:
    other = '{ code = "other", text = "Something else", needs_note = true },'
    bench = open_bench(lambda: edited((other, f'{other}\n  {{ code = "odd", text = "Odd", to = "hold" }},')))
    load, seq = held_out(bench)
    bench.say(Dispose((2,), "rework", "cut it again", "regroove"), by="LL")
    bench.until(load, "count")
    bench.say(CountRun(bench.run_of(load).number, 0, (MarkedPieces("odd", ("A2",), 1),)))
    assert [one.seq for one in list_standing_readings(bench.state, [2])] == [seq]


@pytest.mark.parametrize(
    ("concession", "field"),
    [
        (Concession(by=".", on="2026-02-27", number="26-114"), "granted_by"),
        (Concession(by="", on="2026-02-27", number="26-114"), "granted_by"),
        (Concession(by="Ms Vance", on="", number="26-114"), "granted_on"),
        (Concession(by="Ms Vance", on="last week"), "granted_on"),
        (Concession(by="Ms Vance", on="2026-03-03"), "granted_on"),
    ],
    ids=["a dot", "nobody", "no day", "no date", "a day to come"],
)
def test_a_concession_can_be_found_again(bench: Bench, concession: Concession, field: str) -> None:
    """REC-13: who gave it and when, as fields; their number where they gave one."""
    held_out(bench)
    refused = bench.refused(Dispose((2,), "use as is", "two hundredths", concession=concession), by="LL")
    assert (refused.why, refused.field) == ("input", field)

    said = Concession(by=" Ms Vance ", on="2026-03-02")
    (entry,) = bench.say(Dispose((2,), "use as is", "two hundredths", concession=said), by="LL")
    assert entry.body["granted"] == {"by": "Ms Vance", "on": "2026-03-02"}
    assert "concession of Ms Vance 2026-03-02 (" in describe(bench.state, entry)


def test_a_concession_of_an_older_record_still_says_and_clears_what_it_did(bench: Bench) -> None:
    held_out(bench)
    (entry,) = bench.say(Dispose((2,), "use as is", "two hundredths", concession=VANCE), by="LL")
    body = {name: value for name, value in entry.body.items() if name != "granted"} | {"concession": "Ms Vance 12"}
    older = fold([*bench.state.entries[:-1], replace(entry, body=body)])
    assert "concession Ms Vance 12 (" in describe(older, older.entries[-1])
    assert not list_standing_readings(older, [2])


# --- refused


@pytest.mark.parametrize(
    ("code", "positions", "wrong"),
    [
        ("nonsense", ("A1",), '"nonsense" is not a reason at op 10'),
        ("deep", ("A1", "A1"), "a place is named twice"),
        ("deep", ("Z9",), "it cannot be the piece in Z9"),
        ("deep", (), "no place named"),
        ("deep", ("A1", "A2"), "1 piece out of limits, 2 named"),
    ],
)
def test_a_piece_is_named_by_a_place_it_can_have_been_in(
    bench: Bench, code: str, positions: tuple[str, ...], wrong: str
) -> None:
    _, seq = measured(bench, 3.0, 3.2)
    assert bench.refused(decide_out(bench.state, seq, code, positions)).wrong == wrong


def test_what_is_decided_is_not_decided_or_measured_again(bench: Bench) -> None:
    _, seq = measured(bench, 3.0, 3.2)
    assert bench.refused(DecideBefore(seq, 3)).wrong == "the piece that was out is not named"
    bench.say(decide_out(bench.state, seq, "deep", positions=("A1",)))
    refused = bench.refused(decide_out(bench.state, seq, "deep", positions=("A2",)))
    assert refused.wrong == "every piece that was out is already decided"
    assert (
        bench.refused(measure_again(bench.state, seq, 3.0, "chip under the gauge")).wrong
        == "that reading is already decided"
    )
    bench.say(DecideBefore(seq, 2))
    assert bench.refused(DecideBefore(seq, 2)).wrong == "those made before it are already decided"
    again = measure_again(bench.state, 1, 3.0, "why")
    for command in (
        decide_out(bench.state, 1, "deep", ("A1",)), DecideBefore(1, 0), again, SettleOut(1, "hold", "why")
    ):  # fmt: skip
        assert bench.refused(command, "LL").wrong == "entry 1 read nothing out of limits"
    assert bench.refused(SettleOut(seq, "hold", "too deep"), "LL").wrong == "there is nothing to decide about that"


def test_what_stands_out_after_the_load_has_gone_on_is_not_measured_again() -> None:
    """All were set aside, so that nothing was left to be proved; then it is decided, on hold and not by rework."""
    bench = open_bench(start=4)
    load, seq = measured(bench, 3.0, 3.2)
    bench.say(Disturb("mill", "lifted", load=load))
    bench.say(SetPiecesAside("hold", "odd sound", load=load, positions=("A1", "A2", "B1")))
    bench.say(SetPiecesAside("hold", "odd sound", load=load, positions=("B2",)))
    assert bench.state.runs[1].released is not None
    assert (
        bench.refused(measure_again(bench.state, seq, 3.0, "chip under it")).wrong
        == "the load has gone on or the proof is void"
    )


def test_a_load_that_is_counted_keeps_its_pieces_until_it_is_released() -> None:
    """Read too high in the oven, decided while the tray is counted and not released."""
    bench, tray = baking()
    seq = bench.prove(tray, DEPTH, value=171).seq
    bench.prove(tray, DEPTH, value=150)
    bench.until(tray, "release")
    assert bench.refused(SettleOut(seq, "hold", "too hot"), "LL").wrong == f"load {tray} is counted but not released"
    assert bench.refused(SettleOut(seq, "eat", "too hot"), "LL").wrong == '"eat" is not a decision'  # type: ignore[arg-type]


def test_before_the_cycle_nothing_is_sent_to_rework() -> None:
    def early() -> Checklist:
        plain = part()
        first, *rest = plain.operations
        steps = tuple(replace(one, at="load") if isinstance(one, Measured) else one for one in first.steps)
        reasons = (*first.reasons, replace(first.reasons[0], code="redo", to="rework", rework="touch up"))
        return replace(plain, operations=(replace(first, steps=steps, reasons=reasons), *rest))

    bench = open_bench(early)
    _, seq = measured(bench, 3.0, 3.2)
    assert (
        bench.refused(decide_out(bench.state, seq, "redo", ("A1",))).wrong == "a piece goes to rework only at a count"
    )


# --- a reading of the station


def hot(at: str = "cycle") -> Checklist:
    """The test part, whose oven is read while it bakes."""
    plain = part()
    steps = tuple(replace(one, at=at) if isinstance(one, Measured) else one for one in plain.ops[40].steps)
    operations = tuple(replace(one, steps=steps) if one.op == 40 else one for one in plain.operations)
    return replace(plain, operations=operations)


def baking() -> tuple[Bench, int]:
    bench = open_bench(hot, start=4)
    bench.through(bench.form(10), 10, 20, 30)
    tray = bench.form(40)
    bench.until(tray, DEPTH)
    return bench, tray


def test_an_over_temperature_stays_whatever_is_read_next_until_a_lead_decides() -> None:
    bench, tray = baking()
    seq = bench.prove(tray, DEPTH, value=171).seq
    assert "piece" not in bench.current(tray).verdict.clear, "it is the oven's matter"  # type: ignore[union-attr]
    bench.prove(tray, DEPTH, value=150)
    assert bench.line(tray, DEPTH).state == "done", "the work goes on"

    assert [one.seq for one in bench.state.list_open_out_of_limits()] == [seq]
    (due,) = (due for due in list_due_tasks([bench.state], bench.clock()) if due.go == "out")
    assert due.what.startswith("Decide (lead): Oven: oven temperature 171, must be 145 to 155 degC (AA), with load 2")
    assert bench.refused(SettleOut(seq, "use as is", "short")).why == "authority"
    bench.say(SettleOut(seq, "use as is", "2 min only, the lacquer takes 180"), by="LL")
    assert not bench.state.list_open_out_of_limits()
    assert "use as is, 2 min only, the lacquer takes 180 (LL)" in paper(bench)


def test_the_lead_may_hold_all_that_was_in_it() -> None:
    bench, tray = baking()
    seq = bench.prove(tray, DEPTH, value=171).seq
    bench.prove(tray, DEPTH, value=150)
    bench.through(tray)
    bench.say(SettleOut(seq, "hold", "to be bent as a trial"), by="LL")
    assert bench.where() == {"hold": 4}


@pytest.mark.parametrize(("at", "value"), [("cycle", 140.0), ("load", 171.0)])
def test_too_cold_still_and_what_is_read_before_the_start_is_set_right_and_read_again(at: str, value: float) -> None:
    bench = open_bench(lambda: hot(at), start=4)
    bench.through(bench.form(10), 10, 20, 30)
    tray = bench.form(40)
    bench.until(tray, DEPTH)
    bench.prove(tray, DEPTH, value=value)
    assert not bench.state.out
    assert bench.current(tray).verdict.clear.startswith("set it right")  # type: ignore[union-attr]


def test_an_old_record_without_the_mark_is_read_as_it_was(bench: Bench) -> None:
    """Records from before: the value was out, and another piece was measured."""
    from floor.batch.fold import fold

    load, seq = measured(bench, 3.0, 3.2)
    old = [
        replace(entry, body={k: v for k, v in entry.body.items() if k not in ("out", "before")})
        if entry.seq == seq
        else entry
        for entry in bench.state.entries
    ]
    bench.state = fold(old)
    assert not bench.state.out
    bench.prove(load, DEPTH, value=[3.0, 3.0])
    assert bench.line(load, DEPTH).state == "done"


@pytest.mark.parametrize(("gate", "of_piece"), [
    ({"at": "cycle"}, False), ({"at": "load"}, False), ({"at": "after"}, True), ({"at": "load", "sample": 3}, True),
    ({"at": "load", "number": 6}, True), ({"at": "setup", "accept": "no marks"}, True),
    ({"at": "setup", "accept": "no marks", "of": "station"}, False),
])  # fmt: skip
def test_what_a_reading_belongs_to_follows_from_the_gate_or_is_stated(gate: dict[str, object], of_piece: bool) -> None:
    high = None if "accept" in gate else read_measure("2 mm", "any")
    assert Measured(gate="measured", what="gap", high=high, **gate).of_piece is of_piece  # type: ignore[arg-type]


def test_what_was_proved_stays_in_sight_once_every_piece_is_decided() -> None:
    """The first piece was good; the piece measured later was not, and it was the only one left."""
    bench = open_bench()
    load = bench.form(10, 1)
    bench.until(load, DEPTH)
    before = {one.key: one.evidence for one in bench.walk(load).gates if one.state == "done"}
    seq = bench.prove(load, DEPTH, value=3.2).seq
    bench.say(decide_out(bench.state, seq, "", positions=("A1",)))

    after = {one.key: one.evidence for one in bench.walk(load).gates}
    assert {key: after[key] for key in before} == before
    assert after[DEPTH].startswith(ALL_DECIDED)
