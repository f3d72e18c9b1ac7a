"""Reads the file of an operation's program from the folder that its station names, and compares the two."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from floor.batch.command import Refused
from floor.batch.events import ProgramFinding, ProgramOffset
from floor.batch.gates.program_check import ReadProgram, find_accepted_program
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.checklist.equipment import Station
from floor.checklist.operation import Operation
from floor.dataclass import dataclass
from floor.shop.station_folders import find_folder, measure_file

if TYPE_CHECKING:
    from floor.evidence.nc.against_card import ExpectedProgram
    from floor.evidence.nc.dialect import Dialect

PIECE = 1 << 18
"""Bytes read at once."""


UNREAD = "file not read"
"""Kind of finding: the file is not there, or cannot be read."""


@dataclass(frozen=True, slots=True)
class ProgramReading:
    """A program's file to be read for a run: all that is taken from the batch, so that a thread may read it."""

    run: int
    line: str
    path: Path
    size: int
    """Bytes."""
    dialect: Dialect
    expected: ExpectedProgram

    def read(self, progress: Callable[[float], None] | None = None) -> ReadProgram:
        """Read the file and compare it with the operation; takes seconds for a large one.

        Args:
            progress: called with the share read; may raise to stop.

        Raises:
            Refused: it cannot be read.
        """
        from floor.evidence.nc.against_card import find_program_faults
        from floor.evidence.nc.reader import read_program

        size = max(self.size, 1)
        try:
            summary = read_program(
                lambda: iter_bytes(self.path),
                self.path.name,
                self.dialect,
                progress=None if progress is None else lambda done: progress(min(done / size, 1.0)),
                work=self.expected.work,
            )
        except OSError as error:
            raise _unreadable(self.path, error) from error
        return ReadProgram(
            run=self.run,
            line=self.line,
            file=self.path.name,
            sha256=summary.sha256,
            lines=summary.lines,
            seconds=summary.cycle_time.seconds,
            findings=tuple(
                ProgramFinding(kind=one.kind, line=one.line, subject=one.subject, values=one.values, count=one.count)
                for one in find_program_faults(summary, self.expected)
            ),
            untimed=bool(summary.cycle_time.untimed),
            offsets=tuple(ProgramOffset(offset=word.text, line=word.line) for word in summary.work_offsets),
            left_out=summary.findings_left_out,
        )


def prepare_reading(folder: Path, batch: Batch, run: Run, line: str) -> ProgramReading:
    """What is to be read for a line of a run; ``folder`` is the shop's.

    Raises:
        Refused: no such file.
    """
    from floor.checklist.control_settings import read_control
    from floor.checklist.expected_program import expect_program

    operation, station = batch.find_operation(run), batch.checklist.station(run.station)
    path = find_program_file(folder, station, operation)
    accepted = find_accepted_program(batch, run.setup)
    try:
        size = measure_file(path)
    except OSError as error:
        raise _unreadable(path, error) from error
    dialect, sha256 = read_control(station.control), accepted.sha256 if accepted is not None else ""
    expected = expect_program(batch.checklist, operation, dialect, sha256=sha256, station=run.station)
    # Which offsets it must move in is judged for each run of the set-up.
    return ProgramReading(run.number, line, path, size, dialect, replace(expected, carriers={}))


def find_program_file(folder: Path, station: Station, operation: Operation) -> Path:
    """Where the file is to lie.

    Raises:
        Refused: its folder is that of a user who is not known.
    """
    return find_folder(folder, station.program_folder) / operation.program_file


def has_program_changed(folder: Path, batch: Batch, run: Run, progress: Callable[[float], None] | None = None) -> bool:
    """Whether the file is another than the one last read for a run's set-up, or cannot be read as it could then.

    Args:
        progress: called with the share read; may raise to stop.
    """
    check = batch.programs.get(run.setup)
    operation = batch.find_operation(run)
    if check is None or not operation.program_file:
        return False
    path = find_program_file(folder, batch.checklist.station(run.station), operation)
    digest, done = hashlib.sha256(), 0
    try:
        size = max(measure_file(path), 1)
        for piece in iter_bytes(path):
            digest.update(piece)
            done += len(piece)
            if progress is not None:
                progress(min(done / size, 1.0))
    except OSError:
        return all(one.kind != UNREAD for one in check.faults)
    return digest.hexdigest() != check.sha256


def record_unread(batch: Batch, run: Run, line: str, why: str) -> ReadProgram:
    """The entry that the file could not be read: the gate is open again, and a lead may waive it."""
    file = batch.find_operation(run).program_file
    return ReadProgram(run.number, line, file, "", 0, 0.0, (ProgramFinding(kind=UNREAD, line=0, subject=why),))


def iter_bytes(path: Path) -> Iterator[bytes]:
    """The bytes of a file, piece by piece.

    Raises:
        OSError: it cannot be read.
    """
    with path.open("rb") as file:
        while piece := file.read(PIECE):
            yield piece


def _unreadable(path: Path, error: OSError) -> Refused:
    why = "is not there" if isinstance(error, FileNotFoundError) else f"cannot be read ({error.strerror or error})"
    return Refused("gate", f"{path.name} {why}", f"put it into {path.parent}, then press Enter")
