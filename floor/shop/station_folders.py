"""Folders for the files of machines, and the files in them that people name."""

from __future__ import annotations

import errno
import stat
from pathlib import Path
from typing import NamedTuple

from floor.batch.command import Refused
from floor.text import sanitize

LONGEST_NAME = 200
"""Characters of a file's name."""


class FileField(NamedTuple):
    """A form field that takes values, or the name of a file that holds them."""

    name: str
    values: str
    """What is typed otherwise: ``the readings``."""
    start: str = ""
    """What its refusals begin with."""

    def find_file(self, folder: Path, text: str) -> tuple[Path, int]:
        """The file of a folder that is named, and its bytes. No path leads out of the folder.

        Raises:
            Refused: no such file, or not in the folder.
        """
        name = Path(sanitize(text, LONGEST_NAME))
        if name.is_absolute() or ".." in name.parts or str(name).startswith("~"):
            raise self.refuse(f"only files in {folder} can be read", f"copy it there, then enter {name.name}")
        path = folder / name
        try:
            return path, measure_file(path)
        except OSError as error:
            raise self._refuse_unreadable(path, error) from error

    def read_file(self, path: Path, most: int) -> bytes:
        """Its bytes, of a larger file one more than ``most``.

        Raises:
            Refused: it cannot be read.
        """
        try:
            with path.open("rb") as file:
                return file.read(most + 1)
        except OSError as error:
            raise self._refuse_unreadable(path, error) from error

    def refuse(self, wrong: str, right: str) -> Refused:
        return Refused("input", f"{self.start}{wrong}", right, field=self.name)

    def _refuse_unreadable(self, path: Path, error: OSError) -> Refused:
        why = "is not there" if isinstance(error, FileNotFoundError) else f"cannot be read ({error.strerror or error})"
        return self.refuse(f"{path.name} {why}", f"put it in {path.parent}, or type {self.values}")


def find_folder(shop: Path, named: str) -> Path:
    """A folder named in a checklist: of this computer, of a user (``~``), or one in the shop's folder.

    Raises:
        Refused: there is no such user.
    """
    try:
        return shop / Path(named).expanduser()
    except RuntimeError as error:
        right = "name another folder in the checklist"
        raise Refused("gate", f"{named} names a user unknown on this computer", right) from error


def measure_file(path: Path) -> int:
    """Bytes of a file.

    Raises:
        OSError: it is not there, or is something that cannot be read to its end, as a pipe or a device.
    """
    found = path.stat()
    if not stat.S_ISREG(found.st_mode):
        raise OSError(errno.EINVAL, "it is not a file")
    return found.st_size
