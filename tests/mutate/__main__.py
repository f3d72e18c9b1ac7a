"""``python -m tests.mutate``: how many small faults the tests find, room by room."""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from tests.mutate.trial import ROOMS, Tried, counted, draw_rooms, said, trial

ROOT = Path(__file__).parents[2]


def figures(tried: Sequence[Tried]) -> dict[str, Any]:
    """The trial's result as JSON."""
    among = counted(tried)
    rooms = {
        room: [one for one in among if one.room == room] for room in ROOMS if any(one.room == room for one in tried)
    }
    survivors = [
        {
            "file": one.mutant.file,
            "line": one.mutant.line,
            "function": one.mutant.function,
            "change": one.mutant.change,
            "operator": one.mutant.operator,
            "run": one.outcome != "not run",
        }
        for one in among
        if not one.caught
    ]
    return {
        "made": len(among),
        "caught": sum(one.caught for one in among),
        "rooms": {room: {"made": len(of), "caught": sum(one.caught for one in of)} for room, of in rooms.items()},
        "survivors": survivors,
    }


def text(tried: Sequence[Tried], seconds: float) -> str:
    found = figures(tried)
    lines = [f"{'room':<10}{'made':>6}{'caught':>8}{'share':>8}"]
    for room, of in [*found["rooms"].items(), ("all", found)]:
        share = f"{of['caught'] / of['made']:.0%}" if of["made"] else "-"
        lines.append(f"{room:<10}{of['made']:>6}{of['caught']:>8}{share:>8}")
    hung, apart = sum(one.outcome == "hung" for one in tried), len(tried) - found["made"]
    lines += ["", f"{hung} of the caught hung; {apart} more survived and are argued to change nothing."]
    spent = sum(one.seconds for one in tried) / max(len(tried), 1)
    lines.append(f"{seconds / 60:.1f} min in all, {spent:.1f} s a mutant on one core.")
    wrong = [one for one in tried if one.argued and one.caught]
    if wrong:
        lines += ["", "Argued to change nothing, and caught:", *(f"  {said(one)}" for one in wrong)]
    survivors = [one for one in counted(tried) if not one.caught]
    if survivors:
        lines += ["", "Survivors:", *(f"  {said(one)}" for one in survivors)]
    return "\n".join(lines)


def main() -> None:
    parser = argparse.ArgumentParser("python -m tests.mutate", description=__doc__)
    parser.add_argument("--mutants", type=int, default=300, help="how many in all, as many in each room")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--room", action="append", choices=ROOMS, help="only this one; may be given more than once")
    parser.add_argument("--json", action="store_true", help="the figures and the survivors as JSON")
    parser.add_argument("--own", action="store_true", help="only against the tests of the room that the change is in")
    parser.add_argument("--at-once", type=int, default=2, help="how many workers")
    asked = parser.parse_args()
    began = time.monotonic()

    def tell(line: str) -> None:
        print(f"{time.monotonic() - began:5.0f} s  {line}", file=sys.stderr, flush=True)  # noqa: T201

    drawn = draw_rooms(ROOT, asked.room or ROOMS, asked.mutants, asked.seed)
    tried = trial(ROOT, drawn, at_once=asked.at_once, own_only=asked.own, tell=tell)
    seconds = time.monotonic() - began
    print(json.dumps(figures(tried), indent=1) if asked.json else text(tried, seconds))  # noqa: T201


if __name__ == "__main__":
    main()
