"""The text of a logger's file as lines and cells: encodings, separators, numbers, units."""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence
from enum import StrEnum

from floor.evidence.encoding import decode_narrow, find_encoding, is_text
from floor.figures.temperature import SCALES

SEPARATORS = (";", "\t", ",", "|")
_LINE_END = re.compile("\r\n|\n|\r")


class Quantity(StrEnum):
    """What a column holds, before conversion to °C."""

    CELSIUS = "degC"
    FAHRENHEIT = "degF"
    KELVIN = "kelvin"
    HUMIDITY = "percent"
    """Relative humidity."""
    OTHER = "other"
    """A voltage, pressure and the like: skipped."""

    @property
    def is_temperature(self) -> bool:
        return self in (Quantity.CELSIUS, Quantity.FAHRENHEIT, Quantity.KELVIN)

    def convert(self, number: float) -> float:
        """A value in °C; unchanged if it is not a temperature."""
        return SCALES[self].to_celsius(number) if self.is_temperature else number


def decode(data: bytes) -> tuple[str, bool] | None:
    """The text of a file, and whether its encoding is certain; None if it is not text.

    By `find_encoding`; else UTF-8 if it is valid, or one byte per character.
    """
    encoding = find_encoding(data)
    if not encoding.is_wide:
        return _check(*decode_narrow(data[len(encoding.mark) :]))
    text = data[len(encoding.mark) :].decode(encoding.name, errors="replace")
    return _check(text, bool(encoding.mark) and "\ufffd" not in text)


def _check(text: str, certain: bool) -> tuple[str, bool] | None:
    return (text, certain) if is_text(text) else None


def split_lines(text: str) -> list[str]:
    """Lines end at CR, LF or both, and at nothing else Python takes for a line end."""
    return _LINE_END.split(text)


def split_cells(line: str, separator: str) -> list[str]:
    """The cells of a line, without quotes; an unclosed quote ends with its line."""
    if '"' not in line:
        return [cell.strip() for cell in line.split(separator)]
    try:
        return [cell.strip() for cell in next(csv.reader([line], delimiter=separator), [])]
    except csv.Error:  # a cell longer than the csv reader accepts
        return [cell.strip(' "') for cell in line.split(separator)]


_NUMBER = r"[+-]?(?:\d+(?:MARK\d*)?|MARK\d+)(?:[eE][+-]?\d{1,3})?"
_UNIT = r"(?P<unit>[°º]? ?(?:[CFK]|deg ?[CFK])|%(?: ?[rR][hH])?)?"
_VALUES = {
    mark: re.compile(rf"(?P<number>{_NUMBER.replace('MARK', re.escape(mark))}) ?{_UNIT}", re.ASCII) for mark in ".,"
}
NOTHING = frozenset({"", "n/a", "na", "null", "none"})
"""Cells, in lower case, that mean the sensor was not read then. Anything else without a number, such as OL, NaN or
dashes, means that it was, and shows nothing: over its range, or broken."""


def read_value(cell: str, mark: str) -> tuple[float, Quantity | None] | None:
    """A number by its decimal mark, and the unit in the cell itself; None if it is not a number."""
    found = _VALUES[mark].fullmatch(cell)
    if found is None:
        return None
    unit = found["unit"]
    quantity = None
    if unit:
        quantity = Quantity.HUMIDITY if "%" in unit else _LETTERS[unit[-1]]
    return float(found["number"].replace(",", ".")), quantity


_LETTERS = {"C": Quantity.CELSIUS, "F": Quantity.FAHRENHEIT, "K": Quantity.KELVIN}
_NAMED_UNIT = re.compile(
    r"[°º?\ufffd] ?(?P<a>[CFK])\b|\bdeg(?:rees?)?[ ._]*(?P<b>[CFK])\b|[\[(] ?(?P<c>[CFK]) ?[\])]"
    r"|temp(?:erature)?[ ._,:-]*(?P<d>[CFK])$|units?\W{0,4}(?P<f>[CFK])$|\b(?P<e>celsius|fahrenheit|kelvin)\b",
    re.IGNORECASE | re.ASCII,
)
_HUMIDITY = re.compile(r"%|\brh\b|humid", re.IGNORECASE)
_OTHER_UNIT = re.compile(
    r"[\[(] ?(?:m?V|m?A|[hk]?Pa|mbar|bar|psi|lux|ppm|V ?DC|s|sec|min|h)\.? ?[\])]|volt|batt", re.IGNORECASE
)
_SET_POINT = re.compile(
    r"\bset[ _-]?(?:point|value|temp\w*)s?\b|\bset ?pt\b|\bS[PV]\b|\bsoll(?:wert|temp\w*)?\b"
    r"|\btarget(?: temp\w*)?(?=\W*(?:$|[CFK]\b|deg))",
    re.IGNORECASE,
)
_COUNTER = re.compile(
    r"#|(?:no|nr|num|number|index|id|idx|seq)\.?|(?:record|rec|sample|line|row|scan)(?: ?(?:no\.?|number|#|id))?",
    re.IGNORECASE,
)


def find_quantity(header: str) -> Quantity | None:
    """What a column holds by its header; None if the header names no unit."""
    header = header.strip()
    found = _NAMED_UNIT.search(header)
    if found:
        return _LETTERS[next(filter(None, found.groups()))[0].upper()]
    if _OTHER_UNIT.search(header) or _COUNTER.fullmatch(header):
        return Quantity.OTHER
    return Quantity.HUMIDITY if _HUMIDITY.search(header) else None


def is_set_point(header: str) -> bool:
    """Whether a column holds what a controller is set to, which no sensor measured (common practice, no source)."""
    return _SET_POINT.search(header) is not None


def is_unit_row(cells: Sequence[str]) -> bool:
    """Whether the cells of a line are units only, as found below column names."""
    known = [cell for cell in cells if cell]
    return bool(known) and all(len(cell) <= 5 and find_quantity(cell) is not None for cell in known)


def find_stated_unit(lines: Sequence[str]) -> Quantity | None:
    """The unit of temperature stated above the columns, if the lines agree."""
    found = {find_quantity(line.strip(' ",;\t')) for line in lines}
    stated = [quantity for quantity in found if quantity is not None and quantity.is_temperature]
    return stated[0] if len(stated) == 1 else None
