"""The handover sheet (DOE-STD-1038-93, 4.1.2: what it carries; HSE on shift handover: counting before seeing)."""

from __future__ import annotations

import ast
import hashlib
import inspect
import re
from datetime import time
from pathlib import Path

from floor.batch.handover import page
from floor.batch.handover.commands import (
    AcceptHandover,
    AskQuestion,
    CountSubjectPieces,
    OfferHandover,
    ReadBackLine,
    ReadHandoverPage,
    ResolveDifference,
)
from floor.batch.handover.page import list_count_subjects, list_safety_lines
from floor.cli.plan import list_missed_deadlines
from floor.entry import Draft
from floor.papers import handover
from floor.papers.catalog import PaperSource, make_offer
from floor.papers.handover import FORM_REVISION, SIGN_HERE, write_handover_sheet
from floor.shop import Shop
from floor.text import WIDTH, count_cells
from tests.batch.factory import Bench
from tests.papers.half_done import half_done
from tests.planning.planned import ZONE
from tests.planning.test_running import baking, oven

HASH = "0123456789abcdef" * 4


REVISIONS = {1: "d0da19d84840d79b"}
"""Revision of the form → digest of its headings. A new one gets a row of its own; the others stay."""


def list_headings() -> list[str]:
    """Every heading that the sheet can have, in the order of the source, and the labels of a filled-in one.

    Each heading is the first argument of a call that makes a section, a title or a column, or a name for one.
    """
    found = [page.ORDER]
    for module in (page, handover):
        calls = [
            node for node in ast.walk(ast.parse(inspect.getsource(module))) if isinstance(node, ast.Call) and node.args
        ]
        for call in sorted(calls, key=lambda one: (one.lineno, one.col_offset)):
            name = getattr(call.func, "id", getattr(call.func, "attr", ""))
            if name in ("Section", "title", "Column", "begin_paper"):
                found.append(f"{name} {ast.unparse(call.args[0])}")
    filled = sheet(half_done(), "AA").splitlines()
    found += [line.partition(" --")[0] for line in filled if line.endswith("--")]
    return found + [line.split()[0] for line in filled if line.endswith(SIGN_HERE)]


def sheet(bench: Bench, reader: str) -> str:
    return write_handover_sheet(bench.state, bench.clock(), HASH, {"BB": "Bea Brandt"}, reader)


def test_it_carries_what_the_standard_asks_for_with_waivers_first() -> None:
    """Station, date, time, both names, status, limits in effect with their times, open overrides first."""
    text = sheet(half_done(), "AA")

    order = [
        *(
            f"form revision {FORM_REVISION}",
            "B0001",
            "2026-03-02 20:26 +01:00",
            HASH,
            "Outgoing  AA",
            "Incoming",
            "EXTRA CARE: a gate is waived",
        ),
        *("Waived gates", "counted at the mill", "Running now", "Curing and dwelling", "Pallet 2: cure: ready Tue"),
        *("Where everything is", "Coolant low since noon", "Stations", "Mill: idle", "Counts by hand"),
    ]
    places = [" ".join(text.split()).index(" ".join(part.split())) for part in order]
    assert places == sorted(places)
    assert "12 started = 0 waiting + 9 on loads + 1 hold + 2 scrap + 0 finished" in text
    assert all(count_cells(line) <= WIDTH for line in text.splitlines())


def test_what_closes_while_nobody_is_in_stands_before_all_else_also_for_anybody_still_to_count(
    tmp_path: Path,
) -> None:
    """In the oven at 12:14 for 5 h at the most, in a shop that works from 07:00 to 15:30."""
    bench = baking(time(12, 14), oven())
    (tmp_path / "shop.toml").write_text(f'zone = "{ZONE}"')
    shop = Shop(tmp_path, bench.clock)
    with shop.journals.create("B0001").turn() as turn:
        for entry in bench.state.entries:
            turn.append([Draft(entry.kind, entry.body)], bench.clock(), entry.by)
    shop.refresh()
    said = list_missed_deadlines(shop, "B0001")
    shop.close()
    assert len(said) == 1

    for reader in ("LL", "BB"):
        source = PaperSource(bench.state, bench.clock(), HASH, {}, reader, said)
        text = " ".join(make_offer(source, "handover").write().split())
        assert "TAKE OUT by 15:30, or be in by 17:14: Pallet 1, Mill, op 10 soak; nobody in from" in text
        assert text.index("nobody in from") < text.index("Running now")


def test_recorded_figures_are_blank_for_anybody_still_to_count() -> None:
    bench = half_done()
    bench.say(OfferHandover("go on with load 3"), "LL")

    blind = sheet(bench, "BB")

    assert "____      ____" in blind
    assert not re.search(r"\b\d+ (pieces?|on loads|hold|scrap)\b", blind)
    assert re.search(r"Pallet 2 \(load 2\) +4 +____", sheet(bench, "LL"))


def test_after_the_count_it_shows_both_figures_and_says_where_they_differ() -> None:
    bench = half_done()
    bench.say(OfferHandover("go on with load 3"), "LL")
    bench.say(AskQuestion("Which lacquer?"), "BB")
    for subject in list_count_subjects(bench.state):
        bench.say(CountSubjectPieces(subject.key, subject.expected - (subject.key == "load 2")), "BB")
    for line in list_safety_lines(bench.state, bench.clock()):
        bench.say(ReadBackLine(line.key), "BB")
    bench.say(ReadHandoverPage(), "BB")
    [difference] = bench.state.list_open_differences()
    assert re.search(r"Pallet 2 \(load 2\) +4 +3  -1 DIFFERS", sheet(bench, "LL"))
    bench.say(ResolveDifference(difference.seq, "one is at the gauge"), "LL")
    assert re.search(r"Pallet 2 \(load 2\) +4 +3  -1 settled", sheet(bench, "LL")), "also before it is signed"
    bench.say(AcceptHandover(talked="face to face"), "BB")

    text = sheet(bench, "BB")

    assert re.search(r"Pallet 2 \(load 2\) +4 +3  -1 settled", text)
    assert "DIFFERS" not in text
    assert "Pallet 2 (load 2): one is at the gauge · LL" in text
    assert re.search(r"Pallet 1 \(load 1\) with what is set aside +\d +\d  agrees", text)
    assert "Incoming  BB Bea Brandt, accepted 2026-03-02" in text
    assert "Responsible from then on: BB Bea Brandt\n" in text
    assert "[x] Pallet 2: cure" in text
    assert "? Which lacquer? (BB)\n    OPEN" in text


def test_where_nobody_was_there_the_sheet_says_so_and_asks_for_each_line() -> None:
    """DOE-STD-1038-93, unstaffed stations: confirmed line by line, as if face to face."""
    bench = half_done()
    bench.say(OfferHandover("oven off", unattended=True, safe="mill off, air shut"), "LL")

    said = "Nobody was there to talk to: confirm each line as if face to face."
    assert said in sheet(bench, "BB")
    assert bench.refused(AcceptHandover(talked="face to face"), by="BB").why == "handover"

    talked = half_done()
    talked.say(OfferHandover("go on with load 3"), "LL")
    assert said not in sheet(talked, "BB")


def test_the_form_has_a_revision_that_is_raised_when_its_headings_change() -> None:
    """DOE-STD-1038-93 (from memory): a turnover form names its revision. HND-07."""
    headings = list_headings()
    assert {"Waived gates", "Counts by hand", "Outgoing", "Incoming"} <= set(headings)
    assert "Section 'Maintenance in progress'" in headings, "those that half a batch does not have, too"
    digest = hashlib.sha256("\n".join(headings).encode()).hexdigest()[:16]
    assert max(REVISIONS) == FORM_REVISION
    assert REVISIONS[FORM_REVISION] == digest, "the headings have changed: raise FORM_REVISION, add its digest"
    assert len({*REVISIONS.values()}) == len(REVISIONS)
    assert f"form revision {FORM_REVISION}" in sheet(half_done(), "AA").splitlines()[1]
