"""Putting a paper into the shop's folder: whole or not at all."""

from __future__ import annotations

import os
from pathlib import Path


def keep(shop: Path, name: str, text: str) -> Path:
    """Write a paper to ``papers/`` of the shop folder, replacing an older one of the same name; where it is now.

    Raises:
        OSError: the disk does not allow it; an older paper is untouched.
    """
    folder = shop / "papers"
    folder.mkdir(parents=True, exist_ok=True)
    path, draft = folder / name, folder / f".{name}.{os.getpid()}"
    try:
        with draft.open("w", encoding="utf-8", newline="") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        draft.replace(path)
    finally:
        draft.unlink(missing_ok=True)
    return path
