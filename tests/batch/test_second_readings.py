"""A value out of limits read once more, or corrected because it was typed wrong: which one, and what is told."""

from __future__ import annotations

import pytest

from floor.batch.corrections.commands import StrikeOut
from floor.batch.counting.conformance import list_standing_values
from floor.batch.counting.holds import list_held_pieces
from floor.batch.describe import describe
from floor.batch.fold import fold
from floor.batch.gates.decide_out_of_limits import DecideBefore, DecideOut
from floor.batch.gates.judge_readings import say_out
from floor.batch.gates.measured_pieces import find_value_to_read_again
from floor.batch.gates.out_of_limits import describe_each_outside, find_next_outside
from floor.batch.quality.first_article import find_first_article
from floor.batch.quality.measured_values import list_measured_values
from tests.batch.factory import Bench, decide_out, edited, look_at_loose_pieces, measure_again, open_bench
from tests.batch.test_gates import VALUES
from tests.batch.test_measured_pieces import at_depth as at_groove
from tests.batch.test_samples import DEPTH, SEVERAL, at_depth, enter_groove, places

FIRST = "first piece accepted 1"


@pytest.fixture
def bench() -> Bench:
    return open_bench(lambda: edited(SEVERAL))


def told(bench: Bench, seq: int) -> str:
    return describe_each_outside(bench.state, bench.state.out[seq])


def test_each_value_of_a_piece_is_read_again_by_itself_and_told_with_the_first(bench: Bench) -> None:
    load = at_depth(bench)
    first, _ = places(bench, load)
    seq = enter_groove(bench, load, **{"value 1": ["3.20", "3"], "value 2": ["6.2", "6"]})
    (one,) = bench.say(measure_again(bench.state, seq, "3.01", "dirty gauge"))
    assert told(bench, seq) == (
        f"{first}: depth 3.20, again 3.01 (dirty gauge), must be 2.9 to 3.1 mm; width 6.2, must be 5.9 to 6.1 mm"
    )
    (two,) = bench.say(measure_again(bench.state, seq, "6.15", "burr"))
    assert "width 6.2, again 6.15 (burr), must be 5.9 to 6.1 mm" in told(bench, seq)
    assert describe(bench.state, one).endswith(f"{first} depth measured again: 3.01 mm (first 3.20), dirty gauge")
    assert describe(bench.state, two).endswith(
        f"{first} width measured again: 6.15 mm (first 6.2), burr ✕ out of limits again"
    )
    assert bench.refused(measure_again(bench.state, seq, "6.1", "once more")).why == "authority", "width a third time"

    bench.say(decide_out(bench.state, seq, "", (first,)))
    bench.say(DecideBefore(seq, 0, "the chip shows on it"), by="LL")
    bench.through(load)
    (held,) = list_held_pieces(bench.state)
    said = f"{held.reason} {held.note} {held.measured}"
    assert said.count("depth 3.20, again 3.01 (dirty gauge)") == said.count("width 6.2, again 6.15 (burr)") == 1
    assert [one.ask.short for one in list_standing_values(bench.state, held.piece)] == ["width"]


def test_a_value_typed_wrong_is_corrected_and_what_else_was_entered_stays(bench: Bench) -> None:
    """Of two pieces out, one is measured again and held; the other was a slip."""
    load = at_depth(bench)
    first, second = places(bench, load)
    seq = enter_groove(bench, load, **{"value 1": ["3.2", "3.50"]})
    bench.say(measure_again(bench.state, seq, "3.15", "burr"))
    bench.say(decide_out(bench.state, seq, "", (first,)))
    (entry,) = bench.say(measure_again(bench.state, seq, "3.05", "typed wrong", corrects=True))

    out = bench.state.out[seq]
    assert (out.many, out.left) == (1, 0)
    assert bench.state.proofs[out.key].values["value 1"] == [3.2, 3.05]
    assert describe(bench.state, entry).endswith(f"{second} depth corrected: 3.05 mm (first 3.50), typed wrong")
    depth = next(some for shape, some in list_measured_values(bench.state).items() if shape.what == "depth")
    assert [(one.place, one.text) for one in depth] == [(first, "3.15"), (second, "3.05")], "the slip was never read"
    assert bench.state == fold(bench.state.entries, checklist=bench.state.checklist)
    bench.say(DecideBefore(seq, 0, "the burr shows on it"), by="LL")


def test_the_line_of_a_walk_marks_as_out_what_was_read_and_not_what_was_typed_wrong(bench: Bench) -> None:
    load = at_depth(bench)
    first, second = places(bench, load)
    seq = enter_groove(bench, load, **{"value 1": ["3.0", "3.50"]})
    bench.say(measure_again(bench.state, seq, "3.05", "typed wrong", corrects=True))
    said = bench.line(load, DEPTH).evidence
    assert said.endswith(f" · {second} depth corrected to 3.05 mm, typed wrong (AA)")
    assert "out:" not in said
    bench.say(StrikeOut(seq + 1, "it was not"))
    bench.say(measure_again(bench.state, seq, "3.05", "burr"))
    assert f"out: depth 3.50, must be 2.9 to 3.1 mm: {second} depth again 3.05 mm" in bench.line(load, DEPTH).evidence


def test_a_piece_out_keeps_its_mark_beside_a_value_typed_wrong(bench: Bench) -> None:
    load = at_depth(bench)
    first, second = places(bench, load)
    seq = enter_groove(bench, load, **{"value 1": ["3.2", "3.50"]})
    bench.say(measure_again(bench.state, seq, "3.15", "burr"))
    bench.say(decide_out(bench.state, seq, "", (first,)))
    bench.say(measure_again(bench.state, seq, "3.05", "typed wrong", corrects=True))
    said = say_out(bench.state, bench.state.out[seq])
    assert said.startswith("out: depth 3.2, must be 2.9 to 3.1 mm: ")
    assert "3.50" not in said
    assert f"{second} depth corrected to 3.05 mm" in said


@pytest.mark.parametrize("corrects", [False, True], ids=["measured again", "corrected"])
@pytest.mark.parametrize(
    ("entered", "meanwhile"),
    [
        ({"value 1": ["32", "3.5"]}, "corrected"),
        ({"value 1": ["32", "3.5"]}, "decided on"),
        ({"value 1": ["32", "3"], "value 2": ["6.2", "6"]}, "corrected"),
        ({"value 1": ["32", "3"]}, "corrected to another out"),
        ({"value 1": ["32", "3"], "value 2": ["6.2", "6"]}, "measured again, still out"),
    ],
    ids=[
        "another piece is next",
        "that piece is decided on",
        "another value is next",
        "it reads otherwise",
        "its turn",
    ],
)
def test_a_value_read_again_lands_on_no_other_than_it_was_meant_for(
    bench: Bench, corrects: bool, entered: dict[str, list[str]], meanwhile: str
) -> None:
    """Two terminals have the form of one value open; the slower one's figure is of no other piece or value."""
    load = at_depth(bench)
    first, _ = places(bench, load)
    seq = enter_groove(bench, load, **entered)
    slower = measure_again(bench.state, seq, "3.0", "typed wrong", corrects=corrects)
    if meanwhile == "decided on":
        bench.say(decide_out(bench.state, seq, "", (first,)))
    elif meanwhile == "corrected":
        bench.say(measure_again(bench.state, seq, "3.05", "typed wrong", corrects=True), by="BB")
    else:
        again = meanwhile.startswith("measured again")
        bench.say(measure_again(bench.state, seq, "3.2", "typed wrong", corrects=not again), by="BB")
    assert bench.state.out[seq].left == 1
    refused = bench.refused(slower, by="LL")
    assert (refused.why, refused.wrong) == ("not now", "32 is no longer the value to decide on")
    bench.say(measure_again(bench.state, seq, "3.0", "typed wrong", corrects=corrects), by="LL")


def test_a_piece_corrected_meanwhile_takes_the_fault_of_no_other_that_is_out(bench: Bench) -> None:
    """One terminal scraps the piece that it shows as out while another corrects that one: the other out stays so."""
    load = at_depth(bench)
    first, second = places(bench, load)
    seq = enter_groove(bench, load, **{"value 1": ["32", "3.5"]})
    shown = find_value_to_read_again(bench.state, bench.state.out[seq])
    bench.say(measure_again(bench.state, seq, "3.02", "typed wrong", corrects=True), by="BB")
    refused = bench.refused(DecideOut(seq, shown, "", (first,)))
    assert (refused.why, refused.wrong) == ("not now", "32 is no longer the value to decide on")
    shown = find_value_to_read_again(bench.state, bench.state.out[seq])
    bench.say(DecideOut(seq, shown, "", (second,)))
    assert bench.state.out[seq].left == 0


def test_a_lead_who_reads_a_value_once_more_is_told_where_it_was_read_again_meanwhile(bench: Bench) -> None:
    load = at_depth(bench)
    seq = enter_groove(bench, load, **{"value 1": ["3.2", "3"]})
    slower = measure_again(bench.state, seq, "3.0", "burr")
    bench.say(measure_again(bench.state, seq, "3.15", "burr"), by="BB")
    assert bench.refused(slower, by="LL").why == "not now"


def test_a_corrected_value_may_be_out_too_and_is_then_the_one_told(bench: Bench) -> None:
    load = at_depth(bench)
    first, _ = places(bench, load)
    seq = enter_groove(bench, load, **{"value 1": ["32", "3"]})
    bench.say(measure_again(bench.state, seq, "3.2", "typed wrong", corrects=True))
    assert told(bench, seq) == f"{first}: depth 3.2, must be 2.9 to 3.1 mm"
    assert bench.state.out[seq].left == 1
    assert bench.refused(measure_again(bench.state, seq, "3.0", "typed wrong", corrects=True)).why == "authority", (
        "not until it fits"
    )


def test_a_look_is_corrected_too(bench: Bench) -> None:
    load = at_depth(bench)
    seq = enter_groove(bench, load, **{"value 3": ["yes", "no"]})
    bench.say(measure_again(bench.state, seq, "yes", "typed wrong", corrects=True))
    assert bench.line(load, DEPTH).is_satisfied


def test_a_piece_found_good_when_it_was_read_again_is_not_the_next_to_be_decided_on(bench: Bench) -> None:
    load = at_depth(bench)
    _, second = places(bench, load)
    seq = enter_groove(bench, load, **{"value 1": ["3.2", "3.3"]})
    bench.say(measure_again(bench.state, seq, "3.05", "burr"))
    piece = find_next_outside(bench.state.out[seq])
    assert piece is not None
    assert bench.state.format_slot(bench.state.loads[load], piece) == second
    assert told(bench, seq) == f"{second}: depth 3.3, must be 2.9 to 3.1 mm"


def test_a_value_of_a_first_piece_is_corrected_by_who_accepted_it_and_all_else_stays() -> None:
    """Who accepts a piece answers for each of its values (shop decision)."""
    bench = open_bench(lambda: edited(VALUES))
    load = bench.form(10)
    bench.until(load, FIRST)
    seq = bench.prove(load, FIRST, person="BB", **{"value 1": "30.2", "value 2": "yes"}).seq
    refused = bench.refused(measure_again(bench.state, seq, "3.02", "typed wrong", corrects=True), by="AA")
    assert (refused.why, refused.wrong) == ("authority", "BB accepted the first piece by this value")
    assert refused.signs == "BB", "a lead may not either"
    assert bench.refused(measure_again(bench.state, seq, "3.02", "burr"), by="BB").why == "not now", (
        "accepted by all values together"
    )
    (entry,) = bench.say(measure_again(bench.state, seq, "3.02", "typed wrong", corrects=True), by="BB")
    assert describe(bench.state, entry).endswith("groove depth corrected: 3.02 mm (first 30.2), typed wrong")
    line = bench.line(load, FIRST)
    assert line.is_satisfied
    assert "3.02 mm, edge yes, BB" in line.evidence
    assert not bench.state.out[seq].open
    assert bench.state == fold(bench.state.entries, checklist=bench.state.checklist)
    found = find_first_article(bench.state)
    assert [one.seq for one in found.full] == [seq]
    assert found.refused == ()
    assert [one.found for one in found.full[0].results] == ["3.02 mm", "yes"], "the slip was never read"
    bench.say(StrikeOut(entry.seq, "it was right"), by="BB")
    assert bench.current(load).key == FIRST
    assert bench.state.out[seq].left == 1


def test_a_first_piece_corrected_to_another_value_out_of_limits_is_still_to_be_decided_on() -> None:
    bench = open_bench(lambda: edited(VALUES))
    load = bench.form(10)
    bench.until(load, FIRST)
    seq = bench.prove(load, FIRST, person="BB", **{"value 1": "32", "value 2": "no"}).seq
    bench.say(measure_again(bench.state, seq, "3.2", "typed wrong", corrects=True), by="BB")
    bench.say(measure_again(bench.state, seq, "yes", "typed wrong", corrects=True), by="BB")
    assert bench.state.out[seq].left == 1
    again = measure_again(bench.state, seq, "3.0", "typed wrong", corrects=True)
    refused = bench.refused(again, by="BB")
    assert refused.why == "authority", "not until it fits"
    assert (refused.remedy, refused.signs) == ("strike out the reading, then enter it again", ""), "nor may a lead"
    assert find_first_article(bench.state).full == ()


def test_how_many_fail_a_check_is_struck_out_and_not_corrected() -> None:
    bench, _, seq = look_at_loose_pieces(faulty=2)
    assert (
        bench.refused(measure_again(bench.state, seq, 1, "typed wrong", corrects=True)).remedy
        == "strike out the reading"
    )


def test_where_its_run_is_struck_out_too_a_second_reading_still_reads_in_the_history(bench: Bench) -> None:
    load = at_depth(bench)
    begun = bench.run_of(load).seq
    seq = enter_groove(bench, load, **{"value 1": ["3.2", "3.0"]})
    again = bench.say(measure_again(bench.state, seq, "3.05", "burr"))[0]
    bench.strike_back_to(begun)
    assert describe(bench.state, again).startswith("the same piece depth measured again: 3.05 mm (first 3.2), burr")


@pytest.mark.parametrize(("again", "why"), [("3.05", "burr"), ("3.15", "dirty gauge")], ids=["good", "out again"])
def test_of_a_piece_measured_again_charts_use_the_last_reading_and_keep_the_first_beside_it(
    bench: Bench, again: str, why: str
) -> None:
    """In limits or not: to use the good ones only would be to choose what fits (shop decision)."""
    load = at_depth(bench)
    first, second = places(bench, load)
    seq = enter_groove(bench, load, **{"value 1": ["3.20", "3"]})
    entry = bench.say(measure_again(bench.state, seq, again, why))[0]
    found = {shape.what: [(one.place, one.value, one.text, one.first) for one in some]
             for shape, some in list_measured_values(bench.state).items()}  # fmt: skip
    assert found["depth"] == [(first, float(again), again, "3.20"), (second, 3.0, "3", "")]
    assert [one[3] for one in found["width"]] == ["", ""]
    bench.say(StrikeOut(entry.seq, "it was another piece"))
    depth = next(some for shape, some in list_measured_values(bench.state).items() if shape.what == "depth")
    assert [(one.value, one.first) for one in depth] == [(3.2, ""), (3.0, "")]


def test_a_value_measured_again_and_entered_once_more_with_the_others_counts_once(bench: Bench) -> None:
    """The second piece is out; the first, found good, stands in the form that is entered after it was replaced."""
    load = at_depth(bench)
    first, second = places(bench, load)
    seq = enter_groove(bench, load, **{"value 1": ["3.2", "3.3"]})
    bench.say(measure_again(bench.state, seq, "3.05", "burr"))
    bench.say(decide_out(bench.state, seq, "deep", (second,)))
    bench.say(DecideBefore(seq, 0, "a chip"), by="LL")
    enter_groove(bench, load, **{"value 1": ["3.05", "3.01"]})
    depth = next(some for shape, some in list_measured_values(bench.state).items() if shape.what == "depth")
    assert [one.value for one in depth if one.place == first] == [3.05]


def test_of_loose_pieces_a_value_that_stands_in_the_form_counts_once_and_that_of_a_replaced_piece_each_time() -> None:
    """Four pieces were measured: the first once, and for the second, scrapped twice as too deep, a third and a fourth.
    By hand: 3.0, 3.3, 3.3, 3.05, mean 3.1625.
    """
    loose = ("capacity = 4\nrows = 2\ncolumns = 2\ncount = 3", "capacity = 4\ncount = 3")
    bench = open_bench(lambda: edited(loose))
    load = at_groove(bench)
    for _ in range(2):
        seq = bench.prove(load, DEPTH, value=[3.0, 3.3]).seq
        bench.say(decide_out(bench.state, seq, "deep", count=1))
        bench.say(DecideBefore(seq, 0, "a chip"), by="LL")
    bench.prove(load, DEPTH, value=[3.0, 3.05])
    (values,) = (some for shape, some in list_measured_values(bench.state).items() if shape.what == "groove depth")
    assert [one.value for one in values] == [3.0, 3.3, 3.3, 3.05]


def test_the_first_article_has_the_last_reading_with_the_first(bench: Bench) -> None:
    load = at_depth(bench)
    seq = enter_groove(bench, load, **{"value 1": ["3.20", "3"]})
    bench.say(measure_again(bench.state, seq, "3.05", "burr"))
    depth = next(one for one in find_first_article(bench.state).results if one.what == "depth")
    assert (depth.found, depth.good) == ("3.05 mm, first 3.20", True)
