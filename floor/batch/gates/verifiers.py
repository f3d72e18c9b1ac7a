"""Who may verify: never a person who performed the work."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import timedelta
from typing import Any

from floor.batch.command import Context, Refused
from floor.batch.events import EnteredLate, HandoverAccepted, Proved, Waived, read_event
from floor.batch.gates.proof_keys import find_proof_key
from floor.batch.proof import SetupKey
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.checklist.gates import FirstPiece, Signed, WorkHeld
from floor.entry import Draft
from floor.text import format_span, sanitize


def find_performers(batch: Batch, run: Run, line: str, gate: Signed | FirstPiece | WorkHeld) -> frozenset[str]:
    """Who began the run, and who recorded the steps, cycle and proofs that a signature covers.

    A signature for the whole set-up also covers set-up steps done in an earlier run. Reading a caution or verifying
    something else is no work.
    """
    marks = dict(run.marks)
    if isinstance(find_proof_key(batch, run, line, gate), SetupKey):
        marks |= batch.setups[run.setup].marks
    verified = {key for key, step in batch.find_operation(run).numbered_steps if isinstance(step, Signed | FirstPiece)}
    found = {mark.by for key, mark in marks.items() if key not in verified and not key.startswith("caution ")}
    return frozenset(found | {run.by, run.started_by, run.ended_by} - {""})


def check_verifier(
    batch: Batch, run: Run, line: str, gate: Signed | FirstPiece | WorkHeld, given: str, context: Context
) -> dict[str, Any]:
    """The signer as recorded, with ``self`` for a self-check.

    Raises:
        Refused: unknown, performed the work, or checks their own work too soon; names who may sign.
    """
    person = sanitize(given).upper()
    if isinstance(gate, FirstPiece) and not gate.independent:
        return {"person": context.need_known(person, "person")}
    did = find_performers(batch, run, line, gate)
    if person == context.by.initials and person in did and gate.self_after is not None:
        ready = (run.touched or run.begun) + timedelta(seconds=gate.self_after.base)
        if context.now.at < ready:
            left = format_span((ready - context.now.at).total_seconds())
            wrong = f"a self-check comes after a pause, {left} more"
            raise Refused("authority", wrong, "or ask a second person", field="person")
        return {"person": person, "self": True}
    if not person:
        wrong = f"{gate.title()} needs a second person"
        raise Refused("authority", wrong, "have them enter their initials", field="person")
    if person in did:
        raise Refused(
            "authority",
            f"{gate.title()}: {person} performed it (started it, or recorded its steps, cycle or proofs) "
            "and cannot verify it",
            _who_may(context, did),
            field="person",
        )
    return {"person": context.need_known(person, "person")}


def list_signatures(batch: Batch | None, drafts: Iterable[Draft], by: str) -> set[str]:
    """Everybody who signs in these entries: others than who enters them, and they too as a second person.

    Args:
        batch: as it was before; None where they open it.
    """
    found = set()
    for draft in drafts:
        found.add(draft.body.get("seen_by", ""))
        match read_event(draft):
            case Proved(values=values) as proved:
                person = str(values.get("person", ""))
                found |= {person} if person != by or (batch is not None and _signs_second(batch, proved)) else set()
            case Waived(second=second) | HandoverAccepted(supervisor=second):
                found.add(second)
            case EnteredLate(proofs=proofs):
                found |= {str(proof.values.get("person", "")) for proof in proofs}
    return found - {""}


def _signs_second(batch: Batch, proved: Proved) -> bool:
    """Whether it is a second person's signature; a self-check, or one's own first piece, is none."""
    gate = batch.find_operation(batch.runs[proved.run]).gate(proved.line)
    return not proved.values.get("self") and (not isinstance(gate, FirstPiece) or gate.independent)


def _who_may(context: Context, did: frozenset[str]) -> str:
    may = sorted(context.people - did)
    if may:
        return f"{', '.join(may)} may sign"
    return (
        "someone else signs" if not context.people else "nobody else is in the people list: add them (c on What next)"
    )
