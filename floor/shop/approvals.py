"""Which checklist of a part is approved for work: known by its content, so a file that changes is unapproved again.

Documents are approved before use, and the current revision is the one in use (ISO 9001:2015, 7.5.2 c and 7.5.3.1 a;
CBP-12 of the guidance followed). A lead approves; the file approved last for a part is the approved one.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import replace
from datetime import datetime

from floor.batch.command import Refused
from floor.batch.events import iter_events, make_drafts
from floor.batch.lifecycle.commands import OpenBatch, Opener
from floor.dataclass import dataclass
from floor.entry import Draft, Entry
from floor.shop.checklists import ChecklistFile
from floor.shop.events import ChecklistApproved
from floor.shop.shop_record import fold_part_number


@dataclass(frozen=True, slots=True)
class Approval:
    """The last one of a part."""

    digest: str
    revision: str
    by: str
    at: datetime


@dataclass(frozen=True, slots=True)
class Approvals:
    """What the leads of a shop approved, as its record has it."""

    of_parts: dict[str, Approval]
    """Number of a part, folded → its approval."""

    def find(self, part: str, digest: str) -> Approval | None:
        """The approval of a checklist with this content; None where its part has none, or one of another content."""
        found = self.of_parts.get(fold_part_number(part))
        return found if found is not None and found.digest == digest else None

    @property
    def are_used(self) -> bool:
        """Whether the shop approves checklists at all; until it does, nobody asks for an approval."""
        return bool(self.of_parts)


def list_approvals(entries: Iterable[Entry]) -> Approvals:
    """Those in the shop's own record."""
    found: dict[str, Approval] = {}
    for entry, event in iter_events(entries, ChecklistApproved):
        found[fold_part_number(event.part)] = Approval(event.digest, event.revision, entry.by, entry.time)
    return Approvals(found)


def judge_approval(approvals: Approvals, command: OpenBatch, *, approved_only: bool) -> OpenBatch:
    """The command with what is known of its checklist's approval."""
    found = approvals.find(command.checklist.part.number, command.digest)
    if found is not None:
        return replace(command, approved_by=found.by, unapproved="anybody")
    asks: Opener = "nobody" if approved_only else "a lead" if approvals.are_used else "anybody"
    return replace(command, approved_by="", unapproved=asks)


def draft_approval(approvals: Approvals, file: ChecklistFile, leads: Collection[str], by: str) -> list[Draft]:
    """Approve the content of a file as it was read.

    Raises:
        Refused: by nobody who may, of a file with errors, or approved already.
    """
    if by not in leads:
        raise Refused("authority", "approving a checklist needs a lead", f"ask {', '.join(sorted(leads))}")
    checklist = file.loaded.checklist
    if checklist is None:
        raise Refused("input", f"the file {file.path.name} has errors", "fix them first: floor check lists them")
    part = checklist.part
    known = approvals.find(part.number, file.digest)
    if known is not None:
        raise Refused("not now", f"{part.number} {part.revision} is approved already, by {known.by}", "open a batch")
    approved = ChecklistApproved(digest=file.digest, file=file.name, part=part.number, revision=part.revision)
    return make_drafts(approved)
