"""A cycle stopped before its end, and what that voids; `commands` and `fold` resume it or start it again."""

from __future__ import annotations

from datetime import datetime

from floor.batch import events
from floor.batch.command import Context, Refused, refuse_closed_batch, require_run
from floor.batch.events import make_drafts
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.batch.stations.commands import Disturb
from floor.batch.walk.clocks import convert_to_present_clock
from floor.batch.walk.shared_cycles import find_open_runs_in_cycle
from floor.checklist.gate_base import Disturbance
from floor.dataclass import dataclass
from floor.entry import Draft
from floor.text import format_clock, sanitize

STOPS: dict[str, str] = {
    "tool broke": "a tool broke",
    "crash": "crash (collision)",
    "power lost": "power failure",
    "alarm": "the control stopped with an alarm",
    "stopped": "stopped by the operator",
}
"""Why a cycle stops before its end."""


@dataclass(frozen=True, slots=True)
class StopCycle:
    """Report that a run's cycle stopped: why, and when if not now.

    A broken tool must be loaded again; after a crash the zero must be proved again, and the tool if named; after a
    power loss, whatever that voids. The walk goes back to what is void, then to the start of the cycle.
    """

    run: int
    why: str
    at: datetime | None = None
    """When it stopped, aware; None for now."""
    tool: int | None = None
    note: str = ""

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        refuse_closed_batch(batch)
        run = require_run(batch, self.run)
        if not run.running:
            raise Refused("not now", f"no cycle of load {run.load} is running", "look at the walk again")
        if self.why not in STOPS:
            raise Refused("input", f'"{sanitize(self.why, 40)}" is not known', f"one of: {', '.join(STOPS)}")
        now = context.now
        at = self.at or now.at
        began = convert_to_present_clock(batch, run.resumed_at or run.started or now.at, run.started_seq, now)
        if not began <= at <= now.at:
            wrong = f"it ran from {format_clock(began, now.at)} to {format_clock(now.at, now.at)} at the most"
            raise Refused("input", wrong, "enter when it stopped", field="at")
        if self.why == "tool broke" and self.tool is None:
            raise Refused("input", "which tool broke?", "choose it", field="tool")
        drafts = make_drafts(
            events.CycleStopped(
                run=run.number,
                op=run.op,
                why=self.why,
                tool=self.tool,
                note=sanitize(self.note),
                ago=round((now.at - at).total_seconds(), 3),
                along=tuple(one.number for one in find_open_runs_in_cycle(batch, run)),
            )
        )
        for disturbance in self.list_disturbances(run):
            drafts += disturbance.decide(batch, context)
        return drafts

    def list_disturbances(self, run: Run) -> list[Disturb]:
        """The disturbances it causes at the station, for this batch and others."""
        found: list[Disturbance] = []
        if self.why == "crash":
            found.append("rezeroed")
        if self.why == "power lost":
            found.append("power lost")
        void = [Disturb(run.station, what, note=STOPS[self.why]) for what in found]
        if self.tool is not None and self.why in ("tool broke", "crash"):
            void.append(Disturb(run.station, "tool changed", tool=self.tool, note=STOPS[self.why]))
        return void
