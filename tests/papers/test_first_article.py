"""The first article report: AS9102's three parts as far as public (REC-23 to REC-28)."""

from __future__ import annotations

import pytest

from floor.batch.corrections.commands import StrikeOut
from floor.batch.describe import describe
from floor.batch.gates.commands import Prove
from floor.batch.gates.decide_out_of_limits import DecideBefore
from floor.batch.gates.measured_pieces import propose_first_piece
from floor.batch.quality.first_article import find_first_article
from floor.batch.stations.commands import Disturb
from floor.checklist.gate_forms import PLACE
from floor.checklist.gates import FirstPiece
from floor.papers.catalog import PaperSource, list_offers, make_offer
from floor.papers.first_article import write_first_article
from tests.batch.factory import ONE_CYCLE, Bench, decide_out, edited, open_bench, part

FIRST = (
    '{ gate = "first piece accepted", independent = true }',
    '{ gate = "first piece accepted", independent = true, characteristics = ['
    '{ what = "groove depth", number = 4, low = "2.9 mm", high = "3.1 mm", gauge = "Depth gauge", serial = true }, '
    '{ what = "face", number = 2, accept = "no chatter" }] }',
)
LINE = "first piece accepted 1"


@pytest.fixture
def bench() -> Bench:
    return open_bench(lambda: edited(FIRST), start=12)


def paper(bench: Bench) -> str:
    return write_first_article(bench.state, bench.clock(), "0" * 64)


def find_gate(bench: Bench) -> FirstPiece:
    gate = dict(bench.state.operation(10).numbered_steps)[LINE]
    assert isinstance(gate, FirstPiece)
    return gate


def rows(text: str, title: str) -> list[list[str]]:
    """The rows of the table in a section, in words."""
    section = text.split(f"\n{title}", 1)[1].split("---\n", 1)[1].split("\n\n", 1)[0]
    return [line.split() for line in section.splitlines() if line.strip()]


def test_part_process_and_each_characteristic_with_number_requirement_result_and_gauge(bench: Bench) -> None:
    """AS9102C, forms 1 to 3 as far as public: part; materials and processes; characteristics (REC-23, REC-24)."""
    bench.through(bench.form(10))
    bench.clock.step(60)
    text = paper(bench)
    assert "KB-7 Keeper bracket, revision A" in text
    assert "load 1, op 10: Record the lot of bar stock: 10-01A" in text
    assert "Read back the program: KB7-10 A" in text
    found = rows(text, "3  Characteristics: 2 of 3 verified")
    assert found[1] == ["2", "10", "face", "no", "chatter", "yes"]
    assert found[3] == ["4", "10", "groove", "depth", "2.9", "to", "3.1", "mm", "3", "mm"]
    assert found[4] == ["DG-1,", "load", "1,", "first", "piece,", "entry", "20"]
    assert found[5][-2:] == ["not", "verified"]
    assert "NOT COMPLETE: 1 characteristic not verified yet: every face" in text


def test_it_is_full_once_each_characteristic_of_the_drawing_is_verified(bench: Bench) -> None:
    load = bench.form(10)
    bench.through(load)
    bench.through(load)
    bench.clock.step(13 * 3600)
    while bench.state.loads[load].at == 30:
        bench.through(load)
    for op in (40, 50):
        bench.through(bench.form(op))
    assert find_first_article(bench.state).missing == ()
    told = " ".join(paper(bench).split())
    assert "Partial: each of the 3 characteristics is verified, 1 of them on another piece than the first." in told


def test_a_change_brings_a_partial_one_with_its_reason_and_only_what_was_verified_anew(bench: Bench) -> None:
    """AS9102C, partial first article: old results are not copied into it (REC-25, REC-26)."""
    bench.through(bench.form(10))
    bench.say(Disturb("mill", "tool changed", tool=1))
    load = bench.form(10)
    bench.until(load, LINE)
    values = {"value 1": "2.95", "value 2": "yes", "gauge 1": "DG-1", "person": "BB"}
    seq = bench.prove(load, LINE, **values).seq
    found = find_first_article(bench.state)
    (partial,) = found.partial
    assert (partial.seq, partial.why) == (seq, "tool changed")
    assert [(one.what, one.found, one.seq) for one in partial.results] == [
        ("groove depth", "2.95 mm", seq), ("face", "yes", seq),
    ]  # fmt: skip
    assert [one.found for one in found.results if one.what == "groove depth"] == ["3 mm"], "the full one stands"
    text = paper(bench)
    assert "Partial: op 10, load 2" in text
    assert ": tool changed\n" in text
    assert "every face" not in text.split("Partial", 1)[1]


def test_another_set_up_brings_a_partial_one(bench: Bench) -> None:
    bench.through(bench.form(10))
    bench.say(Disturb("mill", "refixtured"))
    bench.through(bench.form(10))
    assert len(find_first_article(bench.state).partial) == 1


def test_a_piece_out_of_limits_is_refused_and_the_next_one_is_the_first_article(bench: Bench) -> None:
    load = bench.form(10)
    bench.until(load, LINE)
    values = {"value 1": "3.3", "value 2": "yes", "gauge 1": "DG-1", "person": "BB"}
    seq = bench.prove(load, LINE, **values).seq
    assert not find_first_article(bench.state).full
    assert "Refused: op 10" in paper(bench)
    assert "3.3 mm OUT" in paper(bench)
    bench.say(decide_out(bench.state, seq, "deep", positions=("A1",)))
    good = bench.prove(load, LINE, **values | {"value 1": "3"})
    assert [one.seq for one in find_first_article(bench.state).full] == [good.seq]


def test_the_first_piece_is_named_by_its_place_and_the_record_keeps_it(bench: Bench) -> None:
    load = bench.form(10)
    bench.until(load, LINE)
    run = bench.run_of(load)
    assert propose_first_piece(bench.state, run, LINE, find_gate(bench)) == "A1"
    values = {"value 1": "3.3", "value 2": "yes", "gauge 1": "DG-1", "person": "BB"}
    wrong = bench.refused(Prove(run.number, LINE, values | {PLACE: "Z9"}))
    assert (wrong.field, wrong.wrong) == (PLACE, "no piece to be measured lies in Z9")
    out = bench.prove(load, LINE, **values | {PLACE: "a1"})
    assert out.body["pieces"] == [1]
    assert bench.current(load).verdict.why == "A1: groove depth 3.3, must be 2.9 to 3.1 mm"  # type: ignore[union-attr]
    bench.say(decide_out(bench.state, out.seq, "deep", positions=("A1",)))
    assert propose_first_piece(bench.state, run, LINE, find_gate(bench)) == "A2", "the next one"
    good = bench.prove(load, LINE, **values | {"value 1": "3.00", PLACE: "A2"})
    assert ": A2: groove depth 3.00 mm, face yes" in describe(bench.state, good)
    assert {(one.what, one.found, one.of) for one in find_first_article(bench.state).results if one.found} == {
        ("groove depth", "3.00 mm", "load 1 A2, first piece"), ("face", "yes", "load 1 A2, first piece")
    }  # fmt: skip
    assert "DG-1, load 1 A2, first piece, entry" in paper(bench)


def test_once_the_tool_is_changed_in_mid_run_nobody_is_offered_the_piece_that_was_cut_before(bench: Bench) -> None:
    load = bench.form(10)
    bench.until(load, LINE)
    values = {"value 1": "3", "value 2": "yes", "gauge 1": "DG-1", "person": "BB"}
    bench.prove(load, LINE, **values | {PLACE: "A1"})
    bench.say(Disturb("mill", "tool changed", tool=1))
    bench.until(load, LINE)
    run = bench.run_of(load)
    assert propose_first_piece(bench.state, run, LINE, find_gate(bench)) == ""
    wrong = bench.refused(Prove(run.number, LINE, values))
    assert (wrong.field, wrong.wrong) == (PLACE, "which piece was cut since the first one was voided?")
    bench.prove(load, LINE, **values | {PLACE: "B1"})
    assert bench.line(load, LINE).state == "done"


def test_nor_one_of_another_load_that_was_cut_in_the_same_cycle() -> None:
    in_cycle = FIRST[1].replace("independent = true,", 'independent = true, at = "cycle",')
    bench = open_bench(lambda: edited(*ONE_CYCLE, (FIRST[0], in_cycle)), start=8)
    first, second = bench.form(10), bench.form(10)
    for load in (first, second):
        bench.until(load, "start")
    bench.until(first, LINE)
    assert propose_first_piece(bench.state, bench.run_of(second), LINE, find_gate(bench)) == "A1"
    values = {"value 1": "3", "value 2": "yes", "gauge 1": "DG-1", "person": "BB"}
    bench.prove(first, LINE, **values | {PLACE: "A1"})
    bench.say(Disturb("mill", "tool changed", tool=1))
    bench.until(second, LINE)
    run = bench.run_of(second)
    assert propose_first_piece(bench.state, run, LINE, find_gate(bench)) == ""
    assert bench.refused(Prove(run.number, LINE, values)).field == PLACE


IN_INCHES = (
    FIRST[0],
    FIRST[1].replace('gauge = "Depth gauge", serial = true', 'gauge = "Depth gauge", gauge_unit = "in"'),
)


def test_a_value_read_in_inches_is_converted_beside_it_and_nothing_is_cut() -> None:
    """1 in = 25.4 mm exactly (international yard and pound agreement of 1959): 0.1180 in = 2.9972 mm."""
    bench = open_bench(lambda: edited(IN_INCHES), start=4)
    load = bench.form(10)
    bench.until(load, LINE)
    bench.prove(load, LINE, **{"value 1": "0.1180", "value 2": "yes", "person": "BB", PLACE: "A1"})
    assert "required 2.9 to 3.1 mm; found 0.1180 in (3.00 mm)" in paper(bench)


def test_what_was_measured_out_before_another_piece_verified_it_is_listed() -> None:
    bench = open_bench(start=4)
    load = bench.form(10)
    bench.until(load, "measured 1")
    seq = bench.prove(load, "measured 1", value=["3.3", "3.0"]).seq
    place = bench.state.format_slot(bench.state.loads[load], bench.state.out[seq].pieces[0])
    bench.say(decide_out(bench.state, seq, "deep", positions=(place,)))
    bench.say(DecideBefore(seq, 0, "measured since"), by="LL")
    bench.prove(load, "measured 1", value=["3.0", "3.05"])
    found = find_first_article(bench.state)
    assert [(one.what, one.found, one.of) for one in found.out] == [("groove depth", "3.3 mm", f"load 1 {place}")]
    assert "Refused before they were verified" in paper(bench)


def test_what_is_struck_out_verifies_nothing(bench: Bench) -> None:
    load = bench.form(10)
    bench.until(load, LINE)
    values = {"value 1": "3", "value 2": "yes", "gauge 1": "DG-1", "person": "BB"}
    seq = bench.prove(load, LINE, **values).seq
    assert find_first_article(bench.state).full
    bench.say(StrikeOut(seq, "typed wrong"))
    assert not find_first_article(bench.state).full
    assert "NOT STARTED" in paper(bench)


def test_each_batch_begins_with_a_full_one_however_long_ago_the_last_was_made(bench: Bench) -> None:
    """AS9102: after two years without production it is repeated (REC-28); here, after any time."""
    bench.through(bench.form(10))
    later = open_bench(lambda: edited(FIRST), start=4)
    load = later.form(10)
    later.until(load, LINE)
    assert "NOT STARTED" in paper(later)
    gate = later.line(load, LINE).gate
    assert gate is not None
    assert [ask.name for ask in gate.asks()] == ["value 1", "value 2", "gauge 1", "person"], "all of them are asked for"


def test_it_is_offered_where_the_checklist_asks_for_a_first_piece(bench: Bench) -> None:
    source = PaperSource(bench.state, bench.clock(), "0" * 64, {})
    assert "First-article report" in [one.title for one in list_offers(source)]
    without = open_bench(lambda: edited((f"  {FIRST[0]},\n", "")))
    bare = PaperSource(without.state, without.clock(), "0" * 64, {})
    assert "First-article report" not in [one.title for one in list_offers(bare)]
    with pytest.raises(ValueError, match="asks for no first piece"):
        make_offer(bare, "first-article")


def test_a_first_piece_in_words_is_told_in_words() -> None:
    bench = open_bench(part, start=4)
    load = bench.form(10)
    bench.until(load, LINE)
    bench.prove(load, LINE, person="BB", found="depth 3.02, no chatter")
    assert "depth 3.02, no chatter" in paper(bench)


def test_the_requirement_is_that_of_the_drawing_whatever_the_gauge_shows() -> None:
    shown = FIRST[1].replace('gauge = "Depth gauge"', 'gauge = "Depth gauge", gauge_unit = "in"')
    bench = open_bench(lambda: edited((FIRST[0], shown)), start=4)
    load = bench.form(10)
    bench.until(load, LINE)
    bench.prove(load, LINE, **{"value 1": "0.118", "value 2": "yes", "gauge 1": "DG-1", "person": "BB"})
    assert "required 2.9 to 3.1 mm; found 0.118 in (3.00 mm)" in paper(bench)


AT_ITS_END = (
    '{ gate = "measured", what = "groove depth", low = "2.9 mm", high = "3.1 mm", sample = 2 }',
    '{ gate = "measured", what = "groove depth", number = 4, low = "2.9 mm", high = "3.1 mm", sample = 2 }',
)


def test_only_a_good_reading_verifies_what_no_first_piece_was_accepted_by() -> None:
    bench = open_bench(lambda: edited(AT_ITS_END), start=4)
    load = bench.form(10)
    bench.until(load, "measured 1")
    bench.prove(load, "measured 1", value=["3.3", "3.0"])
    (depth,) = [one for one in find_first_article(bench.state).results if one.what == "groove depth"]
    assert not depth.found, "the first value was out"


def test_a_balloon_checked_at_two_operations_is_verified_at_one() -> None:
    twice = ('what = "oven temperature", at = "load", per = "load"', 'what = "groove depth", number = 4, at = "load"')
    bench = open_bench(
        lambda: edited(AT_ITS_END, twice, ('low = "145 degC", high = "155 degC"', 'high = "3.2 mm"')), start=4
    )
    assert [one.op for one in find_first_article(bench.state).missing if one.number == 4] == [10, 40]
    load = bench.form(10)
    bench.until(load, "measured 1")
    bench.prove(load, "measured 1", value=["3.0", "3.0"])
    found = [one for one in find_first_article(bench.state).results if one.number == 4]
    assert [(one.op, one.found) for one in found] == [(10, "3.0 mm")]
