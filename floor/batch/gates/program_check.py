"""Record what was found when the program's file was read."""

from __future__ import annotations

from dataclasses import replace

from floor.batch import events
from floor.batch.command import Context, Refused, refuse_closed_batch, require_run, walk_of
from floor.batch.events import ProgramFinding, ProgramOffset, make_drafts
from floor.batch.gates.program_findings import sort_findings
from floor.batch.proof import ProgramCheck, SetupKey
from floor.batch.state import Batch
from floor.checklist.gates import ProgramLoaded
from floor.dataclass import dataclass
from floor.entry import Draft
from floor.text import sanitize

MOST_FINDINGS = 60
"""Findings of a program that are kept, its faults first; the others are counted."""


@dataclass(frozen=True, slots=True)
class ReadProgram:
    """Record what the program's file holds; whoever gives it has just read the file."""

    run: int
    line: str
    file: str
    sha256: str
    lines: int
    seconds: float
    findings: tuple[ProgramFinding, ...]
    untimed: bool = False
    offsets: tuple[ProgramOffset, ...] = ()
    left_out: int = 0

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        refuse_closed_batch(batch)
        run = require_run(batch, self.run)
        line = walk_of(batch, run, context).line(self.line)
        if line is None or not isinstance(line.gate, ProgramLoaded):
            raise Refused("unknown", f'no program is read at "{self.line}" in this run', "look at the walk again")
        over = run.ended is not None or run.count is not None
        if over or (run.running and self.line not in run.reopened):
            raise Refused("not now", f"{line.title}: the cycle has started with it", "read it before the next start")
        faults, notes = sort_findings(self.findings)
        found = [_clean(one) for one in (*faults, *notes)]
        return make_drafts(
            events.ProgramRead(
                run=run.number,
                op=run.op,
                line=self.line,
                file=sanitize(self.file),
                sha256=self.sha256,
                lines=self.lines,
                seconds=self.seconds,
                findings=tuple(found[:MOST_FINDINGS]),
                untimed=self.untimed,
                offsets=tuple(replace(one, offset=sanitize(one.offset, 20)) for one in self.offsets[:MOST_FINDINGS]),
                left_out=self.left_out + len(faults[MOST_FINDINGS:]),
            )
        )


def _clean(finding: ProgramFinding) -> ProgramFinding:
    """Words of the program, fit to be kept and shown."""
    values = tuple(sanitize(value, 80) if isinstance(value, str) else value for value in finding.values)
    return replace(finding, subject=sanitize(finding.subject, 80), values=values)


def find_accepted_program(batch: Batch, setup: int) -> ProgramCheck | None:
    """The program of a set-up whose first piece is accepted."""
    keys = (key for key in batch.proofs if isinstance(key, SetupKey))
    accepted = any((key.gate, key.setup) == ("first piece accepted", setup) for key in keys)
    return batch.programs.get(setup) if accepted else None
