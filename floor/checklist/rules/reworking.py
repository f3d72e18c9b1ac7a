"""Rework paths: none skips an operation its pieces have not finished, and every rework-only operation is used."""

from __future__ import annotations

from collections.abc import Iterator

from floor.checklist.findings import Finding
from floor.checklist.gates import Cured
from floor.checklist.model import Checklist
from floor.checklist.rules.names import iterate_steps


def check_rework_order(checklist: Checklist) -> Iterator[Finding]:
    for i, rework in enumerate(checklist.reworks):
        at = ("reworks", i, "ops")
        if rework.ops and rework.ops[0] != rework.back_to:
            wrong = f"starts with op {rework.ops[0]}, but the rework goes back to op {rework.back_to}"
            yield Finding(at, wrong, f"put op {rework.back_to} first")
        elif list(rework.ops) != sorted(set(rework.ops)):
            yield Finding(at, "operations out of order", "name each once, in the order of the route")


def check_rework_complete(checklist: Checklist) -> Iterator[Finding]:
    """A piece has not finished the operation that found it, nor any after it, so its rework passes them."""
    for i, operation in enumerate(checklist.operations):
        for j, reason in enumerate(operation.reasons):
            rework = checklist.rework(reason.rework)
            if rework is None or not rework.ops or rework.back_to > operation.op or _unsound(checklist):
                continue
            due = [op for op in checklist.route if op >= _found(checklist, operation.op)]
            missed = [op for op in due if op not in checklist.list_way(rework.id)]
            if missed:
                wrong = f"rework {rework.id} leaves out op {missed[0]}, which a piece found here has not passed"
                right = f"add {missed[0]} to the `ops` of {rework.id}, or end them before it"
                yield Finding(("operations", i, "reasons", j, "rework"), wrong, right)


def _unsound(checklist: Checklist) -> bool:
    """Whether a rework names unknown operations, which is reported elsewhere."""
    return any(op not in checklist.ops for rework in checklist.reworks for op in (rework.back_to, *rework.ops))


def _found(checklist: Checklist, op: int) -> int:
    """Where pieces at an operation were found; in rework, at the latest operation that may send them there."""
    if not checklist.ops[op].rework_only:
        return op
    ways = [rework.id for rework in checklist.reworks if op in checklist.list_way(rework.id)]
    sending = [one.op for one in checklist.operations for reason in one.reasons if reason.rework in ways]
    return min((one for one in sending if not checklist.ops[one].rework_only), default=op)


def check_rework_only_operations(checklist: Checklist) -> Iterator[Finding]:
    """The route starts and ends with operations every piece passes; each rework-only one has a rework that passes
    it."""
    ends = {0, len(checklist.operations) - 1}
    for i, operation in enumerate(checklist.operations):
        if not operation.rework_only:
            continue
        at = ("operations", i, "rework_only")
        if i in ends:
            which = "first" if i == 0 else "last"
            yield Finding(at, f"the {which} operation cannot be for rework only", "put one there that all pieces pass")
        elif not any(operation.op in (rework.back_to, *rework.ops) for rework in checklist.reworks):
            yield Finding(at, f"no rework passes op {operation.op}", "name it in the `ops` of a rework")
        if operation.expected_yield != 1.0:
            right = "state it as the `expected_yield` of the rework"
            yield Finding(("operations", i, "expected_yield"), "a yield at an operation that only rework passes", right)


def check_rework_clocks(checklist: Checklist) -> Iterator[Finding]:
    """A clock started only in rework never opens a gate for other pieces."""
    for path, operation, step in iterate_steps(checklist):
        found = checklist.clock(step.clock) if isinstance(step, Cured) else None
        if found is not None and found[0].rework_only and not operation.rework_only and found[1].per == "piece":
            wrong = f"waits for a clock of op {found[0].op}, which only reworked pieces pass"
            yield Finding((*path, "clock"), wrong, "wait for it at an operation that is `rework_only` too")


def check_reason_shares(checklist: Checklist) -> Iterator[Finding]:
    for i, operation in enumerate(checklist.operations):
        shares = 0.0
        for j, reason in enumerate(operation.reasons):
            at = ("operations", i, "reasons", j, "share")
            shares += reason.share or 0.0
            if reason.share is not None and reason.to != "rework":
                right = '`share` goes only with `to = "rework"`; scrap is in `expected_yield`'
                yield Finding(at, f"a share of pieces sent to {reason.to}", right)
            elif reason.share is not None and operation.rework_only:
                yield Finding(at, "a share at an operation that only rework passes", "leave it out")
        if operation.expected_yield + shares > 1 + 1e-9:
            wrong = f"a yield of {operation.expected_yield:g} and {shares:g} to rework add up to more than 1"
            right = "`expected_yield` is the share that is good the first time, without rework"
            yield Finding(("operations", i), wrong, right)


def check_rework_windows(checklist: Checklist) -> Iterator[Finding]:
    """A window opened at an operation the rework skips may have closed when its pieces come back."""
    for path, operation, step in iterate_steps(checklist):
        if not isinstance(step, Cured) or step.once:
            continue
        found = checklist.clock(step.clock)
        if found is None or found[1].per == "batch" or found[0] is operation or found[1].windows[-1].latest is None:
            continue
        for rework in checklist.reworks:
            way = checklist.list_way(rework.id)
            sends = any(
                reason.rework == rework.id and one.op >= operation.op
                for one in checklist.operations
                for reason in one.reasons
            )
            if sends and operation.op in way and found[0].op not in way:
                wrong = (
                    f"rework {rework.id} comes back here without op {found[0].op}: "
                    f"the window of {step.clock} may have closed"
                )
                right = "`once = true` here if it need not be met again, or let the rework pass that operation"
                yield Finding(path, wrong, right)


def check_rework_gates(checklist: Checklist) -> Iterator[Finding]:
    """A rework through the oven that skips the wait for cooling would send hot pieces on."""
    waits: dict[str, list[int]] = {}
    for _, operation, step in iterate_steps(checklist):
        if isinstance(step, Cured):
            waits.setdefault(step.clock, []).append(operation.op)
    for i, rework in enumerate(checklist.reworks):
        way = checklist.list_way(rework.id)
        for op in rework.ops:
            for clock in checklist.ops[op].clocks if op in checklist.ops else ():
                at = waits.get(clock.id, [])
                if clock.per == "piece" and at and not any(one in way for one in at):
                    wrong = f"op {op} starts {clock.id}, and op {at[0]}, which waits for it, is left out"
                    right = f"add {at[0]}, or wait for it in an operation it passes"
                    yield Finding(("reworks", i, "ops"), wrong, right)


RELIED_ON = (check_rework_order, check_rework_complete, check_rework_only_operations, check_rework_clocks)

RULES = (*RELIED_ON, check_reason_shares)

ADVISED = (check_rework_windows, check_rework_gates)
