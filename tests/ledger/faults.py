"""A file layer that fails when told to."""

from __future__ import annotations

import errno
import os
from pathlib import Path

from floor.ledger import Files

CHANGES = ("write", "sync", "rename", "resize", "sync_folder", "make_folder")


class FaultyFiles(Files):
    """Real files, whose `nth` change of the disk fails (and, if it lasts, every one after it, until `heal`).

    Args:
        nth: counted from 0; -1 for none.
        torn: of a write, half its bytes arrive before the error.
    """

    def __init__(self, nth: int = -1, error: int = errno.EIO, *, lasting: bool = False, torn: bool = False) -> None:
        self.done: list[str] = []
        self._nth, self._error, self._lasting, self._torn = nth, error, lasting, torn

    def heal(self) -> None:
        """No further failures."""
        self._nth = -1

    @property
    def failed(self) -> bool:
        """Whether the fault was met."""
        return 0 <= self._nth < len(self.done)

    def _meet(self, call: str) -> bool:
        place = len(self.done)
        self.done.append(call)
        return place == self._nth or self._lasting and 0 <= self._nth <= place

    def _change(self, call: str) -> None:
        if self._meet(call):
            raise OSError(self._error, os.strerror(self._error))

    def write(self, fd: int, data: bytes, offset: int) -> None:
        if self._meet("write"):
            if self._torn:
                super().write(fd, data[: len(data) // 2], offset)
            raise OSError(self._error, os.strerror(self._error))
        super().write(fd, data, offset)

    def sync(self, fd: int) -> None:
        self._change("sync")
        super().sync(fd)

    def resize(self, fd: int, size: int) -> None:
        self._change("resize")
        super().resize(fd, size)

    def rename(self, old: Path, new: Path) -> None:
        self._change("rename")
        super().rename(old, new)

    def make_folder(self, path: Path) -> None:
        self._change("make_folder")
        super().make_folder(path)

    def sync_folder(self, path: Path) -> None:
        self._change("sync_folder")
        super().sync_folder(path)
