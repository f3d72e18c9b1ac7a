"""Scrap is marked or destroyed, and until somebody says so it stays open: AS9100D, 8.7.1 (from memory)."""

from __future__ import annotations

import pytest

from floor.batch.corrections.commands import StrikeOut
from floor.batch.counting.commands import CountRun, Dispose, MarkedPieces
from floor.batch.counting.scrap import EndScrap, list_open_scrap, list_scrapped_by, say_open_scrap, say_scrapped
from floor.batch.describe import describe
from floor.batch.handover.page import build_handover_page
from floor.batch.lifecycle.commands import SetPiecesAside
from floor.batch.walk.commands import Release
from floor.papers.closeout import write_close_out
from tests.batch.factory import Bench, conserved, open_bench


@pytest.fixture
def bench() -> Bench:
    return open_bench()


def page(bench: Bench, *hidden: str) -> list[str]:
    sections = build_handover_page(bench.state, bench.clock(), hidden)
    return [line.text for one in sections for line in one.lines if line.key == "scrap"]


def test_scrap_stays_open_until_it_is_marked_or_destroyed(bench: Bench) -> None:
    """REC-18: counted, decided on and set aside, each by its own entry; the count itself is not held up."""
    load = bench.form(10)
    bench.until(load, "count")
    assert list_open_scrap(bench.state) == ()
    run = bench.run_of(load)
    counted = bench.say(CountRun(run.number, 2, (MarkedPieces("deep", ("A1", "A2")),)))
    bench.say(Release(run.number))
    first, second = list_scrapped_by(bench.state, counted)
    assert page(bench) == ["2 pieces of scrap not on record as marked or destroyed"]
    assert page(bench, "load 1") == ["pieces of scrap not on record as marked or destroyed"], (
        "no figure to a blind count"
    )

    [entry] = bench.say(EndScrap((first,), "scrap marked", " red  bin "))
    assert describe(bench.state, entry) == f"scrap marked: red bin (AA 2026-03-02); piece {first}"
    assert list_open_scrap(bench.state) == (second,)

    lost = bench.say(SetPiecesAside("scrap", "dropped", op=10, count=1))
    held = bench.say(SetPiecesAside("hold", "doubtful", op=10, count=1))
    assert list_scrapped_by(bench.state, held) == ()
    piece = held[0].body["pieces"][0]
    decided = bench.say(Dispose((piece,), "scrap", "cannot be reworked"), "LL")
    assert list_scrapped_by(bench.state, decided) == (piece,)
    assert set(list_open_scrap(bench.state)) == {second, *lost[0].body["pieces"], piece}
    [entry] = bench.say(EndScrap(list_open_scrap(bench.state), "scrap destroyed", "red bin"))
    assert describe(bench.state, entry).startswith("scrap destroyed (AA 2026-03-02); piece")
    assert (say_open_scrap(bench.state), page(bench)) == ("", [])

    bench.say(StrikeOut(entry.seq, "they are still there"))
    assert len(list_open_scrap(bench.state)) == 3
    conserved(bench.state)


def test_a_count_whose_scrap_was_marked_is_not_struck_out_past_that(bench: Bench) -> None:
    """What was marked or destroyed is no good piece by a stroke; counted as scrap once more, it is asked about anew."""
    load = bench.form(10)
    bench.until(load, "count")
    run = bench.run_of(load)
    [counted] = bench.say(CountRun(run.number, 3, (MarkedPieces("deep", ("A1",)),)))
    [told] = bench.say(EndScrap(list_open_scrap(bench.state), "scrap destroyed"))
    refused = bench.refused(StrikeOut(counted.seq, "miscounted"))
    assert (refused.why, refused.remedy) == ("later entries", f"strike out entry {told.seq} first")
    bench.say(StrikeOut(told.seq, "another piece"))
    bench.say(StrikeOut(counted.seq, "miscounted"))
    assert list_open_scrap(bench.state) == ()
    bench.say(CountRun(run.number, 3, (MarkedPieces("deep", ("A1",)),)))
    assert len(list_open_scrap(bench.state)) == 1


def test_scrap_that_cannot_be_found_is_said_so(bench: Bench) -> None:
    """Lost, it is neither marked nor destroyed; the close-out report has the rest by name and by number."""
    bench.say(SetPiecesAside("scrap", "not found", op=10, count=1))
    bench.say(SetPiecesAside("scrap", "dropped", op=10, count=2))
    *dropped, lost = list_open_scrap(bench.state)
    assert say_scrapped(bench.state, dropped) == f"pieces {min(dropped)}-{max(dropped)}, op 10: dropped"
    [entry] = bench.say(EndScrap((lost,), "scrap not found", "red bin"))
    assert describe(bench.state, entry) == f"scrap not found (AA 2026-03-02); piece {lost}"
    paper = write_close_out(bench.state, bench.clock(), "h" * 64)
    assert "scrap not found" in paper
    assert "2 pieces of scrap not on record as marked or destroyed" in paper


def test_each_reason_of_a_count_is_named(bench: Bench) -> None:
    load = bench.form(10)
    bench.until(load, "count")
    marks = MarkedPieces("deep", ("A1",)), MarkedPieces("other", ("A2",), note="sawn short")
    bench.say(CountRun(bench.run_of(load).number, 2, marks))
    pieces = list_open_scrap(bench.state)
    assert say_scrapped(bench.state, pieces) == "pieces 1-2, op 10: Groove too deep; Something else"


def test_only_scrap_is_marked_or_destroyed(bench: Bench) -> None:
    bench.say(SetPiecesAside("scrap", "dropped", op=10, count=1))
    (piece,) = list_open_scrap(bench.state)
    for wrong in ((), (piece, piece), (piece, 1), (99,)):
        assert bench.refused(EndScrap(wrong, "scrap marked")).why == "unknown"
    assert bench.refused(EndScrap((piece,), "lost")).why == "input"  # type: ignore[arg-type]
    assert list_open_scrap(bench.state) == (piece,)
