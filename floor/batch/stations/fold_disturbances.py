"""Folding of what happens at a station and voids what was proved there."""

from __future__ import annotations

from datetime import datetime

from floor.batch.events import (
    Disturbed,
    SetupTakenDown,
)
from floor.batch.fold_registry import handles, prove_again, void_proof
from floor.batch.gates.lapse_causes import DISTURBANCES, find_lapse_causes, find_lapse_causes_of_key
from floor.batch.gates.offset_users import is_offset_set_anew
from floor.batch.gates.proof_keys import find_proof_key
from floor.batch.proof import OffsetKey, ProofKey, SetupKey, ShiftKey, StationShiftKey, ToolKey
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.batch.walk.fold_lapses import void_steps
from floor.batch.walk.fold_stop import stop
from floor.checklist.gate_base import Disturbance
from floor.checklist.operation import BEFORE_CYCLE, Do
from floor.entry import Entry

OF_MANY_RUNS = (SetupKey, ShiftKey, StationShiftKey)
"""Proofs that serve more than one load."""


@handles(Disturbed)
def _disturbed(batch: Batch, entry: Entry, event: Disturbed, at: datetime) -> None:
    what, station = event.what, event.station
    batch.left_otherwise[station] = entry.seq
    for key in [key for key in batch.proofs if _is_voided(batch, key, event)]:
        prove_again(batch, key, DISTURBANCES[what], entry, at)
    _void_steps_there(batch, entry, event, at)
    for running in [run for run in batch.list_open_runs() if run.station == station and run.running]:
        if running.late:
            running.reopened |= _never_proved(batch, running, what)
        if what == "power lost":
            stop(batch, running, what, at, entry)
    if what == "tool changed":
        batch.tools.pop((station, event.tool or 0), None)
    if what == "refixtured":
        _take_down(batch, station, DISTURBANCES["refixtured"])


def _void_steps_there(batch: Batch, entry: Entry, event: Disturbed, at: datetime) -> None:
    for run in batch.list_open_runs():
        if run.station == event.station and (event.what != "lifted" or run.load == event.load):
            void_steps(batch, run, event.what, DISTURBANCES[event.what], entry, at)


def _is_voided(batch: Batch, key: ProofKey, event: Disturbed) -> bool:
    """Whether what happened at a station voids a proof."""
    what, proof = event.what, batch.proofs[key]
    if proof.station != event.station or what not in find_lapse_causes_of_key(batch, key):
        return False
    if what == "lifted" and (proof.load != event.load or isinstance(key, OF_MANY_RUNS)):
        return False
    if what == "tool changed" and isinstance(key, ToolKey) and key.tool != event.tool:
        return False
    return not event.offset or is_offset_set_anew(batch, key, event.station, event.offset)


def _never_proved(batch: Batch, run: Run, what: Disturbance) -> set[str]:
    """Gates of a run entered late that may or may not have been proved, and that this would void."""
    return {
        line
        for line, step in batch.find_operation(run).numbered_steps
        if not isinstance(step, Do)
        and what in find_lapse_causes(batch, step)
        and find_proof_key(batch, run, line, step) not in batch.proofs
        and step.at in BEFORE_CYCLE
    }


def void_after_unrecorded_work(batch: Batch, entry: Entry, at: datetime) -> None:
    """Void everything that rests on how a station was left: what happened there since is not on record.

    What was proved of a run's own pieces stands, and every clock.
    """
    why = "the batch was away, and nobody told it what happened at the station"
    for key in [key for key in batch.proofs if isinstance(key, (OffsetKey, ToolKey, *OF_MANY_RUNS))]:
        prove_again(batch, key, why, entry, at)
    for station in batch.checklist.stations:
        batch.left_otherwise[station.id] = entry.seq
        _take_down(batch, station.id, why)


def _take_down(batch: Batch, station: str, why: str) -> None:
    setup = batch.find_setup(station)
    if setup is not None:
        # Runs under way keep their set-up; its steps must be done again.
        setup.marks.clear()
        if not any(run.station == station for run in batch.list_open_runs()):
            setup.stands, setup.why_not = False, why


@handles(SetupTakenDown)
def _setup_taken_down(batch: Batch, entry: Entry, event: SetupTakenDown, at: datetime) -> None:
    station = event.station
    batch.left_otherwise[station] = entry.seq
    setup = batch.find_setup(station)
    if setup is not None:
        setup.stands, setup.why_not = False, f"set up for {event.other}"
    for key, proof in list(batch.proofs.items()):
        if proof.station == station and isinstance(key, OffsetKey | ToolKey):
            void_proof(batch, key, f"station set up for {event.other}", entry, at)
