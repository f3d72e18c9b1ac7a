"""What the record costs, against the disk and two other stores in the same run.

All write the same bytes: one entry of about 370. The rounds are interleaved, so that whatever else the machine does
meets all alike. A spread is given as the 5th, 50th and 95th percentile.
"""

from __future__ import annotations

import json
import os
import random
import sqlite3
import tempfile
import time
from collections.abc import Callable, Mapping
from contextlib import closing
from datetime import UTC, datetime
from hashlib import sha256
from pathlib import Path
from statistics import median, quantiles
from typing import Any

from tinydb import TinyDB

from floor.entry import Draft, Entry, Moment
from floor.ledger import Journal, JournalFolder
from floor.ledger.file_format import CLOSING, encode_commit, encode_header
from floor.ledger.hash_chain import ZERO, chain_drafts, strip_hash
from floor.ledger.verify import verify_journal
from tests.ledger import crashes

MOMENT = Moment(datetime(2026, 11, 25, 10, 2, 1, tzinfo=UTC), "4a0c4b0e-boot", 86400.25)
DRAFT = Draft("count", {"load": "L12", "op": 40, "good": 11, "scrap": 1, "reason": "edge chipped", "note": "x" * 20})
ROUNDS = 500
LARGE = 100_000
STOCK = 10_000
KILLS = 200

Measured = dict[str, list[float]]


def measure() -> tuple[dict[str, float], dict[str, Any]]:
    """Measure commits, opening, verifying and looking for news; kill some writers on the way."""
    with tempfile.TemporaryDirectory(prefix="floor-bench-", dir=os.environ.get("FLOOR_BENCH_FOLDER")) as place:
        folder = Path(place)
        with closing(JournalFolder(folder / "record")) as journals:
            large, small = _journal_of(journals, "large", LARGE), journals.create("small")
            for _ in range(100):
                _append(small)
            commits = _commits(folder, small, large)
            reading = _reading(journals, small, large)
        killed = crashes.kill_writers(folder / "kills", KILLS, seed=1)
    p50 = {name: median(times) for name, times in (commits | reading).items()}
    ratios = {
        "commit_vs_sqlite_full": p50["commit_ours"] / p50["commit_sqlite_full"],
        "commit_vs_raw_append": p50["commit_ours"] / p50["commit_raw_append"],
        "commit_at_100k_vs_100": p50["commit_at_100k"] / p50["commit_ours"],
        "commit_vs_stock_tinydb_10k": p50["commit_at_100k"] / p50["commit_stock_tinydb_10k"],
        "verify_vs_hash_and_parse": p50["verify_100k"] / p50["hash_and_parse_100k"],
    }
    figures: dict[str, Any] = {f"{name}_ms": _spread(times) for name, times in (commits | reading).items()}
    figures["entry_bytes"] = len(chain_drafts([DRAFT], MOMENT, "AB", 0, ZERO)[0])
    figures |= {name: killed[name] for name in ("sigkills", "acknowledged", "acknowledged_lost")}
    return {name: round(value, 3) for name, value in ratios.items()}, figures


def _commits(folder: Path, small: Journal, large: Journal) -> Measured:
    """One entry made durable, over and over, by each in turn."""
    text = json.dumps(strip_hash(small.entries[0]) | {"hash": ZERO})
    database = sqlite3.connect(folder / "full.sqlite", isolation_level=None)
    for pragma in ("journal_mode=WAL", "synchronous=FULL"):
        database.execute(f"PRAGMA {pragma}")
    database.execute("CREATE TABLE entries (seq INTEGER PRIMARY KEY, text TEXT)")
    raw = os.open(folder / "raw", os.O_WRONLY | os.O_CREAT | os.O_APPEND)

    def append_raw() -> None:
        os.write(raw, text.encode())
        os.fsync(raw)

    times = _interleaved(
        ROUNDS,
        {
            "commit_ours": lambda: _append(small),
            "commit_sqlite_full": lambda: database.execute("INSERT INTO entries (text) VALUES (?)", (text,)),
            "commit_raw_append": append_raw,
            "commit_at_100k": lambda: _append(large),
        },
    )
    os.close(raw)
    database.close()
    stock_path = folder / "stock.json"
    stock_path.write_text(
        json.dumps({"entries": {str(entry.seq): strip_hash(entry) for entry in large.entries[:STOCK]}})
    )
    with TinyDB(stock_path) as stock:
        document = strip_hash(large.entries[0])
        times |= _interleaved(15, {"commit_stock_tinydb_10k": lambda: stock.table("entries").insert(document)})
    return times


def _reading(journals: JournalFolder, small: Journal, large: Journal) -> Measured:
    """Opening and checking a large journal; looking for news where there is none, and where there is one entry."""

    def hash_and_parse() -> None:
        raw = large.path.read_bytes()
        sha256(raw).hexdigest()
        json.loads(raw)

    times = _interleaved(
        5,
        {
            "verify_100k": lambda: verify_journal(large),
            "hash_and_parse_100k": hash_and_parse,
            "open_100k": lambda: Journal(large.path).close(),
        },
    )
    with closing(JournalFolder(journals.folder)) as elsewhere:
        other = elsewhere.open(small.name)
        times |= _interleaved(ROUNDS, {"look_without_news": other.refresh})
        times["look_with_news"] = []
        for _ in range(100):
            _append(small)
            times["look_with_news"] += _interleaved(1, {"look": other.refresh})["look"]
    return times


def _interleaved(rounds: int, works: Mapping[str, Callable[[], object]]) -> Measured:
    """Seconds that each work took, in turns whose order changes, because what went before warms or fills the disk."""
    times: Measured = {name: [] for name in works}
    order = random.Random(1)
    for _ in range(rounds):
        for name, work in order.sample(list(works.items()), len(works)):
            start = time.perf_counter()
            work()
            times[name].append(time.perf_counter() - start)
    return times


def _spread(times: list[float]) -> list[float]:
    """5th, 50th and 95th percentile, in milliseconds."""
    cuts = quantiles(times, n=20, method="inclusive")
    return [round(1000 * value, 4) for value in (cuts[0], median(times), cuts[-1])]


def _append(journal: Journal) -> list[Entry]:
    with journal.turn() as turn:
        return turn.append([DRAFT], MOMENT, "AB")


def _journal_of(journals: JournalFolder, name: str, count: int) -> Journal:
    """A journal of many entries, without a sync for each."""
    lines, prev = [encode_header(name)], ZERO
    for seq in range(count):
        data, (entry,) = chain_drafts([DRAFT], MOMENT, "AB", seq, prev)
        lines.append(encode_commit(data, 1, seq)[: -len(CLOSING)])
        prev = entry.hash
    journals.create(name).path.write_bytes(b"".join(lines) + CLOSING)
    journals.close()
    return journals.open(name)
