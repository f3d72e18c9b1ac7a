"""Every kind of entry in words, with what it may leave out and without it."""

from __future__ import annotations

from dataclasses import MISSING, fields
from functools import cache
from typing import Any

import pytest

from floor.batch import events
from floor.batch.describe import describe, describe_parts, describe_proof
from floor.batch.describe_registry import DESCRIBED
from floor.batch.events import KINDS, Event, make_drafts
from floor.batch.proof import RunKey
from floor.entry import format_wall
from tests.batch.factory import MORNING, Bench, entries_of, one_cycle, open_bench

KEY = RunKey("measured", "run", 1, "measured 1")
PART: dict[str, Any] = {"id": "B0001", "checklist": {}, "order": 96}
RUN: dict[str, Any] = {"run": 1, "op": 10}
BEGUN: dict[str, Any] = {**RUN, "load": 2, "station": "mill", "setup": 1, "new_setup": False, "pieces": (5, 6)}
OUT: dict[str, Any] = {**RUN, "out": 7}
PROVED: dict[str, Any] = {**RUN, "line": "measured 1", "gate": "measured", "key": KEY}
FORMED: dict[str, Any] = {"load": 3, "carrier": "pallet", "number": 2, "op": 20}
SCRAP = events.Mark(to="scrap", reason="deep", pieces=(1,))
ODD = events.Mark(to="hold", reason="other", pieces=(2, 3), places=("A2", "B1"), note="odd sound")


def late(*seen: str, proofs: int = 0) -> Event:
    proof = events.LateProof(
        op=10, line="measured 1", gate="measured", key=KEY, values={}, by="AA", at=format_wall(MORNING),
        station="mill", run=1, load=1,
    )  # fmt: skip
    row = events.LateRow(what="waiting", count=3, pieces=(1, 2, 3), op=20)
    return events.EnteredLate(
        acted=format_wall(MORNING), rows=(row,), setups=(), proofs=(proof,) * proofs, seen_by="".join(seen)
    )


SAID: list[tuple[Event, str]] = [
    (events.Noted(text="smells"), "note: smells"),
    (events.NoteDone(of=1), "done: entry 1"),
    (events.Noted(text="smells", abnormal=True), "abnormal: smells"),
    (events.Noted(text="smells", abnormal=True, next_shift=True), "for the next shift: smells"),
    (events.StruckOut(seq=3, reason="slip", what="noted"), "entry 3 struck out: slip"),
    (
        events.UnprovedSettled(strike=9, how="proved afterwards", reason="the control keeps a log"),
        "left unproved by entry 9, decided: proved afterwards, the control keeps a log",
    ),
    (events.Counted(**RUN, load=1, went_in=4, good=4, marks=()), "load 1, op 10: counted 4: 4 good"),
    (
        events.Counted(**RUN, load=1, went_in=4, good=1, marks=(SCRAP, ODD)),
        "load 1, op 10: counted 4: 1 good, 1 scrap deep, 2 hold other at A2, B1 (odd sound)",
    ),
    (
        events.SetAside(pieces=(1,), to="hold", reason="odd", op=20),
        "waiting for op 20: piece 1 set aside as hold: odd",
    ),
    (
        events.SetAside(pieces=(1, 2), to="scrap", reason="bent", load=4, where="A1, A2"),
        "load 4: A1, A2 set aside as scrap: bent",
    ),
    (
        events.SetAside(pieces=(1, 2), to="hold", reason="dull", load=4, of_run=3),
        "of run 3: pieces 1-2 set aside as hold: dull",
    ),
    (
        events.SurplusTakenOut(to="spare", pieces=(1,), reason="full"),
        "order filled: piece 1 kept as spares: full",
    ),
    (
        events.SurplusTakenOut(to="stopped", pieces=(1, 2), reason="full", op=20),
        "order filled: pieces 1-2 waiting for op 20 stopped: full",
    ),
    (
        events.SurplusTakenOut(to="stopped", pieces=(1, 2), reason="full", load=3, op=20),
        "order filled: pieces 1-2 of load 3 stopped: full",
    ),
    (
        events.SurplusGoesOn(until=20, reason="spares"),
        "order filled: pieces in process go on up to op 20: spares",
    ),
    (events.SurplusGoesOn(until=50, reason="spares"), "order filled: pieces in process go on: spares"),
    (
        events.SurplusBroughtBack(pieces=(1, 2), op=20, reason="ordered"),
        "pieces 1-2 back in process at op 20: ordered",
    ),
    (
        events.CountCorrected(of=8, pieces=(1, 2), reason="they were good"),
        "pieces 1-2 not scrap after all, entry 8 corrected: they were good; on hold",
    ),
    (events.Disposed(pieces=(1,), decision="scrap", reason="cracked"), "held piece 1: scrap, cracked"),
    (
        events.Disposed(pieces=(1,), decision="return to supplier", reason="another heat", to="Bar Mill Inc., 26-81"),
        "held piece 1: return to supplier Bar Mill Inc., 26-81, another heat",
    ),
    (
        events.FollowedUp(
            what="customer told", pieces=(1, 2), person="Ms Vance", on="2026-02-27", text="too deep", reference="26-114"
        ),
        "customer told: too deep (Ms Vance 2026-02-27, 26-114); pieces 1-2",
    ),
    (
        events.Disposed(
            pieces=(1, 2), decision="use as is", reason="within print", waives_rework=True, where="Pallet 1 A1, A2"
        ),
        "2 held pieces: use as is, the rework waived, within print (Pallet 1 A1, A2)",
    ),
    (
        events.TrialPlanned(
            trial=1,
            question="which lacquer?",
            factors=(events.TrialFactor(name="lacquer", settings=("A", "B")),),
            response="number",
            characteristic="gloss",
            each=3,
            unit="GU",
        ),
        "trial 1 planned: which lacquer? lacquer: A, B; 3 pieces each",
    ),
    (
        events.TrialPiecesTaken(trial=1, setting=2, pieces=(1, 2), op=20),
        "trial 1: 2 pieces waiting for op 20 used for setting 2",
    ),
    (
        events.TrialPiecesTaken(trial=1, setting=2, pieces=(1,), load=3),
        "trial 1: 1 piece of load 3 used for setting 2",
    ),
    (events.TrialPiecesBack(trial=1, pieces=(1,), reason="as new"), "trial 1: 1 piece back in process: as new"),
    (
        events.TrialResult(trial=1, setting=1, values=tuple(range(1, 11)), seen="even"),
        "trial 1, setting 1: 1, 2, 3, 4, 5, 6, 7, 8; 2 more; even",
    ),
    (events.TrialResult(trial=1, setting=1, good=2, bad=1), "trial 1, setting 1: 2 good, 1 bad"),
    (
        events.TrialResult(
            trial=1,
            setting=1,
            values=(0.25,),
            source=events.TrialFile(
                file="run1.csv", sha256="00", columns=("x", "y"), how="vibration", rows=100
            ),
        ),
        "trial 1, setting 1: 0.25; from run1.csv (x, y: vibration)",
    ),
    (
        events.TrialSettingChosen(trial=1, setting=1, reason="glossier", offer="op 20: lacquer A"),
        "trial 1: setting 1 chosen: glossier; offered to the checklist: op 20: lacquer A",
    ),
    (events.TrialSettingChosen(trial=1, setting=0, reason="no matter"), "trial 1: setting 0 chosen: no matter"),
    (events.TakenOff(pieces=(1,), load=1, where="A1 of Pallet 1"), "taken off the carrier: A1 of Pallet 1"),
    (
        events.Proved(**PROVED, values={"value": [2.95, 3.0]}),
        "load 1, op 10: Measure groove depth: 2.95, 3 mm",
    ),
    (
        events.Proved(**PROVED, values={"value": [2.95, 3.15]}),
        "load 1, op 10: Measure groove depth: 2.95, 3.15 mm ✕ not accepted",
    ),
    (
        events.Proved(**{**PROVED, "line": "confirmed 1"}, values={}),
        "load 1, op 10: Press each corner: nothing rocks: confirmed",
    ),
    (
        events.Proved(**{**PROVED, "line": "signed 1"}, values={"person": "AA", "self": True}),
        "load 1, op 10: Second look at tools and program: AA (self-check)",
    ),
    (
        events.Proved(**{**PROVED, "line": "program loaded 1"}, values={"program": "kb7-10 a "}),
        "load 1, op 10: Read back the program: kb7-10 a ",
    ),
    (
        events.Proved(**{**PROVED, "line": "program loaded 1"}, values={"program": "KB7-10 B"}),
        "load 1, op 10: Read back the program: KB7-10 B ✕ not accepted",
    ),
    (
        events.Waived(**RUN, line="probed 1", title="Probe G54 X, Z", reason="broken"),
        "load 1, op 10: Probe G54 X, Z waived: broken",
    ),
    (
        events.Waived(**RUN, line="probed 1", title="Probe G54 X, Z", reason="broken", second="BB"),
        "load 1, op 10: Probe G54 X, Z waived: broken, BB signed too",
    ),
    (events.WaiverClosed(waiver=8, reason="indicated"), "waiver 8 closed: indicated"),
    (events.LotOpened(what="lacquer", lot="L-1", into=()), "new: lacquer L-1"),
    (
        events.LotCorrected(of=8, what="lacquer", was="L-1", lot="L-2", reason="typed wrong", use_by="2026-08-01"),
        "lot of lacquer corrected (entry 8): L-2, use by 2026-08-01, was L-1: typed wrong",
    ),
    (
        events.ChecklistWeakened(
            before="B0001", points=(events.WeakenedPoint(kind="caution gone", subject="Turning cutter"),), why="by hand"
        ),
        "weaker than the checklist of B0001: caution removed: Turning cutter. by hand",
    ),
    (
        events.AttemptRefused(what="past its date", subject="lacquer", values={"lot": "L-1", "use_by": "2026-03-01"}),
        "lacquer: L-1, 2026-03-01; refused, past its date",
    ),
    (
        events.AttemptRefused(what="withdrawn", op=10, line="measured 9", values={"gauge": "M-1"}),
        "a check: M-1; refused, withdrawn",
    ),
    (
        events.AttemptRefused(what="does not add up", run=1, op=10, values={"good": 3, "marked": 2, "in": 4}),
        "load 1, op 10: count of 4 pieces: 3 good, 2 marked; refused, does not add up",
    ),
    (
        events.LotOpened(what="lacquer", lot="L-1", into=(2, 3), use_by="2026-08-01"),
        "new: lacquer L-1, 2026-08-01, goes into load 2, 3",
    ),
    (
        events.OutDecided(**OUT, to="scrap", pieces=(1,), reason="deep", where="A1"),
        "load 1, op 10: A1 was out of limits: scrap, deep",
    ),
    (
        events.OutDecided(**OUT, to="scrap", pieces=(1,), reason="deep", where="A1", note="chip"),
        "load 1, op 10: A1 was out of limits: scrap, deep (chip)",
    ),
    (
        events.BeforeDecided(**OUT, hold=3, of=3),
        "load 1, op 10: 3 of 3 made since the last good check put on hold",
    ),
    (
        events.BeforeDecided(**OUT, hold=0, of=3, reason="only A1"),
        "load 1, op 10: 0 of 3 made since the last good check put on hold, the others not: only A1",
    ),
    (
        events.MeasuredAgain(**OUT, line="measured 1", value=3.0, reason="chip", good=True),
        "load 1, op 10: the same piece measured again: 3.0, chip",
    ),
    (
        events.MeasuredAgain(**OUT, line="measured 1", value=3.2, reason="chip"),
        "load 1, op 10: the same piece measured again: 3.2, chip ✕ out of limits again",
    ),
    (
        events.OutSettled(**OUT, how="gauge was wrong", reason="checked"),
        "load 1, op 10: reading of entry 7 decided: gauge was wrong, checked",
    ),
    (
        events.ProgramRead(
            **RUN, line="program loaded 1", file="O1.nc", sha256="3f" * 32, lines=1, seconds=60.0,
            findings=(
                events.ProgramFinding(kind="byte order mark", line=1),
                events.ProgramFinding(kind="no end", line=9),
            ),
        ),
        "load 1, op 10: O1.nc read (3f3f3f3f, 1 line): line 9: the program has no M30, M2 or closing %; "
        "is the file whole?; line 1: the file starts with a byte order mark; save it without one",
    ),
    (
        events.ProgramRead(**RUN, line="program loaded 1", file="O1.nc", sha256="3f" * 32, lines=20, seconds=60.0),
        "load 1, op 10: O1.nc read (3f3f3f3f, 20 lines): no faults",
    ),
    (events.AirRead(temperature=20.0, humidity=55.0), "room air 68 degF, 55 %"),
    (events.ClockConfirmed(reason="radio"), "the clock is right: radio"),
    (events.HandoverOffered(remarks="", unattended=False), "handover offered"),
    (events.HandoverOffered(remarks="soon", unattended=False), "handover offered: soon"),
    (
        events.HandoverOffered(
            remarks="", unattended=False, answers=(events.ShopAnswer(question="Bins?", answer="empty"),)
        ),
        "handover offered: Bins? empty",
    ),
    (events.HandoverOffered(remarks="", unattended=True), "left unattended"),
    (events.HandoverOffered(remarks="all off", unattended=True), "left unattended: all off"),
    (events.HandoverWithdrawn(), "handover withdrawn"),
    (events.PageRead(of=4), "handover page read"),
    (events.CarrierCounted(subject="load 1", expected=4, found=3), "load 1: counted 3, recorded 4"),
    (events.ReadBack(line="clock", text="ready 07:13"), "read back: ready 07:13"),
    (events.QuestionAsked(text="why?"), "asked: why?"),
    (events.QuestionAnswered(question=4, text="because"), "answered: because"),
    (events.HandoverAccepted(giver="AA"), "taken over from AA"),
    (events.DifferenceResolved(difference=4, how="recounted"), "difference 4 resolved: recounted"),
    (late(), "entered late, as of Mon 07:00: 3 waiting"),
    (late("BB", proofs=1), "entered late, as of Mon 07:00, BB saw the papers: 3 waiting, 1 proof"),
    (late(proofs=2), "entered late, as of Mon 07:00: 3 waiting, 2 proofs"),
    (events.LoadFormed(**FORMED, slots=(1, None, None, None)), "load 3: 1 piece on Pallet 2 for op 20"),
    (
        events.LoadFormed(**FORMED, slots=(1, 2, None, 3), rework="touch up"),
        "load 3: 3 pieces on Pallet 2 for op 20 for rework",
    ),
    (
        events.PiecesMoved(op=20, pieces=(1, 4), where="A1, B2", left=(3,)),
        "A1, B2 of load 3: taken off, waiting loose for op 20",
    ),
    (
        events.PiecesMoved(
            op=20, pieces=(1, 2), load=4, carrier="pallet", number=2, slots=(1, None, 2, None), joined=3
        ),
        "2 loose pieces: moved onto Pallet 2 A1, B1, joining load 3, load 4 from there on",
    ),
    (events.BatchOpened(**PART), "batch B0001 opened: 96 of KB-7"),
    (
        events.BatchOpened(**PART, tests=((10, 9), (20, 2))),
        "batch B0001 opened: 96 of KB-7, 9 good of op 10, 2 of op 20 for tests, trials",
    ),
    (events.PiecesStarted(first=1, count=1), "1 piece started"),
    (events.PiecesStarted(first=1, count=8), "8 pieces started"),
    (events.BatchClosed(finished=8), "closed with 8 finished"),
    (
        events.BatchClosed(finished=8, reason="late", spare=1, stopped=2),
        "closed with 8 finished, 1 spare, 2 stopped: late",
    ),
    (events.BatchClosed(finished=0, spare=2), "closed with 0 finished, 2 spares"),
    (events.GoneOver(to="the other shop"), "transferred to the other shop"),
    (events.TakenIn(), "taken in here"),
    (events.TakenIn(reason="from LL"), "taken in here: from LL"),
    (events.Disturbed(station="mill", what="power lost"), "mill: power lost or control restarted"),
    (
        events.Disturbed(station="mill", what="lifted", load=2, tool=3, offset="G54", note="fork"),
        "mill: carrier lifted or re-seated (load 2, tool 3, G54, fork)",
    ),
    (events.Disturbed(station="mill", what="tool changed", tool=1), "mill: tool changed (tool 1)"),
    (
        events.ToolWorn(station="mill", tools=((1, 900.0),), other="B0002"),
        "mill: tool 1 25 % used up, after a cycle of B0002",
    ),
    (
        events.ToolWorn(station="mill", tools=((1, 3600.0), (2, 5.0), (9, 5.0)), other="B0002"),
        "mill: tool 1 100 % used up, tool 2 used further, tool 9 used further, after a cycle of B0002",
    ),
    (
        events.OutOfService(station="oven", why="jams", said_by="AA", since=format_wall(MORNING)),
        "Oven is out of service: jams",
    ),
    (
        events.ConditionReported(
            station="oven", what="guard off", note="hinge broke", said_by="AA", since=format_wall(MORNING)
        ),
        "Oven: guard off: hinge broke",
    ),
    (
        events.GaugeSuspected(serial="DM-04", gauge="Depth micrometer", reason="dropped", checks=(7, 9)),
        "Depth micrometer DM-04 withdrawn as suspect: dropped; 2 checks here used it",
    ),
    (events.SuspectGaugeSettled(report=999, reason="measured again"), "checks with the gauge decided: measured again"),
    (events.ConditionCleared(station="oven", what="guard off", note="mended"), "Oven: guard off cleared: mended"),
    (
        events.OutOfService(
            station="saw", why="jams", said_by="AA", since=format_wall(MORNING), back=format_wall(MORNING)
        ),
        "saw is out of service: jams, expected back Mon 07:00",
    ),
    (events.SetupTakenDown(station="mill", other="B0002"), "mill: set-up taken down for B0002"),
    (events.BackInService(station="oven"), "Oven is back in service"),
    (events.BackInService(station="oven", note="greased"), "Oven is back in service: greased"),
    (events.RunBegun(**BEGUN), "load 2: op 10 started at Mill"),
    (
        events.RunBegun(
            **{**BEGUN, "new_setup": True}, rework="touch up", exception="nobody there", unmet="cooling is not over"
        ),
        "load 2: op 10 started at Mill, new set-up, rework, by exception: nobody there, although cooling is not over",
    ),
    (events.RunPutBack(**RUN, load=1, falls=0), "load 1, op 10: put back, nothing done to the pieces"),
    (
        events.RunPutBack(**RUN, load=1, falls=1),
        "load 1, op 10: put back, nothing done to the pieces; 1 line of its walk to be done again",
    ),
    (
        events.RunPutBack(**RUN, load=1, falls=2),
        "load 1, op 10: put back, nothing done to the pieces; 2 lines of its walk to be done again",
    ),
    (
        events.CautionsRead(**RUN, line="step 3", cautions=("cutter", "hot")),
        "load 1, op 10: cautions read: cutter, hot",
    ),
    (
        events.StepsChecked(**RUN, lines=("load step 1", "rework again 1")),
        "load 1, op 10: rechecked: Clamp the pallet; a step",
    ),
    (events.StepDone(**RUN, line="load step 1"), "load 1, op 10: Clamp the pallet"),
    (events.StepDone(**RUN, line="load step 1", note="by hand"), "load 1, op 10: Clamp the pallet (by hand)"),
    (
        events.StepSkipped(**RUN, line="load step 1", reason="clamped"),
        "load 1, op 10: Clamp the pallet skipped: clamped",
    ),
    (events.CycleStarted(**RUN), "load 1, op 10: cycle started"),
    (events.CycleStarted(**RUN, anew=True), "load 1, op 10: cycle started over"),
    (events.CycleStarted(**RUN, resumed=True), "load 1, op 10: cycle resumed"),
    (events.CycleStopped(**RUN, why="alarm"), "load 1, op 10: cycle stopped: alarm"),
    (
        events.CycleStopped(**RUN, why="tool broke", tool=1, note="chips", ago=90.0),
        "load 1, op 10: cycle stopped: tool broke, 1 min before this was entered (tool 1, chips)",
    ),
    (events.CycleEnded(**RUN), "load 1, op 10: cycle ended"),
    (events.Released(**RUN, load=1), "load 1, op 10: released"),
    (events.Paused(**RUN, reason="phone"), "load 1, op 10: paused: phone"),
]  # fmt: skip


@cache
def milled() -> Bench:
    """A load through op 10."""
    bench = open_bench()
    bench.through(bench.form(10), 10)
    return bench


def written(event: Event, **more: Any) -> Any:
    bench = milled()
    [draft] = make_drafts(event)
    entry = entries_of([draft], bench.clock(), "AA", bench.state.entries)[0]
    entry.body.update(more)
    return entry


@pytest.mark.parametrize(("event", "said"), SAID, ids=lambda one: one if isinstance(one, str) else "")
def test_an_entry_says(event: Event, said: str) -> None:
    assert describe(milled().state, written(event)) == said


def test_every_kind_is_described_above() -> None:
    assert {type(event) for event, _ in SAID} == set(DESCRIBED)


def test_what_is_left_out_of_an_entry_was_not_so() -> None:
    """Older records lack newer fields, so absent means no, none or nothing, but for the first edition of the rules."""
    meant = {
        (kind.KIND, one.name): one.default for kind in KINDS.values() for one in fields(kind)  # type: ignore[arg-type]
        if one.default is not MISSING
    }  # fmt: skip
    assert {place for place, default in meant.items() if default} == {("batch_opened", "rules")}
    assert meant["batch_opened", "rules"] == 1
    for place, default in meant.items():
        assert default in (None, "", 0, False, (), 1), place


@pytest.mark.parametrize("run", [1, 99])
def test_a_line_reads_by_its_title_also_where_its_run_is_struck_out(run: int) -> None:
    state = milled().state
    rework = next(one for one in state.checklist.reworks if one.steps)
    own = {"run": run, "op": 10, "line": f"rework {rework.id} 1"}
    title = rework.steps[0].title()
    assert describe_parts(state, written(events.StepDone(**own))).what == title
    assert describe_parts(state, written(events.StepSkipped(**own, reason="done"))).what == f"{title} skipped: done"
    checked = events.StepsChecked(run=run, op=10, lines=("load step 1", own["line"], "gone 1"))
    assert describe_parts(state, written(checked)).what == f"rechecked: Clamp the pallet; {title}; a step"
    proved = events.Proved(**{**PROVED, "run": run}, values={"value": [3.0, 3.0]})
    assert describe_parts(state, written(proved)).what.startswith("Measure groove depth: 3, 3 mm")


def test_the_parts_of_a_description_are_kept_apart() -> None:
    bench, paused = milled(), events.Paused(**RUN, reason="phone")
    parts = describe_parts(bench.state, written(paused))
    assert (parts.at, parts.what, parts.paper, parts.struck) == ("load 1, op 10", "paused: phone", "", None)
    acted = format_wall(bench.clock().at.replace(hour=6, minute=5))
    paper = describe_parts(bench.state, written(paused, acted=acted))
    entered = f"{bench.clock().at:%H:%M}"
    assert paper.paper == f"from paper: done 06:05, entered {entered}"
    assert paper.here == f"paused: phone ({paper.paper})"
    assert str(paper) == f"load 1, op 10: {paper.here}"
    seen = describe_parts(bench.state, written(paused, acted=acted, seen_by="BB"))
    assert seen.paper == f"{paper.paper}, BB saw it"


@pytest.mark.parametrize(
    ("line", "values", "said"),
    [
        ("confirmed 1", {}, "Press each corner: nothing rocks"),
        ("signed 1", {"self": True}, "Second look at tools and program: confirmed (self-check)"),
        ("measured 1", {"value": [3.0, 3.0]}, "Measure groove depth: 3, 3 mm"),
    ],
)
def test_a_bare_confirmation_is_its_title_in_a_list_of_proofs(line: str, values: dict[str, Any], said: str) -> None:
    proved = events.Proved(**{**PROVED, "line": line}, values=values)
    assert describe_proof(milled().state, written(proved)) == said
    paper = written(proved, acted=format_wall(MORNING))
    assert describe_proof(milled().state, paper).endswith(")")
    assert "confirmed" in describe_proof(milled().state, paper) or values.get("value")


def test_the_loads_that_share_a_cycle_are_named() -> None:
    bench = open_bench(one_cycle, start=12)
    loads = [bench.form(10) for _ in range(2)]
    runs = [bench.begin(load) for load in loads]
    begun = [describe(bench.state, entry) for entry in bench.state.entries if entry.kind == "run_begun"]
    assert begun == [
        "load 1: op 10 started at Mill, new set-up",
        "load 2: op 10 started at Mill, for one cycle with load 1",
    ]
    bench.until(loads[0], "end", wait=False)
    own = {"run": runs[0].number, "op": 10, "along": (runs[1].number,)}
    for event, said in (
        (events.CycleStarted(**own), "cycle started, with load 2"),
        (events.CycleEnded(**own), "cycle ended, with load 2"),
        (events.CycleStopped(**own, why="alarm"), "cycle stopped, with load 2: alarm"),
        (events.StepDone(**own, line="load step 1"), "Clamp the pallet, with load 2"),
        (events.StepSkipped(**own, line="load step 1", reason="done"), "Clamp the pallet skipped: done, with load 2"),
    ):
        assert describe(bench.state, written(event)) == f"load 1, op 10: {said}"
