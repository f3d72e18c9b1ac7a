"""A cause found, and the customer told, of pieces that do not conform: in the record of the batch, as fields.

21 CFR 211.188(b)(12) for the investigation in the same record; ISO 9001:2015, 8.7.1 c for informing the customer.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from floor.batch.corrections.commands import StrikeOut
from floor.batch.counting.commands import Dispose, MarkedPieces
from floor.batch.counting.follow_up import FollowUp, find_nonconforming_pieces, list_follow_ups
from floor.batch.describe import describe
from floor.batch.fold import Inapplicable, fold
from floor.batch.gates.decide_out_of_limits import DecideBefore
from floor.batch.handover.page import build_handover_page
from floor.batch.lifecycle.commands import SetPiecesAside
from floor.batch.search.matching import list_decisions
from floor.papers.closeout import write_close_out
from floor.papers.trace import format_trace
from tests.batch.factory import Bench, conserved, decide_out, open_bench
from tests.batch.test_out_of_limits import measured

CAUSE = FollowUp((1,), "cause found", "Ms Lee", "2026-03-02", "collet worn, so the groove ran deep")
TOLD = FollowUp((1,), "customer told", "Ms Vance", "2026-03-02", "one groove 0.1 mm deep", "26-114")


@pytest.fixture
def bench() -> Bench:
    """Piece 1 was scrapped at its first count, piece 2 is on hold."""
    bench = open_bench()
    load = bench.form(10)
    bench.through(load, 10, marks=(MarkedPieces("deep", ("A1",)),))
    bench.say(SetPiecesAside("hold", "odd", load=load, positions=("A2",)))
    return bench


def test_a_cause_is_recorded_after_the_decision_with_who_looked_and_when(bench: Bench) -> None:
    """REC-06: it is in the same record, on the piece's trace, for the next shift and on the close-out report."""
    before = bench.where()
    text = write_close_out(bench.state, bench.clock(), "h" * 64)
    assert "Causes found" not in text

    (entry,) = bench.say(CAUSE, by="BB")

    assert entry.body == {
        "what": "cause found", "pieces": [1], "person": "Ms Lee", "on": "2026-03-02",
        "text": "collet worn, so the groove ran deep",
    }  # fmt: skip
    said = "cause found: collet worn, so the groove ran deep (Ms Lee 2026-03-02); piece 1"
    assert describe(bench.state, entry) == said
    assert entry in list_decisions(bench.state, [1], [])
    assert entry not in list_decisions(bench.state, [2], [])
    page = build_handover_page(bench.state, bench.clock())
    for shown in (
        write_close_out(bench.state, bench.clock(), "h" * 64),
        "\n".join(format_trace(bench.state, 1, bench.clock())),
        "\n".join(line.text for section in page for line in section.lines),
    ):
        assert said in " ".join(shown.split())
    assert bench.where() == before, "it moves no piece"
    conserved(bench.state)


def test_that_the_customer_was_told_has_name_day_and_reference(bench: Bench) -> None:
    """REC-13: as fields, so that it can be asked for."""
    (entry,) = bench.say(TOLD)
    assert (entry.body["person"], entry.body["on"], entry.body["reference"]) == ("Ms Vance", "2026-03-02", "26-114")
    assert describe(bench.state, entry) == (
        "customer told: one groove 0.1 mm deep (Ms Vance 2026-03-02, 26-114); piece 1"
    )
    (cause,) = bench.say(replace(CAUSE, reference="26-114"))
    assert "reference" not in cause.body, "a cause has none"


def test_one_that_was_struck_out_is_no_longer_told(bench: Bench) -> None:
    (entry,) = bench.say(replace(TOLD, pieces=(1, 2)))
    assert [found for found, _ in list_follow_ups(bench.state, 2)] == [entry]
    assert list_follow_ups(bench.state, 3) == []
    bench.say(StrikeOut(entry.seq, "told them tomorrow"))
    assert list_follow_ups(bench.state) == []
    assert "Causes found" not in write_close_out(bench.state, bench.clock(), "h" * 64)


@pytest.mark.parametrize(
    ("change", "why", "field"),
    [
        ({"person": "."}, "input", "person"),
        ({"text": "?"}, "input", "text"),
        ({"on": ""}, "input", "on"),
        ({"on": "yesterday"}, "input", "on"),
        ({"on": "2026-03-03"}, "input", "on"),
        ({"pieces": (3,)}, "unknown", ""),
        ({"pieces": (99,)}, "unknown", ""),
        ({"pieces": ()}, "unknown", ""),
        ({"pieces": (1, 1)}, "unknown", ""),
    ],
)
def test_what_names_nobody_no_day_or_a_good_piece_is_refused(
    bench: Bench, change: dict[str, Any], why: str, field: str
) -> None:
    refused = bench.refused(replace(CAUSE, **change))
    assert (refused.why, refused.field) == (why, field)


def test_a_piece_stays_one_to_look_into_whatever_was_decided(bench: Bench) -> None:
    assert find_nonconforming_pieces(bench.state) == {1, 2}
    bench.say(Dispose((2,), "use as is", "only dirt"), by="LL")
    assert find_nonconforming_pieces(bench.state) == {1, 2}
    assert bench.say(replace(CAUSE, pieces=(2, 1)))


def test_a_piece_named_out_of_limits_may_be_looked_into_before_it_is_counted() -> None:
    bench = open_bench()
    _, seq = measured(bench, 3.0, 3.12)
    assert find_nonconforming_pieces(bench.state) == set()
    bench.say(decide_out(bench.state, seq, "deep", positions=("A2",)))
    bench.say(DecideBefore(seq, 0, "each measured since"), by="LL")
    assert find_nonconforming_pieces(bench.state) == {2}


def test_an_entry_about_a_piece_that_is_not_there_is_refused_by_the_fold(bench: Bench) -> None:
    (entry,) = bench.say(CAUSE)
    with pytest.raises(Inapplicable, match=r"followed up\): there is no such piece"):
        fold([*bench.state.entries[:-1], replace(entry, body={**entry.body, "pieces": [99]})])
