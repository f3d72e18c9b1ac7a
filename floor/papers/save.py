"""Save a paper in the shop's folder: all or nothing, and never over another one."""

from __future__ import annotations

import os
from collections.abc import Iterator
from datetime import datetime
from itertools import count
from pathlib import Path
from typing import TYPE_CHECKING

from floor.papers.tag_codes import CodeKind
from floor.papers.tags import TagLabel
from floor.wall import format_local

if TYPE_CHECKING:
    from floor.papers.catalog import PaperOffer

FILE_MODE, FOLDER_MODE = 0o640, 0o750
"""Like the record itself: for the shop's users and their group, not for everybody on the host."""


def make_file_name(stem: str, at: datetime, ending: str = "txt") -> str:
    """A paper's file name: what it is and when it was written, so a folder of them sorts by time."""
    return f"{stem}-{format_local(at, '%Y%m%d-%H%M')}.{ending}"


def save_offer(shop: Path, offer: PaperOffer, text: str, at: datetime) -> list[Path]:
    """Save a paper as written, and its charts beside it as SVG. Returns their paths, the paper's first.

    Raises:
        OSError: as `save_paper`.
    """
    path = save_paper(shop, make_file_name(offer.stem, at, offer.ending), text)
    charts = [(make_file_name(f"{offer.stem}-{one.stem}", at, "svg"), one.draw()) for one in offer.list_charts()]
    return [path, *(save_paper(shop, name, picture) for name, picture in charts)]


def save_tag(shop: Path, label: TagLabel, code: CodeKind = "qr") -> list[Path]:
    """Save the pictures of a tag, SVG and PNG, like papers; the same tag is the same file. Returns their paths.

    Raises:
        OSError: as `save_paper`.
        ValueError: its text is too long for bars.
    """
    stem = label.stem if code == "qr" else f"{label.stem}-bars"
    pictures: tuple[tuple[str, str | bytes], ...] = (("svg", label.draw_svg(code)), ("png", label.draw_png(code)))
    return [save_paper(shop, f"{stem}.{ending}", content) for ending, content in pictures]


def save_paper(shop: Path, name: str, content: str | bytes) -> Path:
    """Write a paper to ``papers/`` in the shop folder; returns its path.

    If the name exists with the same content, nothing is written; with a different one, the new name gets a number:
    ``-2``, ``-3``.

    Raises:
        OSError: the disk does not allow it; older papers are untouched.
    """
    folder = shop / "papers"
    folder.mkdir(mode=FOLDER_MODE, parents=True, exist_ok=True)
    draft = folder / f".{name}.{os.getpid()}"
    raw = content.encode() if isinstance(content, str) else content
    try:
        with open(os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_TRUNC | os.O_CLOEXEC, FILE_MODE), "wb") as file:
            file.write(raw)
            file.flush()
            os.fsync(file.fileno())
        return next(path for path in _names(folder / name) if _put(draft, path) or path.read_bytes() == raw)
    finally:
        draft.unlink(missing_ok=True)


def _names(path: Path) -> Iterator[Path]:
    yield path
    for number in count(2):
        yield path.with_stem(f"{path.stem}-{number}")


def _put(draft: Path, path: Path) -> bool:
    """Give the draft its name unless it is taken."""
    try:
        os.link(draft, path)
    except FileExistsError:
        return False
    except OSError:  # a file system without links
        if path.exists():
            return False
        draft.replace(path)
    return True
