"""Folders that a station names for the files of its machines, and the files in them."""

from __future__ import annotations

import errno
import stat
from pathlib import Path

from floor.batch.command import Refused


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
