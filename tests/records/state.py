"""The state of every batch of a shop as plain data, whatever the classes are called that hold it."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Set
from datetime import date, datetime
from enum import Enum
from pathlib import Path
from typing import Any

from floor.shop import Shop

LEFT_OUT = {"entries", "by_kind", "checklist", "rules", "as_of", "former"}
"""What is on disk as it is: the entries themselves, the checklist and the edition of the rules in the first, and what
the register said of a gauge before."""


def states(folder: Path) -> dict[str, Any]:
    """Shop and batch → its state, open and closed ones; and the people of each shop."""
    found: dict[str, Any] = {}
    for record in sorted(folder.glob("*/record")):
        shop = Shop(record.parent)
        name = record.parent.name
        assert shop.troubles == [], shop.troubles
        for id in [*(batch.id for batch in shop.batches), *shop.closed()]:
            found[f"{name}/{id}"] = plain(shop.batch(id))
        found[f"{name}/people"] = plain(shop.people)
        shop.close()
    return found


def plain(value: Any) -> Any:
    """A value as JSON has it: classes by their fields, keys as text, sets in order."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        fields = (field.name for field in dataclasses.fields(value) if field.name not in LEFT_OUT)
        return {name: plain(getattr(value, name)) for name in fields}
    if isinstance(value, Mapping):
        return {str(plain(key)): plain(one) for key, one in value.items()}
    if isinstance(value, Enum):
        return plain(value.value)
    if isinstance(value, Set):
        return sorted((plain(one) for one in value), key=str)
    if isinstance(value, list | tuple):
        return [plain(one) for one in value]
    if isinstance(value, datetime | date):
        return value.isoformat()
    if value is None or isinstance(value, str | int | float | bool):
        return value
    return repr(value)
