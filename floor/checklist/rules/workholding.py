"""Workholding: proved, and fit for the cut."""

from __future__ import annotations

from collections.abc import Iterator

from floor.checklist.findings import Finding
from floor.checklist.gates import WorkHeld
from floor.checklist.line_numbers import Path
from floor.checklist.model import Checklist
from floor.checklist.operation import Operation
from floor.checklist.rules.warnings import is_cut
from floor.checklist.setup_gates import UNNAMED
from floor.text import with_article

WET = ("flood", "mist")


def _held(checklist: Checklist) -> Iterator[tuple[Path, Operation, WorkHeld]]:
    for i, operation in enumerate(checklist.operations):
        for j, step in enumerate(operation.steps):
            if isinstance(step, WorkHeld):
                yield ("operations", i, "steps", j), operation, step


def check_holding_proved(checklist: Checklist) -> Iterator[Finding]:
    for path, _, gate in _held(checklist):
        if gate.low is None and gate.high is None and not gate.second:
            right = "add `low` or `high` of a torque, pressure or pull that is read, or `second = true`"
            yield Finding(path, "nothing proves that it holds", right)


def check_holding_named(checklist: Checklist) -> Iterator[Finding]:
    for path, _, gate in _held(checklist):
        if (gate.low or gate.high) and gate.what == UNNAMED:
            right = "add `what`: torque, pressure, pull, indicator movement"
            yield Finding(path, "has limits, and nothing says of what", right)


def check_holding_coolant(checklist: Checklist) -> Iterator[Finding]:
    """Tape and glue soak up coolant and let go (common practice, no source)."""
    for path, operation, gate in _held(checklist):
        if operation.coolant in WET and not gate.holds_wet:
            wrong = f"the cut runs with {operation.coolant} coolant, and {gate.by} holds dry only"
            yield Finding(path, wrong, "cut dry or with air, or hold it another way")


def check_holding_through_cuts(checklist: Checklist) -> Iterator[Finding]:
    for path, operation, gate in _held(checklist):
        if operation.through and not gate.through:
            wrong = f"the tool goes through the work, and {gate.by} must not be cut"
            yield Finding(path, wrong, "leave a floor, or hold it another way")


def check_holding_load(checklist: Checklist) -> Iterator[Finding]:
    sizes = {carrier.id: carrier.capacity for carrier in checklist.carriers}
    for path, operation, gate in _held(checklist):
        size = sizes.get(operation.carrier, 0)
        if gate.pieces is not None and size > gate.pieces:
            wrong = f"a load has {size} pieces, and {gate.pieces} are held at once"
            yield Finding(path, wrong, "give the operation a smaller carrier, or fix `pieces`")


def check_holding_stated(checklist: Checklist) -> Iterator[Finding]:
    """A cut on what is clamped or bonded down has its hold-down proved (common practice, no source)."""
    carriers = {carrier.id: carrier for carrier in checklist.carriers}
    for i, operation in enumerate(checklist.operations):
        carrier = carriers.get(operation.carrier)
        held = any(isinstance(step, WorkHeld) for step in operation.steps)
        if carrier is not None and carrier.holds_fast and is_cut(checklist, operation) and not held:
            wrong = f"cuts on {with_article(carrier.kind)}, and no gate proves that the work is held"
            yield Finding(("operations", i), wrong, 'add a step with `gate = "work held"`')


RULES = (
    check_holding_proved,
    check_holding_named,
    check_holding_coolant,
    check_holding_through_cuts,
    check_holding_load,
)
ADVISED = (check_holding_stated,)
