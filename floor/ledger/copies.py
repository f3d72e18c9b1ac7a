"""Copies of a record: their names, a list of them, and finishing a restore that was interrupted."""

from __future__ import annotations

import re
from pathlib import Path

from floor.ledger.files import Files

SHOP_JOURNAL = "shop"
"""The shop's own journal: its people and their pins."""
_COPY = re.compile(r"record-\d{8}T\d{6}Z(-\d+)?")


def list_copies(target: Path | str) -> list[Path]:
    """The copies in a folder, oldest first by the times in their names."""
    return sorted((path for path in Path(target).iterdir() if _COPY.fullmatch(path.name)), key=copy_age)


def finish_restoring(folder: Path, files: Files) -> None:
    """If the power failed between the last two renames of a restore, do the last one."""
    whole = make_name_beside(folder, "restored")
    if whole.exists() and not folder.exists():
        files.rename(whole, folder)
        files.sync_folder(folder.parent)


def make_name_beside(folder: Path, word: str) -> Path:
    """A name beside the record folder that no record uses."""
    return folder.with_name(f".{folder.name}.{word}")


def copy_age(copy: Path) -> tuple[str, int]:
    """Sort key of a copy: the time in its name, and its number among those of that time."""
    stamp, _, number = copy.name.partition("Z")
    return stamp, int(number.lstrip("-") or 1)
