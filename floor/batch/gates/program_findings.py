"""What was found in a program's file: what blocks the gate, and the work offsets of a run's cycle."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from floor.batch.events import ProgramFinding
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.batch.walk.shared_cycles import find_runs_in_cycle
from floor.checklist.gates import Probed
from floor.evidence.nc.finding_kinds import NOTES, rank
from floor.text import sanitize

if TYPE_CHECKING:
    from floor.evidence.nc.units import Units

HARMLESS = NOTES | {"file changed"}
"""Findings that block no gate; after a change the first piece is asked again.

Entries keep findings, not this judgment, so today's rules hold for old entries too.
"""


def sort_findings(
    findings: Iterable[ProgramFinding],
) -> tuple[tuple[ProgramFinding, ...], tuple[ProgramFinding, ...]]:
    """Those that block the gate, and the others."""
    given = tuple(findings)
    return (
        tuple(one for one in given if one.kind not in HARMLESS),
        tuple(one for one in given if one.kind in HARMLESS),
    )


def list_program_faults(batch: Batch, run: Run) -> tuple[ProgramFinding, ...]:
    """What blocks the gate of a run: the faults of its set-up's program, and its work offsets that are not the cycle's.

    The file is read once for a set-up; which carriers it must suit changes from run to run.
    """
    check = batch.programs.get(run.setup)
    if check is None:
        return ()
    return tuple(sorted((*check.faults, *_find_offset_faults(batch, run)), key=lambda one: rank(one.kind, one.line)))


def count_program_faults(batch: Batch, run: Run) -> int:
    """How many there are, with those that were left out of the record."""
    check = batch.programs.get(run.setup)
    return len(list_program_faults(batch, run)) + (check.left_out if check is not None else 0)


def _find_offset_faults(batch: Batch, run: Run) -> list[ProgramFinding]:
    from floor.evidence.nc.offsets_against_card import find_offset_faults
    from floor.evidence.nc.summary import Word

    check, cycle = batch.programs[run.setup], find_runs_in_cycle(batch, run)
    carriers = {
        step.offset: batch.format_carrier(batch.loads[one.load])
        for one in cycle
        for step in batch.find_operation(one).steps
        if isinstance(step, Probed) and step.offset
    }
    used = [Word(one.offset, one.line) for one in check.offsets]
    return [
        ProgramFinding(kind=one.kind, line=one.line, subject=one.subject, values=one.values)
        for one in find_offset_faults(used, carriers, each=len(cycle) > 1)
    ]


def describe_program_finding(batch: Batch, finding: ProgramFinding) -> str:
    """``line 14: work offset G55, the card says G54``."""
    from floor.evidence.nc.describe import describe_finding
    from floor.evidence.nc.finding_kinds import Finding

    units: Units = "inch" if batch.checklist.part.units == "inch" else "mm"
    one = Finding(finding.kind, finding.line, finding.subject, finding.values, finding.count)  # type: ignore[arg-type]
    try:
        said = describe_finding(one, units)
    except (LookupError, TypeError, ValueError):  # from a newer program, or damaged: never a reason not to show it
        said = " ".join(filter(None, (sanitize(finding.kind, 40), finding.subject)))
    more = f" (on {finding.count} lines)" if finding.count > 1 else ""
    return f"line {finding.line}: {said}{more}" if finding.line else f"{said}{more}"
