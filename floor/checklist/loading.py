"""Reads a checklist file: gives the checklist, or every problem with its line, its place in the route and the fix."""

from __future__ import annotations

import hashlib
import json
import re
import tomllib
from calendar import monthrange
from collections.abc import Iterable
from copy import deepcopy
from importlib.resources import files
from pathlib import Path as File
from typing import Any, NamedTuple

from floor.checklist.findings import Finding
from floor.checklist.line_numbers import Path, is_nested_deeper, map_lines
from floor.checklist.model import Checklist
from floor.checklist.rules import ADVISED, COMPLETE, REFERENCES
from floor.checklist.schema import STAND_IN, build_schema, find_node, is_list, make_stand_in, make_validator
from floor.checklist.schema_messages import explain, place, tidy_path
from floor.dataclass import dataclass

MOST_BYTES = 1_000_000
"""No checklist comes near this size; a larger file is something else."""


class FileProblem(NamedTuple):
    """One thing wrong in a file, and what would be right."""

    file: str
    line: int
    place: str
    """In words: ``op 30, step 4 (probed), axis Z``."""
    wrong: str
    right: str
    warning: bool = False
    """Whether the file can be used anyway."""

    def __str__(self) -> str:
        mild = "warning: " if self.warning else ""
        return f"{self.file}:{self.line}: {mild}{self.place}: {self.wrong}; {self.right}"


@dataclass(frozen=True, slots=True)
class Loaded:
    """The result of reading a file: the checklist, or every reason why there is none."""

    checklist: Checklist | None
    problems: tuple[FileProblem, ...]
    text: str = ""
    """The file as read, for `compute_checklist_digest`."""
    warnings: tuple[FileProblem, ...] = ()


def load_checklist(file: File | str) -> Loaded:
    """Read a checklist file. Never raises for faults in the file."""
    name = str(file)
    try:
        text = read_text(File(file))
    except UnreadableFile as unreadable:
        return Loaded(None, (FileProblem(name, 1, "the file", *unreadable.args),))
    return read_checklist(text, name)


def read_checklist(text: str, name: str) -> Loaded:
    """Read the text of a checklist; problems name the file as `name`."""
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        return Loaded(None, (_syntax(name, text, str(error)),), text)
    except (ValueError, RecursionError) as error:
        return Loaded(None, (_odd(name, _TOO_DEEP if isinstance(error, RecursionError) else _TOO_LONG),), text)
    if is_nested_deeper(data):
        return Loaded(None, (_odd(name, _TOO_DEEP),), text)

    checklist, findings, advice = _checked(data)
    if not findings and not advice:
        return Loaded(checklist, (), text)
    lines = map_lines(text)

    def problems(found: list[Finding], warning: bool) -> tuple[FileProblem, ...]:
        told = {
            FileProblem(
                name, _line(lines, path), place(path if path in lines else path[:-1], data), wrong, right, warning
            )
            for path, wrong, right in found
        }
        return tuple(sorted(told))

    return Loaded(None if findings else checklist, problems(findings, False), text, problems(advice, True))


_TOO_DEEP = "brackets are nested too deep"
_TOO_LONG = "a number has too many digits"


def _odd(name: str, wrong: str) -> FileProblem:
    return FileProblem(name, 1, "the file", wrong, "write it the way the shipped checklists do")


def compute_checklist_digest(text: str) -> str:
    """SHA-256 of a checklist's text, the same for all line endings."""
    return hashlib.sha256(text.replace("\r\n", "\n").encode()).hexdigest()


def list_shipped_checklists() -> list[File]:
    """The checklists shipped with the program: inside the package, or beside it in a source tree."""
    package = File(str(files("floor")))
    inside = package / "checklists"
    return sorted((inside if inside.is_dir() else package.parent / "checklists").glob("*.toml"))


class UnreadableFile(Exception):
    """Holds what is wrong and what would be right."""


def read_text(file: File) -> str:
    """The text of a checklist file. Does not read anything that is not a file, or is too large.

    Raises:
        UnreadableFile
    """
    try:
        if not file.exists():
            raise UnreadableFile("there is no such file", "check the name; `ls` shows what is there")
        if not file.is_file():
            raise UnreadableFile("this is a folder or a device, not a file", "name a file that ends in .toml")
        if file.stat().st_size > MOST_BYTES:
            raise UnreadableFile(
                f"larger than {MOST_BYTES // 1000} kB, so not a checklist", "name a file that ends in .toml"
            )
        raw = file.read_bytes()
    except PermissionError:
        raise UnreadableFile("no permission to read it", "ask its owner, or change its permissions") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "the name cannot be that of a file"
        raise UnreadableFile(f"cannot be read ({reason})", "check the name and the disk") from None
    if b"\0" in raw:
        raise UnreadableFile("not a text file", "name a file that ends in .toml")
    try:
        return raw.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise UnreadableFile(f"line {line} is not in UTF-8", "save the file as UTF-8 in the editor") from None


def _syntax(name: str, text: str, message: str) -> FileProblem:
    found = re.search(r" \(at line (\d+), column (\d+)\)$", message)
    line = int(found[1]) if found else text.count("\n") + 1
    where = f"column {found[2]}" if found else "end of the file"
    wrong = message[: found.start()] if found else message.removesuffix(" (at end of document)")
    day = _DAY.search(text.split("\n")[line - 1]) if found else None
    if day is not None and (said := _no_day(*map(int, day.groups()[1:]))):
        return FileProblem(
            name, line, where, f"{day[0]} is not in the calendar: {said}", "write a date like 2026-03-16"
        )
    row = text.split("\n")[line - 1]
    if quote := _CURLY.search(_QUOTED.sub("", row)):
        return FileProblem(name, line, where, f"{quote[0]} is a typographic quote", 'write the straight one: "')
    table = _TABLE.fullmatch(row)
    if table is not None and is_list(table[1]) and re.search(rf"^ *\[{table[1]}\]", text, re.MULTILINE):
        wrong = f"[{table[1]}] in single brackets is one table, and there are several"
        return FileProblem(name, line, where, wrong, f"write [[{table[1]}]] above each")
    right = "text stands in quotes, a list in [ ], each inline table { } on one line; what follows is read after this"
    return FileProblem(name, line, where, wrong[:1].lower() + wrong[1:], right)


_CURLY = re.compile("[“”„‟‘’‚‛«»]")
_QUOTED = re.compile(r"""\"[^"]*"|'[^']*'|#.*""")
"""Text in straight quotes, and comments: there any sign may be."""
_TABLE = re.compile(r" *\[{1,2}(\w+)\]{1,2} *(?:#.*)?")
_DAY = re.compile(r"(?<=[=,\[ ])((\d{4})-(\d\d)-(\d\d))\b")


def _no_day(year: int, month: int, day: int) -> str:
    """Why there is no such day; empty if there is."""
    if not year:
        return "there is no year 0"
    if not 1 <= month <= 12:
        return f"there is no month {month}"
    days = monthrange(year, month)[1]
    return "" if 1 <= day <= days else f"that month has days 1 to {days}"


def _line(lines: dict[Path, int], path: Path) -> int:
    """The line of a value, or of the table it is missing from."""
    while path and path not in lines:
        path = path[:-1]
    return lines.get(path, 1)


def _checked(data: dict[str, Any]) -> tuple[Checklist | None, list[Finding], list[Finding]]:
    """Check shape and references, reported together: the checklist, the errors, the advice.

    A value of the wrong shape would hide every wrong reference in the file. So each is replaced by a stand-in in a
    copy until the copy can be read; problems caused by stand-ins are not reported.
    """
    from pydantic import ValidationError

    shape: list[Finding] = []
    mended: set[Path] = set()
    replaced: set[Path] = set()
    """Those of which a stand-in has the place."""
    said_in_full = True
    copy: dict[str, Any] = deepcopy(data)
    for _ in range(8):
        try:
            checklist = make_validator().validate_json(json.dumps(copy, default=str))
            break
        except ValidationError as error:
            errors = error.errors(include_url=False)
        for one in _causes(errors):
            finding = explain(one, data)
            if finding.path not in mended:
                shape.append(finding)
            path = tidy_path(one["loc"])
            mended |= {finding.path, path}
            unknown = one["type"] == "unexpected_keyword_argument"
            said_in_full = said_in_full and unknown
            replaced |= set() if unknown else {path}
            _mend(copy, path, drop=unknown or "[key]" in one["loc"])
    else:
        return None, shape, []
    # Dropping an unknown field loses nothing the file says.
    rules, advised = (REFERENCES + COMPLETE, ADVISED) if said_in_full else (REFERENCES, ())
    found, advice = (
        [finding for rule in some for finding in rule(checklist) if not _echoes(finding, mended, replaced)]
        for some in (rules, advised)
    )
    return checklist, shape + found, advice


def _causes(errors: Iterable[Any]) -> list[Any]:
    """The errors that are not just echoes of a deeper one."""
    errors = list(errors)
    inner = {error["loc"][:length] for error in errors for length in range(len(error["loc"]))}
    return [error for error in errors if error["type"] != "too_short" or error["loc"] not in inner]


def _mend(copy: dict[str, Any], path: Path, *, drop: bool) -> None:
    """Drop what is not allowed, or put in a stand-in for a value of the wrong shape."""
    inside: Any = copy
    key: Any
    *way, last = path
    for key in way:
        inside = inside[key] if isinstance(inside, list) or (isinstance(inside, dict) and key in inside) else None
    if isinstance(inside, dict) and drop:
        inside.pop(last, None)
    elif isinstance(inside, dict | list):
        key = last
        was = inside.get(key) if isinstance(inside, dict) else inside[key]
        value = make_stand_in(find_node(path, copy))
        if isinstance(value, dict) and isinstance(was, dict) and "id" in was:
            value["id"] = was["id"]  # others may refer to it
        inside[key] = value


def _echoes(finding: Finding, mended: set[Path], replaced: set[Path]) -> bool:
    """Whether a finding is at, above or below a repaired value, or comes from its stand-in.

    What a tool's card is computed from is spread over the card and its station: with a stand-in there it is no finding.
    Nor is a sample from a load whose size is one.
    """
    path = finding.path
    if path[-1:] == ("sample",) and any(one[:1] == ("carriers",) and one[2:] != ("name",) for one in replaced):
        return True
    of_card = path[:1] == ("tools",) and path[2:] not in (("number",), ("station",))
    if of_card and any(one[:2] == path[:2] or one[:1] == ("stations",) for one in replaced):
        return True
    near = any(path[: len(one)] == one or one[: len(path)] == path for one in mended)
    return near or STAND_IN in finding.wrong or STAND_IN in finding.right


__all__ = [
    "Loaded",
    "FileProblem",
    "compute_checklist_digest",
    "load_checklist",
    "read_checklist",
    "build_schema",
    "list_shipped_checklists",
]
