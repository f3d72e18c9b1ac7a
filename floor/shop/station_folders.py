"""Folders that a station names for the files of its machines."""

from __future__ import annotations

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
