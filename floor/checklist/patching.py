"""Single values of a checklist file changed in its text, or steps put into it: only their lines are touched, and of
these only the value.

Comments and layout stay, and every other line is the same byte for byte.
"""

from __future__ import annotations

import re
import tomllib
from collections import defaultdict
from collections.abc import Sequence
from typing import Any, Literal, NamedTuple

from floor.checklist.line_numbers import Path, map_lines
from floor.checklist.operation import Operation

Value = str | float | int
STEPS = "steps"
"""With a text behind it, the keys of a step to do; one that is not there yet is put before the others."""
_OPEN_LIST = re.compile(r"\s*steps\s*=\s*\[\s*(#.*)?")


class Field(NamedTuple):
    """Where a value stands, by the number of its table: a file may have gained or lost others since."""

    table: Literal["operations", "tools"]
    number: int
    keys: tuple[str, ...]

    def __str__(self) -> str:
        """``op 30 time.before``, ``tool 3 life``, ``op 30 step "Dry for 10 min"``."""
        if self.keys[0] == STEPS:
            return f'{_TABLES[self.table].word} {self.number} step "{self.keys[1]}"'
        return f"{_TABLES[self.table].word} {self.number} {'.'.join(self.keys)}"


class Change(NamedTuple):
    """One value for another."""

    field: Field
    before: Value | None
    """What must hold now: as the file says, or as it is where nothing is said; None of a step that is not there."""
    after: Value


class LineChange(NamedTuple):
    """A line that is replaced, or one behind which others are put."""

    line: int
    """From 1, in the text before."""
    before: tuple[str, ...]
    """Empty where others are put behind it."""
    after: tuple[str, ...]


class Unpatchable(Exception):
    """What in the file keeps the change from being made, and what to do."""

    def __init__(self, wrong: str, remedy: str) -> None:
        super().__init__(f"{wrong}; {remedy}")
        self.wrong, self.remedy = wrong, remedy


class _Table(NamedTuple):
    word: str
    number: str
    """The field that tells its tables apart."""
    after: tuple[str, ...]
    """Fields behind which a new one is put, the first one that is there."""


_TABLES = {
    "operations": _Table("op", "op", ("expected_yield", "carrier")),
    "tools": _Table("tool", "number", ("station",)),
}
LOOK_AGAIN = "look at the lessons again"
IN_AN_EDITOR = "change it in an editor, then floor check"


class ChecklistText:
    """The text of a checklist, taken apart once to change values in it.

    Raises:
        Unpatchable: it is no TOML.
    """

    def __init__(self, text: str) -> None:
        self.text = text
        self.data = _parse(text)
        self.lines = map_lines(text)
        self.rows = text.split("\n")  # not splitlines: it cuts inside comments

    def list_line_changes(self, changes: Sequence[Change]) -> list[LineChange]:
        """The lines that these changes touch, in their order.

        Raises:
            Unpatchable: it says something else there than expected, or cannot be changed in place.
        """
        rows: dict[int, str] = {}
        new: dict[int, list[str]] = defaultdict(list)
        for change in changes:
            field, said = change.field, self._read(change.field)
            now = _find_default(field) if said is None else said.strip() if isinstance(said, str) else said
            if now != change.before:
                wrong = f"{field} is {format_value(now)} there now, not {format_value(change.before)}"
                raise Unpatchable(wrong, LOOK_AGAIN)
            if said is None and field.keys[0] == STEPS:
                line = self._find_list(field)
                new[line].append(f"{self._find_indent(line + 1) or '  '}{{ do = {_quote(str(change.after))} }},")
            elif said is None:
                line = self._find_anchor(field)
                new[line].append(f"{self._find_indent(line)}{field.keys[-1]} = {change.after}")
            else:
                line = self.lines[self._place(field)]
                rows[line] = _change_row(rows.get(line, self.rows[line - 1].rstrip("\r")), change)
        return [
            LineChange(
                line,
                (self.rows[line - 1].rstrip("\r"),) if line in rows else (),
                (*([rows[line]] if line in rows else []), *new.get(line, ())),
            )
            for line in sorted(rows.keys() | new.keys())
        ]

    def patch(self, changes: Sequence[Change]) -> str:
        """The text with these values in it. Raises as `list_line_changes`."""
        rows = list(self.rows)
        for line, before, after in reversed(self.list_line_changes(changes)):
            end = "\r" if rows[line - 1].endswith("\r") else ""
            rows[line - bool(before) : line] = [f"{row}{end}" for row in after]
        found, wanted = "\n".join(rows), _parse(self.text)
        for change in changes:
            table = wanted[change.field.table][self._find_index(change.field)]
            if change.field.keys[0] == STEPS:
                table[STEPS].insert(0, {"do": change.after})
                continue
            for key in change.field.keys[:-1]:
                table = table[key]
            table[change.field.keys[-1]] = change.after
        if _parse(found) != wanted:
            raise Unpatchable("its layout lets no value be changed in place", IN_AN_EDITOR)
        return found

    def _find_index(self, field: Field) -> int:
        tables, key = self.data.get(field.table, ()), _TABLES[field.table].number
        found = [n for n, one in enumerate(tables) if isinstance(one, dict) and one.get(key) == field.number]
        if len(found) != 1:
            raise Unpatchable(f"there is no {_TABLES[field.table].word} {field.number} in it now", LOOK_AGAIN)
        return found[0]

    def _place(self, field: Field) -> Path:
        return (field.table, self._find_index(field), *field.keys)

    def _read(self, field: Field) -> Value | None:
        """What it says there; None if nothing."""
        inside: Any = self.data[field.table][self._find_index(field)]
        if field.keys[0] == STEPS:
            steps = inside.get(STEPS, ())
            same = (one["do"] for one in steps if isinstance(one, dict) and one.get("do") == field.keys[1])
            return next(same, None)
        for key in field.keys:
            inside = inside.get(key) if isinstance(inside, dict) else None
        return inside if isinstance(inside, str | float | int) else None

    def _find_list(self, field: Field) -> int:
        """The line on which the list of steps begins and nothing else stands."""
        line = self.lines.get((field.table, self._find_index(field), STEPS))
        if line is None or not _OPEN_LIST.fullmatch(self.rows[line - 1].rstrip("\r")):
            raise Unpatchable(f"the steps of {field.number} do not stand on lines of their own", IN_AN_EDITOR)
        return line

    def _find_indent(self, line: int) -> str:
        row = self.rows[line - 1]
        return row[: len(row) - len(row.lstrip(" \t"))]

    def _find_anchor(self, field: Field) -> int:
        """The line behind which a new value goes."""
        table = (field.table, self._find_index(field))
        places = (self.lines.get((*table, one)) for one in _TABLES[field.table].after)
        line = next((line for line in places if line is not None), None)
        if line is None or len(field.keys) > 1:
            raise Unpatchable(f"{field} is not stated there", IN_AN_EDITOR)
        return line


def _parse(text: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        raise Unpatchable(f"it is not TOML: {error}", "floor check says where") from None


def _quote(text: str) -> str:
    import tomlkit  # as below

    return tomlkit.item(text).as_string()


def _change_row(row: str, change: Change) -> str:
    """A line of its own in TOML, with one value changed: its table may stand on it or above it."""
    import tomlkit  # here, because few who open a checklist change it
    from tomlkit.exceptions import TOMLKitError

    try:
        document = tomlkit.parse(row)
        for keys in (change.field.keys, change.field.keys[-1:]):
            table: Any = document
            for key in keys[:-1]:
                table = table.get(key, {})
            if keys[-1] in table:
                table[keys[-1]] = change.after
                return tomlkit.dumps(document)
    except TOMLKitError:
        pass
    raise Unpatchable(f"{change.field} does not stand on a line of its own", IN_AN_EDITOR)


def _find_default(field: Field) -> Value | None:
    """What holds where the file says nothing."""
    known = Operation.__dataclass_fields__ if field.table == "operations" else {}
    default = known[field.keys[0]].default if field.keys[0] in known else None
    return default if isinstance(default, float) else None


def format_value(value: Value | None) -> str:
    """``"12 min"``, ``0.897``, ``not stated``."""
    return "not stated" if value is None else f'"{value}"' if isinstance(value, str) else f"{value:g}"
