"""Trials with killed processes, and with processes writing at once. Counts are arguments: tests run few, `soak` many.
All of it runs without pytest, in a process without threads, because it forks."""

from __future__ import annotations

import os
import random
import signal
import sys
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from floor.entry import Draft, Moment
from floor.ledger import Journal, JournalFolder
from floor.ledger.backup import back_up_journals
from floor.ledger.bundle import read_bundle, write_bundle
from floor.ledger.copies import list_copies
from floor.ledger.file_format import CLOSING, encode_header
from floor.ledger.verify import verify_journal

MOMENT = Moment(datetime(2026, 11, 25, 10, 2, 1, tzinfo=UTC), "boot", 1.0)
SHARE = 12
"""Kills per journal, before starting a new one."""


def group(rng: random.Random, mark: str) -> list[Draft]:
    """One to three entries that know they belong together, some longer than a page of memory."""
    size = rng.choice((1, 1, 2, 3))
    return [
        Draft("trial", {"mark": mark, "part": part, "of": size, "text": "x" * rng.choice((20, 200, 900, 6000))})
        for part in range(size)
    ]


def groups_are_whole(journal: Journal) -> bool:
    """Whether all parts of every group stand together."""
    parts = [(entry.body["mark"], entry.body["part"], entry.body["of"]) for entry in journal.entries]
    place = 0
    while place < len(parts):
        mark, _, size = parts[place]
        if parts[place : place + size] != [(mark, part, size) for part in range(size)]:
            return False
        place += size
    return True


def fork(work: Callable[[int], None]) -> tuple[int, int]:
    """Run `work` in a child that writes its acknowledgments to a pipe: the child's id, and the pipe's end."""
    here, there = os.pipe()
    child = os.fork()
    if child:
        os.close(there)
        return child, here
    code = 1
    try:
        os.close(here)
        work(there)
        code = 0
    except BaseException as error:
        sys.stderr.write(f"{type(error).__name__}: {error}\n")
    finally:
        os._exit(code)


def kill_at_random(child: int, pipe: int, rng: random.Random) -> list[list[str]]:
    """Kill the child at a random moment after its first acknowledgment; return all acknowledgments as words."""
    heard = os.read(pipe, 1)
    until = time.perf_counter() + rng.uniform(0, 0.004) * rng.choice((0.2, 1, 5))
    while time.perf_counter() < until:
        pass
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    while part := os.read(pipe, 1 << 16):
        heard += part
    os.close(pipe)
    return [line.split() for line in heard.decode().split("\n")[:-1]]  # what follows the last newline was not said


def kill_writers(folder: Path, kills: int, seed: int) -> dict[str, int]:
    """Kill a process that appends; a terminal with the journal open all along goes on; look for what is missing."""
    rng = random.Random(seed)
    told = {"sigkills": 0, "acknowledged": 0, "acknowledged_lost": 0, "groups_broken": 0, "unsound": 0, "repaired": 0}
    while told["sigkills"] < kills:
        name = f"W{told['sigkills']}"
        journals = JournalFolder(folder)
        witness = journals.create(name)
        acknowledged: list[tuple[int, str]] = []
        for _ in range(min(SHARE, kills - told["sigkills"])):
            child_seed = rng.random()

            def write(pipe: int, name: str = name, child_seed: float = child_seed) -> None:
                rng = random.Random(child_seed)
                journal = JournalFolder(folder).open(name)
                for number in range(10_000):
                    with journal.turn() as turn:
                        done = turn.append(group(rng, f"{child_seed}-{number}"), MOMENT, "K")
                    os.write(pipe, b"".join(b"%d %s\n" % (entry.seq, entry.hash.encode()) for entry in done))

            heard = kill_at_random(*fork(write), rng)
            acknowledged += [(int(seq), digest) for seq, digest in heard]
            told["sigkills"] += 1
            if rng.random() < 0.5:  # the next process finds what was left behind, or the witness does
                witness.refresh()
                with witness.turn() as turn:
                    acknowledged += [(entry.seq, entry.hash) for entry in turn.append(group(rng, "w"), MOMENT, "W")]
                told["repaired"] += witness.condition.kind == "repaired"
            fresh = JournalFolder(folder).open(name)
            told["repaired"] += fresh.condition.kind == "repaired"
            told["groups_broken"] += not groups_are_whole(fresh)
            fresh.close()
        found = JournalFolder(folder).open(name)
        kept = {(entry.seq, entry.hash) for entry in found.entries}
        told["acknowledged"] += len(acknowledged)
        told["acknowledged_lost"] += sum(pair not in kept for pair in acknowledged)
        told["unsound"] += not verify_journal(found).sound
        found.close()
        journals.close()
        found.path.unlink()
    return told


def kill_upkeep(folder: Path, kills: int, seed: int) -> dict[str, int]:
    """Kill a process that creates, repairs, rewrites, bundles, archives and backs up journals."""
    rng = random.Random(seed)
    told = {"sigkills": 0, "journals": 0, "journals_lost": 0, "unsound": 0, "doubled": 0, "copies": 0, "bundles": 0}
    record, copies_folder = folder / "record", folder / "copies"
    for number in range(kills):

        def keep_up(pipe: int, number: int = number) -> None:
            journals = JournalFolder(record)
            for turn_number in range(10_000):
                name = f"U{number}-{turn_number}"
                _append(journals.create(name), 2)
                journals.close()
                path = record / f"{name}.json"
                _put(path, path.read_bytes().rstrip() + b"x")  # to be repaired
                _append(journals.open(name), 1)
                plain = encode_header(name, old=1) + journals.open(name).text() + CLOSING  # to be carried forward
                journals.close()
                _put(path, plain)
                _append(journals.open(name), 1)
                os.write(pipe, f"{name} 4\n".encode())
                write_bundle(journals.open(name), folder / f"{name}.bundle")
                journals.archive(name)
                os.write(pipe, f"{name} 4\n".encode())
                if turn_number % 4 == 0:
                    back_up_journals(journals, copies_folder, MOMENT.at, keep=2)

        heard = kill_at_random(*fork(keep_up), rng)
        told["sigkills"] += 1
        journals = JournalFolder(record)
        open_names, closed_names = set(journals.names()), set(journals.closed_names())
        told["doubled"] += len(open_names & closed_names)
        for name, count in {name: int(count) for name, count in heard}.items():
            told["journals"] += 1
            told["journals_lost"] += name not in open_names | closed_names or len(journals.open(name).entries) != count
        for name in open_names | closed_names:
            journal = journals.open(name)
            told["unsound"] += journal.condition.kind == "read-only" or not verify_journal(journal).sound
        for bundle in folder.glob("*.bundle"):
            told["bundles"] += 1
            told["unsound"] += len(read_bundle(bundle)[1]) != 4
            bundle.unlink()
        for copy in list_copies(copies_folder) if copies_folder.exists() else []:
            told["copies"] += 1
            told["unsound"] += any(not verify_journal(path).sound for path in copy.rglob("[!.]*.json"))
        journals.close()
        for path in [*record.rglob("*.json*")]:
            path.unlink()
    return told


def _put(path: Path, data: bytes) -> None:
    aside = path.with_suffix(".aside")  # the damage itself must not be half done when the kill comes
    aside.write_bytes(data)
    aside.rename(path)


def _append(journal: Journal, count: int) -> None:
    for _ in range(count):
        with journal.turn() as turn:
            turn.append([Draft("x", {})], MOMENT, "U")


def write_at_once(folder: Path, writers: int, entries: int) -> dict[str, int]:
    """Several processes append to one journal at once while one reads it as it grows."""
    journals = JournalFolder(folder)
    journals.create("shop").close()
    children = []
    for writer in range(writers):

        def write(pipe: int, writer: int = writer) -> None:
            journal = JournalFolder(folder, patience=120.0).open(
                "shop"
            )  # no process is sure to get a turn while nine never pause
            number = 0
            while number < entries:
                size = min(1 + number % 3, entries - number)
                with journal.turn() as turn:
                    seen = len(journal.entries)
                    about = {"mark": f"{writer}-{number}", "of": size, "writer": writer, "seen": seen}
                    drafts = [Draft("at once", about | {"part": part, "n": number + part}) for part in range(size)]
                    turn.append(drafts, MOMENT, str(writer))
                number += size

        children.append(fork(write))
    reader = JournalFolder(folder).open("shop")
    looks, half, seen = 0, 0, len(reader.entries)
    alive = dict(children)
    failed = 0
    while alive:
        for child in list(alive):
            gone, status = os.waitpid(child, os.WNOHANG)
            if gone:
                failed += status != 0
                os.close(alive.pop(child))
        news = reader.refresh()
        looks += bool(news)
        if news:
            half += not (news[0].body["part"] == 0 and news[-1].body["part"] == news[-1].body["of"] - 1)
            seen += len(news)
    seen += len(reader.refresh())
    found = JournalFolder(folder).open("shop")
    per_writer = {
        writer: [entry.body["n"] for entry in found.entries if entry.body["writer"] == writer]
        for writer in range(writers)
    }
    return {
        "writers": writers,
        "entries": len(found.entries),
        "failed": failed,
        "looks": looks,
        "lost_or_doubled_or_reordered": sum(numbers != list(range(entries)) for numbers in per_writer.values()),
        "decided_on_stale_state": sum(e.body["seen"] + e.body["part"] + 1 != e.seq for e in found.entries),
        "half_read": half,
        "unread": len(found.entries) - seen,
        "groups_broken": int(not groups_are_whole(found)),
        "unsound": int(not verify_journal(found).sound),
    }
