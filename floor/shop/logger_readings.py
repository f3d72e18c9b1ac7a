"""The file of a temperature logger as the readings of a soak."""

from __future__ import annotations

import hashlib
import re
from datetime import UTC
from pathlib import Path
from typing import Any

from floor.batch.command import Refused
from floor.checklist.gates import READINGS
from floor.shop.shop import Shop

FOLDER = "readings"
"""Of the shop: where a file lies that is named without a folder."""
_NAMES_FILE = re.compile(r"[/\\]|\.(csv|tsv|txt|log|dat)$", re.IGNORECASE)


def names_file(text: str) -> bool:
    """Whether a text is the name of a file, not readings."""
    return _NAMES_FILE.search(text.strip()) is not None


def read_logger(shop: Shop, text: str) -> dict[str, Any]:
    """The readings of a logger's file, as `floor.batch.gates.soak_readings` takes them.

    Raises:
        Refused: there is no such file, it cannot be read, or has no temperatures.
    """
    from floor.evidence.logger_file import MOST_BYTES, LoggerFindingKind, read_logger_file, to_soak_readings

    path = shop.folder / FOLDER / Path(text.strip()).expanduser()
    try:
        with path.open("rb") as file:
            data = file.read(MOST_BYTES + 1)
    except OSError as error:
        why = "is not there" if isinstance(error, FileNotFoundError) else f"cannot be read ({error.strerror or error})"
        raise _refuse(f"{path.name} {why}", f"put it into {path.parent}, or type the readings") from error
    read = read_logger_file(data, shop.now().at.tzinfo or UTC)
    sensors = {
        channel.name: [(one.at, one.temperature) for one in to_soak_readings(channel)]
        for channel in read.channels
        if channel.quantity.is_temperature
    }
    if not any(sensors.values()):
        units = any(one.kind is LoggerFindingKind.UNIT_UNKNOWN for one in read.findings)
        right = "put degC or degF in the column heading" if units else "it needs a date, a time and a temperature"
        raise _refuse(f"no temperatures in {path.name}", right)
    return {
        "file": path.name,
        "sha256": hashlib.sha256(data).hexdigest(),
        "sensors": {name: readings for name, readings in sensors.items() if readings},
        "lacks": [[str(one.kind), one.channel, None, one.count] for one in read.findings],
    }


def _refuse(wrong: str, right: str) -> Refused:
    return Refused("input", f"Readings: {wrong}", right, field=READINGS)
