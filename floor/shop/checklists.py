"""The checklists a batch can be opened from: the shop's own, and those shipped with the program."""

from __future__ import annotations

import os
from pathlib import Path

from floor.batch.state import Batch
from floor.checklist.loading import (
    Loaded,
    UnreadableFile,
    compute_checklist_digest,
    list_shipped_checklists,
    load_checklist,
    read_text,
)
from floor.dataclass import dataclass

OWN = "checklists"
"""The folder for the shop's own checklists, inside the shop's folder."""


@dataclass(frozen=True, slots=True)
class ChecklistFile:
    """A checklist file, read."""

    path: Path
    name: str
    """Path as recorded in a batch: ``checklists/NAME`` for the shop's own, ``NAME`` for a shipped one."""
    loaded: Loaded

    @property
    def own(self) -> bool:
        return self.name != self.path.name

    @property
    def digest(self) -> str:
        return compute_checklist_digest(self.loaded.text)


def list_checklists(folder: Path) -> list[ChecklistFile]:
    """All checklists of a shop folder, its own first; broken ones too, with their problems."""
    own = sorted((folder / OWN).glob("*.toml"))
    files = [(path, f"{OWN}/{path.name}") for path in own] + [(path, path.name) for path in list_shipped_checklists()]
    return [ChecklistFile(path, name, load_checklist(path)) for path, name in files]


def read_checklist_file(folder: Path, path: Path) -> ChecklistFile:
    """One file, wherever it lies, by the name that a batch opened from it would record."""
    own = path.resolve().parent == (folder / OWN).resolve()
    return ChecklistFile(path, f"{OWN}/{path.name}" if own else path.name, load_checklist(path))


def reread_checklist(one: ChecklistFile) -> ChecklistFile:
    return ChecklistFile(one.path, one.name, load_checklist(one.path))


def find_checklist_file(folder: Path, batch: Batch) -> Path | None:
    """The file a batch was opened from, if it still exists."""
    name = Path(batch.file).name
    files = [folder / OWN / name] if batch.file == f"{OWN}/{name}" else list_shipped_checklists()
    return next((path for path in files if path.name == name and path.is_file()), None)


def is_file_changed(batch: Batch, path: Path) -> bool:
    """Whether the file differs from the checklist frozen into the batch; line endings do not count.

    A file that is gone or unreadable does not count as changed; one that is not text, or too large, does.
    """
    try:
        return compute_checklist_digest(read_text(path)) != batch.digest
    except UnreadableFile:
        return path.is_file() and os.access(path, os.R_OK)


def describe_file_change(folder: Path, batch: Batch) -> str:
    """The sentence that the checklist has changed since the batch was opened; empty if it has not, or is gone."""
    path = find_checklist_file(folder, batch)
    if path is None or not is_file_changed(batch, path):
        return ""
    return f"{batch.file} has changed since; this batch keeps the checklist it was opened with"
