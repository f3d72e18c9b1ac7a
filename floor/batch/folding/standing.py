"""What voids a proof, what is waived, what is said and struck out."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from floor.batch.cycles import runs_in
from floor.batch.folding.base import kind, need, open_run, prove_again, run_of, void
from floor.batch.folding.stopping import stop
from floor.batch.gates import DISTURBANCES, RULES, serves, set_anew
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.batch.timekeeping import confirmed
from floor.batch.unsettled import Waiver
from floor.checklist.model import Do
from floor.entry import Entry


@kind
def _disturbed(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    what, station = body["what"], body["station"]
    for key, proof in list(batch.proofs.items()):
        if what not in RULES[key[0]].voided_by or proof.station != station:
            continue
        if what == "lifted" and (proof.load != body.get("load") or key[1] in ("setup", "shift")):
            continue
        if what == "tool changed" and key[0] == "tool loaded" and key[2] != body.get("tool"):
            continue
        if body.get("offset") and not set_anew(batch, key, station, body["offset"]):
            continue
        prove_again(batch, key, DISTURBANCES[what], entry, at)
    for running in batch.open_runs():
        if running.station == station and running.late and running.running:
            running.reopened |= _never_proved(batch, running, what)
    if what == "power lost":
        for running in batch.open_runs():
            if running.station == station and running.running:
                stop(batch, running, what, at, entry)
    if what == "tool changed":
        batch.tools.pop((station, body.get("tool", 0)), None)
    if what == "refixtured":
        _take_down(batch, station, DISTURBANCES["refixtured"])


def _never_proved(batch: Batch, run: Run, what: str) -> set[str]:
    """The gates of a run entered late of which nobody knows whether they were proved, and that this would void."""
    return {
        line for line, step in batch.operation_of(run).numbered_steps
        if not isinstance(step, Do) and what in RULES[step.gate].voided_by
        and RULES[step.gate].key(batch, run, line, step) not in batch.proofs
        and step.at in ("arrive", "setup", "load")
    }  # fmt: skip


def untold(batch: Batch, entry: Entry, at: datetime) -> None:
    """Nothing counts any more that rests on how a station was left: what happened there since is not in the record.

    What was proved of a run's own pieces stands, and every clock.
    """
    why = "the batch was away, and nobody told it what happened at the station"
    for key in [key for key in batch.proofs if key[0] in ("probed", "tool loaded") or key[1] in ("setup", "shift")]:
        prove_again(batch, key, why, entry, at)
    for station in batch.checklist.stations:
        _take_down(batch, station.id, why)


def _take_down(batch: Batch, station: str, why: str) -> None:
    setup = batch.standing_setup(station)
    if setup is not None:
        # The runs under way keep the set-up they began with; its steps are to be done again.
        setup.marks.clear()
        if not any(run.station == station for run in batch.open_runs()):
            setup.stands, setup.why_not = False, why


@kind
def _setup_taken_down(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    station = body["station"]
    setup = batch.standing_setup(station)
    if setup is not None:
        setup.stands, setup.why_not = False, f"set up for {body['for']}"
    for key, proof in list(batch.proofs.items()):
        if proof.station == station and key[0] in ("probed", "tool loaded"):
            void(batch, key, f"station set up for {body['for']}", entry, at)


@kind
def _waived(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    run = open_run(batch, entry)
    batch.waivers[entry.seq] = Waiver(
        seq=entry.seq,
        run=run.number,
        op=run.op,
        line=body["line"],
        title=body["title"],
        by=entry.by,
        second=body.get("second", ""),
        reason=body["reason"],
        at=at,
        pieces=frozenset(run.pieces),
    )


@kind
def _waiver_closed(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    waiver = batch.waivers[body["waiver"]]
    need(entry, not waiver.closed, "the waiver is closed already")
    waiver.closed = f"{body['reason']} · {entry.by}"


@kind
def _paused(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    open_run(batch, entry).paused = body["reason"]


@kind
def _noted(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    if body.get("run"):
        run_of(batch, entry)


@kind
def _struck_out(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    need(entry, 0 < body["seq"] < entry.seq, "it strikes out what is not there")
    struck = next((one for one in batch.entries if one.seq == body["seq"]), None)
    if struck is None:
        return
    for run in batch.open_runs():
        if struck.kind == "proved":
            run.reopened |= serves(batch, run, tuple(struck.body["key"]))
        elif run.number in runs_in(struck.body) and "line" in struck.body:
            run.reopened.add(struck.body["line"])


@kind
def _unproved_settled(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    need(entry, 0 < body["strike"] < entry.seq, "it decides on what is not there")
    batch.settled[body["strike"]] = f"{body['how']} · {entry.by}: {body['reason']}"


@kind
def _clock_confirmed(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    batch.jumps = confirmed(batch.jumps, entry.seq)
    batch.clock_told = entry.seq
