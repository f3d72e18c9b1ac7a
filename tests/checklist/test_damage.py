"""Every value of a frozen checklist put out of kind, one by one, and what is said of each; the others are taken.

Nobody worked these out by hand; see ``tests/checklist/test_edits.py``. Renew them with ``--snapshot-update``.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest

from floor.checklist.frozen import freeze_checklist, read_frozen_checklist
from tests.checklist.test_edits import right
from tests.checklist.test_frozen import Place, at, put

WRONG: tuple[Any, ...] = (
    None,
    True,
    -1,
    0,
    1,
    0.5,
    1e400,
    10**7,
    "",
    "x",
    "Ab-c d",
    "y" * 300,
    "\x1b",
    [],
    [1],
    {},
    {"odd": 1},
)
FROZEN = freeze_checklist(right())


def places(data: Any, path: Place = ()) -> Iterator[Place]:
    if path:
        yield path
    inner = data.items() if isinstance(data, dict) else enumerate(data) if isinstance(data, list) else ()
    for key, one in inner:
        yield from places(one, (*path, key))


def kinds() -> dict[str, Place]:
    """One place of each kind: the first whose numbers alone differ from those of others, and of each kind of step."""
    found: dict[str, Place] = {}
    for path in places(FROZEN):
        holders = [at(FROZEN, path[:end]) for end in range(len(path))]
        gates = "".join(f"<{one['gate']}>" for one in holders if isinstance(one, dict) and "gate" in one)
        found.setdefault(re.sub(r"\d+", "n", "/".join(map(str, path))) + gates, path)
    return found


@pytest.mark.parametrize("part", sorted({str(path[0]) for path in kinds().values()}))
def test_what_is_out_of_kind_is_refused_with_its_place(part: str, snapshot: Any) -> None:
    said = []
    for path in kinds().values():
        if path[0] != part:
            continue
        refused: dict[str, list[str]] = {}
        for wrong in WRONG:
            try:
                read_frozen_checklist(put(FROZEN, path, wrong))
            except ValueError as error:
                refused.setdefault(str(error), []).append(f"{wrong!r:.12}")
        said += [f"{error}: {', '.join(some)}" for error, some in refused.items()]
    assert "\n".join(said) == snapshot
