"""The long trial of the record, to be run by hand: ``python -m tests.ledger.soak``.

Prints one JSON object with what was done and what went wrong, and exits 1 if anything did. The tests run the same
parts with ``--quick``.
"""

from __future__ import annotations

import argparse
import json
import random
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

from tests.ledger import crashes, ends

DONE = {
    "sigkills",
    "acknowledged",
    "repaired",
    "journals",
    "copies",
    "bundles",
    "writers",
    "entries",
    "looks",
    "torn_commits",
    "truncations",
    "bit_flips",
    "opened_flips",
}
"""What is counted as done; every other number counts what went wrong."""

Part = Callable[[Path, bool, int], dict[str, int]]


def writers(folder: Path, quick: bool, seed: int) -> dict[str, int]:
    """Kill a writing process."""
    return crashes.kill_writers(folder, 60 if quick else 1500, seed)


def upkeep(folder: Path, quick: bool, seed: int) -> dict[str, int]:
    """Kill a process that repairs, rewrites, bundles, archives and backs up."""
    return crashes.kill_upkeep(folder, 40 if quick else 1000, seed)


def at_once(folder: Path, quick: bool, seed: int) -> dict[str, int]:
    """Ten terminals at once."""
    return crashes.write_at_once(folder, 10, 200 if quick else 1000)


def torn(folder: Path, quick: bool, seed: int) -> dict[str, int]:
    """Commits torn by sectors."""
    return ends.torn_commits(400 if quick else 20_000, seed)


def cut(folder: Path, quick: bool, seed: int) -> dict[str, int]:
    """The file cut at every byte of its last groups."""
    raw, groups = ends.commits(_groups(seed, 4 if quick else 12))
    crashes.JournalFolder(folder).close()
    return ends.truncations(folder, raw, groups[-4:] if quick else groups)


def flips(folder: Path, quick: bool, seed: int) -> dict[str, int]:
    """Every bit of the file flipped, alone; opening is tried on some of them when quick, on all otherwise."""
    raw, _ = ends.commits(_groups(seed, 4 if quick else 12))
    raw += ends.make_padding(40 if quick else 4000)
    crashes.JournalFolder(folder).close()
    places = range(0, len(raw) * 8, 37 if quick else 1)
    return ends.bit_flips(raw) | ends.opened_flips(folder, raw, places)


PARTS: dict[str, Part] = {part.__name__: part for part in (writers, upkeep, at_once, torn, cut, flips)}


def _groups(seed: int, count: int) -> list[list[ends.Draft]]:
    rng = random.Random(seed)
    groups = [crashes.group(rng, str(number)) for number in range(count)]
    for drafts in groups:
        for draft in drafts:
            draft.body["text"] = draft.body["text"][:30]
    return groups


def run(names: list[str], quick: bool, seed: int) -> dict[str, dict[str, int]]:
    """Run the named parts, each in a folder of its own."""
    told = {}
    for name in names:
        memory = Path("/dev/shm")  # if only bytes matter, and no process or power fails, skip the disk sync
        place = memory if name in ("cut", "flips") and memory.is_dir() else None
        with tempfile.TemporaryDirectory(prefix="floor-soak-", dir=place) as folder:
            told[name] = PARTS[name](Path(folder), quick, seed)
    return told


def wrong(told: dict[str, dict[str, int]]) -> list[str]:
    """What went wrong, as ``part.count``."""
    return [
        f"{part}.{name}"
        for part, counts in told.items()
        for name, count in counts.items()
        if name not in DONE and count
    ]


def main() -> int:
    """Run, print, and say by the exit code whether all was well."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("parts", nargs="*", default=[], help=f"of {', '.join(PARTS)}; all where none is named")
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--seed", type=int, default=20261125)
    chosen = parser.parse_args()
    told = run(chosen.parts or list(PARTS), chosen.quick, chosen.seed)
    sys.stdout.write(json.dumps(told | {"wrong": wrong(told)}, indent=2) + "\n")
    return 1 if wrong(told) else 0


if __name__ == "__main__":
    sys.exit(main())
