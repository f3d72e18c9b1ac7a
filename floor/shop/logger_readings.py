"""The file of a temperature logger as the readings of a soak."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import tzinfo
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from floor.batch.command import Refused
from floor.batch.gates.soak_outcome import Lack
from floor.batch.gates.soak_readings import LoggerReadings, WorkSpan, work_out_soak
from floor.checklist.equipment import Station
from floor.checklist.gate_forms import READINGS
from floor.checklist.gates import Gate, Soaked
from floor.dataclass import dataclass
from floor.shop.shop import Shop
from floor.shop.station_folders import FileField, find_folder
from floor.wall import get_zone

if TYPE_CHECKING:
    from floor.evidence.logger_file import LoggerFile

_FIELD = FileField(READINGS, "the readings", "Readings: ")
_NAMES_FILE = re.compile(r"[/\\~]|\.(csv|tsv|txt|log|dat)$", re.IGNORECASE)


def names_file(text: str) -> bool:
    """Whether a text is the name of a file, not readings."""
    return _NAMES_FILE.search(text.strip()) is not None


@dataclass(frozen=True, slots=True)
class LoggerReading:
    """A logger's file to be read: all that is taken from the shop, so that a thread may read it."""

    path: Path
    size: int
    """Bytes."""
    zone: tzinfo
    """Of the logger's clock."""
    gate: Gate | None = None
    span: WorkSpan | None = None
    """With the gate: what follows from the readings is worked out too."""

    def read(self, progress: Callable[[float], None] | None = None) -> LoggerReadings:
        """Read the file; takes seconds for a large one.

        Args:
            progress: called with the share read; may raise to stop.

        Raises:
            Refused: it cannot be read, or has no temperatures.
        """
        from floor.evidence.logger_file import MOST_BYTES, read_logger_file, to_soak_readings

        data = _FIELD.read_file(self.path, MOST_BYTES)
        found = read_logger_file(data, self.zone, progress=progress)
        channels = [one for one in found.channels if one.quantity.is_temperature]
        sensors = {one.name: to_soak_readings(one) for one in channels}
        if not any(one.readings for one in channels):
            raise _without_temperatures(self.path, found)
        read = LoggerReadings(
            file=self.path.name,
            sha256=hashlib.sha256(data).hexdigest(),
            sensors={name: [(one.at, one.temperature) for one in readings] for name, readings in sensors.items()},
            lacks=tuple(Lack(str(one.kind), one.channel, None, one.count) for one in found.findings),
        )
        if progress is not None:
            progress(1.0)
        return work_out_soak(self.gate, read, self.span) if isinstance(self.gate, Soaked) and self.span else read


class NamedFile(NamedTuple):
    """A file to be read, and the form field that names it."""

    field: str
    reading: LoggerReading


def find_named_file(
    shop: Shop, station: Station, gate: Gate, values: Mapping[str, Any], span: WorkSpan | None
) -> NamedFile | None:
    """The file that one of the values entered at a gate names; None if none does.

    Args:
        span: when the work was done that it is about; None if nobody knows.

    Raises:
        Refused: it cannot be read.
    """
    for ask in gate.asks():
        text = values.get(ask.name)
        if ask.kind == "readings" and isinstance(text, str) and names_file(text):
            return NamedFile(ask.name, replace(prepare_logger(shop, station, text), gate=gate, span=span))
    return None


def prepare_logger(shop: Shop, station: Station, text: str) -> LoggerReading:
    """What is to be read for a station. Only files in its folder are: no path leads out of it.

    Raises:
        Refused: no such file, or not in the folder.
    """
    path, size = _FIELD.find_file(find_folder(shop.folder, station.readings_folder), text)
    return LoggerReading(path, size, get_zone(shop.now().at))


def _without_temperatures(path: Path, found: LoggerFile) -> Refused:
    """Why a file gives no temperatures, and what would help."""
    from floor.evidence.logger_file import LONGEST_LINE, MOST_BYTES
    from floor.evidence.logger_findings import LoggerFindingKind as Kind

    kinds = {one.kind for one in found.findings}
    if Kind.TOO_LARGE in kinds:
        most = f"{MOST_BYTES >> 20} MB"
        return _FIELD.refuse(f"{path.name} is larger than {most}", "export only the hours of this cycle")
    if Kind.LINE_TOO_LONG in kinds:
        line = next(one.lines[0] for one in found.findings if one.kind is Kind.LINE_TOO_LONG)
        wrong = f"line {line} of {path.name} has more than {LONGEST_LINE:,} characters"
        return _FIELD.refuse(wrong, "export it again as CSV, or type the readings")
    if Kind.EMPTY in kinds:
        return _FIELD.refuse(f"{path.name} is empty", "export it again, or type the readings")
    if Kind.NOT_TEXT in kinds:
        return _FIELD.refuse(f"{path.name} is not text", "export it as CSV, or type the readings")
    right = "it needs dates, times and temperatures"
    if Kind.UNIT_UNKNOWN in kinds:
        right = "put degC or degF in the column heading"
    elif Kind.COLUMN_PASSED_OVER in kinds:
        right = "export the oven's sensors too; a set point or a voltage is no reading"
    return _FIELD.refuse(f"no temperatures in {path.name}", right)
