"""Before a load takes its next station: the run that would start, and arrival gates that cannot be met now.

A load takes a station only if it can go on there, unless somebody insists, on record.
"""

from __future__ import annotations

from floor.batch.gates.judge import judge_gate
from floor.batch.gates.verdict import GateVerdict
from floor.batch.load import Load
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.batch.walk.shared_cycles import find_cycle_to_join
from floor.checklist.gates import Gate
from floor.checklist.operation import Do
from floor.dataclass import dataclass
from floor.entry import Moment


@dataclass(frozen=True, slots=True)
class Arrival:
    """A gate asked on arrival, and how it stands before the start."""

    gate: Gate
    verdict: GateVerdict

    @property
    def unmet(self) -> bool:
        """Whether it cannot be met at the station now; a gate that only needs an entry can."""
        return self.verdict.status in ("wait", "blocked")

    @property
    def sentence(self) -> str:
        return f"{self.gate.title()}: {self.verdict.why}"


def find_next_run(batch: Batch, load: Load, now: Moment, by: str = "", station: str = "") -> Run:
    """The run that would start with the load's next operation, at this station or the one set up for it."""
    assert load.at is not None, "a load past its leg starts nothing"
    station = station or batch.list_stations_for(load.at)[0]
    standing = batch.find_setup(station)
    mine = standing is not None and standing.op == load.at
    number = max(batch.runs, default=0) + 1
    return Run(
        number=number,
        load=load.number,
        op=load.at,
        station=station,
        setup=standing.number if mine and standing else max(batch.setups, default=0) + 1,
        pieces=batch.find_next_pieces(load),
        begun=now.at,
        by=by,
        seq=batch.seq + 1,
        rework=find_own_rework(batch, load),
        cycle=find_cycle_to_join(batch, load, number, station),
    )


def find_own_rework(batch: Batch, load: Load) -> str:
    """The rework route whose own steps belong to the load's next run."""
    route = batch.find_rework(load)
    return route.id if route is not None and route.back_to == load.at else ""


def judge_arrival_gates(batch: Batch, load: Load, now: Moment, station: str = "") -> list[Arrival]:
    """The arrival gates of the load's next operation, as they would be judged."""
    run = find_next_run(batch, load, now, station=station)
    return [
        Arrival(step, judge_gate(batch, run, key, step, now))
        for key, step in batch.operation(run.op).numbered_steps
        if step.at == "arrive" and not isinstance(step, Do)
    ]


def list_unmet_arrival_gates(batch: Batch, load: Load, now: Moment, station: str = "") -> list[Arrival]:
    """The arrival gates of the load's next operation that nobody can meet now."""
    return [one for one in judge_arrival_gates(batch, load, now, station) if one.unmet]
