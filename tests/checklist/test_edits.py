"""Every field of right checklists edited one by one, and what the rules say of each: the rest of the edits is fine.

Nobody worked these out by hand: they were read through once, and hold where each bound lies and how each finding
reads. Renew them with ``--snapshot-update`` and read the difference.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import MISSING, fields, is_dataclass, replace
from functools import cache
from typing import Any

import pytest

from floor.checklist.loading import read_checklist
from floor.checklist.model import Checklist
from floor.checklist.rules import ADVISED, COMPLETE, REFERENCES
from floor.checklist.rules.layout import check_pieces_fit
from floor.checklist.units import Measure
from tests.batch.factory import by_hand, one_cycle, turned, two_mills
from tests.checklist.test_rules import RIGHT

Edit = tuple[str, Any]
"""What was done, and the whole afterwards."""


@cache
def right() -> Checklist:
    found = read_checklist(RIGHT, "right.toml").checklist
    assert found is not None
    return found


def edits(value: Any, place: str = "") -> Iterator[Edit]:
    """One edit after the other of a value and of all in it."""
    if isinstance(value, Measure):
        for times in (0.0, 0.49, 0.97, 1.03, 2.01, 20.0):
            number = value.number * times
            text = f"{number:g} {value.unit}"
            yield f"{place} = {text}", Measure(number, value.unit, value.base * times, text)
    elif is_dataclass(value) and not isinstance(value, type):
        for field in fields(value):
            for said, part in edits(getattr(value, field.name), f"{place}.{field.name}"):
                yield said, replace(value, **{field.name: part})
            yield from without(value, field, place)
    elif isinstance(value, tuple):
        for number, one in enumerate(value):
            for said, part in edits(one, f"{place}[{number}]"):
                yield said, (*value[:number], part, *value[number + 1 :])
            yield f"{place}[{number}] left out", (*value[:number], *value[number + 1 :])
            yield f"{place}[{number}] twice", (*value[:number], one, *value[number:])
        if len(value) > 1:
            yield f"{place} turned round", value[::-1]
    elif isinstance(value, Mapping):
        for key, one in value.items():
            for said, part in edits(one, f"{place}[{key}]"):
                yield said, {**value, key: part}
            yield f"{place}[{key}] left out", {name: kept for name, kept in value.items() if name != key}
    elif isinstance(value, bool):
        yield f"{place} = {not value}", not value
    elif isinstance(value, int | float):
        others = (0, 1, 2, value - 1, value + 1, value * 2, value / 2 if isinstance(value, float) else 0)
        yield from ((f"{place} = {other:g}", other) for other in dict.fromkeys(others) if other != value)
    elif isinstance(value, str) and value:
        yield f'{place} = "nowhere"', "nowhere"


def without(value: Any, field: Any, place: str) -> Iterator[Edit]:
    """The same with an optional field as it is when it is left out."""
    now = getattr(value, field.name)
    if field.default is not MISSING and field.default != now:
        yield f"{place}.{field.name} left out", replace(value, **{field.name: field.default})


def findings(checklist: Checklist, part: str) -> list[str]:
    said = []
    for rule in (*REFERENCES, *COMPLETE, *ADVISED):
        if rule is check_pieces_fit and part not in ("carriers", "part"):
            continue  # it looks at nothing else, and takes ten times as long as all others together
        try:
            for path, wrong, right in rule(checklist):
                said.append(f"{' '.join(map(str, path))}: {wrong}; {right}")
        except (ValueError, LookupError, RuntimeError, ArithmeticError) as error:
            said.append(f"cannot be judged: {type(error).__name__}")
    return sorted(said)


PARTS = ("stations", "carriers", "tools", "reworks", "consumables", "cautions", "part", "order")
CHUNKS = [
    *((right, part, None) for part in PARTS),
    *((right, "operations", number) for number in range(4)),
    *((one_cycle, part, None) for part in ("stations", "carriers")),
    *((one_cycle, "operations", number) for number in (0, 1)),
    *((turned, "operations", number) for number in (0,)),
    *((by_hand, "reworks", None),),
    *((by_hand, "operations", number) for number in (1, 3, 5, 8)),
    (two_mills, "operations", 0),
    (two_mills, "stations", None),
]


@pytest.mark.parametrize(("checklist", "part", "number"), CHUNKS, ids=lambda one: getattr(one, "__name__", str(one)))
def test_an_edit_is_found(checklist: Callable[[], Checklist], part: str, number: int | None, snapshot: Any) -> None:
    whole = checklist()
    value = getattr(whole, part)
    found = []
    usual = findings(whole, part)
    for said, other in edits(value, part) if number is None else edits(value[number], f"{part}[{number}]"):
        now = other if number is None else (*value[:number], other, *value[number + 1 :])
        new = [line for line in findings(replace(whole, **{part: now}), part) if line not in usual]
        if new:
            found.append(said)
            found += [f"  {line}" for line in new]
    assert "\n".join(found) == snapshot
