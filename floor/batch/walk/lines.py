"""A line of a station walk, and the walk itself: what they hold and what heads them, however they came about."""

from __future__ import annotations

from typing import Literal

from floor.batch.gates.verdict import GateVerdict
from floor.batch.run import Run
from floor.checklist.gate_base import Phase
from floor.checklist.gates import Gate
from floor.checklist.model import Caution
from floor.checklist.operation import Do, Operation
from floor.dataclass import dataclass

LineKind = Literal["caution", "recheck", "do", "gate", "start", "end", "count", "release"]
LineState = Literal[
    "done", "skipped", "waived", "not needed", "not known", "now", "waits", "blocked", "reopened", "ahead"
]
LinePhase = Phase | Literal["close"]

RECHECK = "recheck"
"""Key of the line that asks to check again after an interruption."""

PHASE_TITLES: dict[LinePhase, str] = {
    "arrive": "On arrival",
    "setup": "Set-up",
    "load": "This load",
    "cycle": "While it runs",
    "after": "After the cycle",
    "close": "Count and release",
}


def find_phase_title(operation: Operation, phase: LinePhase) -> str:
    """The heading of a phase's lines; without a cycle no phase comes after it."""
    title = "Afterwards" if phase == "after" and not operation.cycle else PHASE_TITLES[phase]
    return f"{title}: do, then confirm" if phase in operation.do_confirm else title


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a walk."""

    key: str
    kind: LineKind
    phase: LinePhase
    title: str
    state: LineState
    step: Do | Gate | None = None
    cautions: tuple[tuple[str, Caution], ...] = ()
    """The cautions of the step: shown with it, and read before it."""
    evidence: str = ""
    verdict: GateVerdict | None = None
    again: tuple[str, ...] = ()
    """Of a check after an interruption: the keys of the lines to look at again."""

    @property
    def gate(self) -> Gate | None:
        """The gate to prove on this line; None on other lines, the caution read before a gate among them."""
        return self.step if self.kind == "gate" and not isinstance(self.step, Do) else None

    @property
    def is_step(self) -> bool:
        """Whether it is numbered; cautions and checks after an interruption stand before what is."""
        return self.kind not in ("caution", "recheck")

    @property
    def is_hold_point_ahead(self) -> bool:
        """Whether work will stop here until something is proved."""
        return self.kind == "gate" and self.state == "ahead"

    @property
    def is_satisfied(self) -> bool:
        return self.state in ("done", "skipped", "waived", "not needed", "not known")


@dataclass(frozen=True, slots=True)
class Walk:
    """All lines of a run, and the current one."""

    run: Run
    operation: Operation
    lines: tuple[Line, ...]
    place: int
    """Index of the current line; the number of lines when the run is released."""

    @property
    def current(self) -> Line | None:
        return self.lines[self.place] if self.place < len(self.lines) else None

    def line(self, key: str) -> Line | None:
        return next((line for line in self.lines if line.key == key), None)

    @property
    def gates(self) -> tuple[Line, ...]:
        """The prerequisites of the operation, for its head."""
        return tuple(line for line in self.lines if line.kind == "gate")

    @property
    def step(self) -> int:
        """The current step's number, from 1."""
        return min(sum(1 for line in self.lines[: self.place] if line.is_step) + 1, self.steps)

    @property
    def steps(self) -> int:
        return sum(1 for line in self.lines if line.is_step)


def describe_do_confirm(walked: Walk) -> str:
    """What is done before the first of several steps is confirmed, where their list is do-confirm (CBP-17)."""
    first = walked.current
    if first is None or first.kind != "do" or first.phase not in walked.operation.do_confirm:
        return ""
    found: list[str] = []
    for line in walked.lines[walked.place :]:
        if line.kind != "do" or line.phase != first.phase:
            break
        found.append(line.title)
    return f"Do all of these first, then confirm each: {'; '.join(found)}" if len(found) > 1 else ""
