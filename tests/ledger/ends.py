"""Files as left by a power cut, a cut cable or a failing disk. Counts are arguments, as in `crashes`."""

from __future__ import annotations

import random
import re
from collections.abc import Sequence
from contextlib import closing
from pathlib import Path

from tinydb import TinyDB

from floor.entry import Draft, Entry
from floor.ledger import JournalFolder, NewerFormat
from floor.ledger.file_format import CLOSING, SECTOR, TailKind, encode_commit, encode_header, make_padding, read_groups
from floor.ledger.hash_chain import ZERO, chain_drafts
from floor.ledger.high_water_mark import locate_mark
from floor.ledger.verify import verify_bytes
from tests.ledger.crashes import MOMENT, group

NAME = "B0007"


def commits(groups: Sequence[Sequence[Draft]]) -> tuple[bytes, list[list[Entry]]]:
    """A file of these groups, without blanks after its closing braces, and the groups' entries."""
    raw, told, seq, prev = encode_header(NAME), [], 0, ZERO
    for drafts in groups:
        data, entries = chain_drafts(drafts, MOMENT, "AB", seq, prev)
        raw += encode_commit(data, len(entries), seq)[: -len(CLOSING)]
        seq, prev = entries[-1].seq, entries[-1].hash
        told.append(entries)
    return raw + CLOSING, told


def patchworks(before: bytes, after: bytes, rng: random.Random, most: int) -> list[bytes]:
    """What a disk may hold after a power cut between two states of a file: of each sector the old or the new bytes.

    All of them, or, where there are more than `most`, that many at random. Where the file was growing, zeros may
    stand for old bytes.
    """
    size = max(len(before), len(after))
    before, after = before.ljust(size), after.ljust(size)
    changed = [at for at in range(0, size, SECTOR) if before[at : at + SECTOR] != after[at : at + SECTOR]]
    choices = (
        range(1 << len(changed)) if 1 << len(changed) <= most else [rng.getrandbits(len(changed)) for _ in range(most)]
    )
    made = []
    for choice in choices:
        new = {at for bit, at in enumerate(changed) if choice >> bit & 1}
        old = make_padding(SECTOR) if rng.random() < 0.5 else bytes(SECTOR)
        made.append(
            b"".join(
                after[at : at + SECTOR]
                if at in new or at not in changed
                else before[at : at + SECTOR]
                if before[at : at + SECTOR].strip()
                else old[: size - at]
                for at in range(0, size, SECTOR)
            )
        )
    return made


def torn_commits(trials: int, seed: int) -> dict[str, int]:
    """Tear commits at random places of a file in every way a disk can, and read what is left."""
    rng = random.Random(seed)
    told = {"torn_commits": 0, "acknowledged_lost": 0, "halves_read": 0, "taken_for_damage": 0}
    for _ in range(trials):
        groups = [group(rng, str(number)) for number in range(rng.randint(1, 4))]
        for drafts in groups:  # texts of any length, so that the commit begins anywhere in its sector
            drafts[0].body["text"] = "x" * rng.randint(0, 1500)
        after, told_groups = commits(groups)
        shorter, _ = commits(groups[:-1])
        acknowledged = [entry for entries in told_groups[:-1] for entry in entries]
        for raw in patchworks(shorter + make_padding(2 * SECTOR), after + make_padding(2 * SECTOR), rng, 256):
            told["torn_commits"] += 1
            reading = read_groups(raw, start=len(encode_header(NAME)))
            told["acknowledged_lost"] += reading.entries[: len(acknowledged)] != acknowledged
            told["halves_read"] += reading.entries not in (acknowledged, acknowledged + told_groups[-1])
            told["taken_for_damage"] += reading.end is TailKind.DAMAGED
    return told


def truncations(folder: Path, raw: bytes, groups: Sequence[Sequence[Entry]]) -> dict[str, int]:
    """Cut a file at every byte of its last three groups (and of its closing braces), and open what is left."""
    told = {"truncations": 0, "not_repaired": 0, "lost_before_the_cut": 0, "not_writable": 0, "not_stock": 0}
    last = [entries[-1].seq for entries in groups]
    ends = [(_end_of(raw, seq), seq) for seq in [0, *last[:-1]]] + [(len(raw) - len(CLOSING), last[-1])]
    path = folder / f"{NAME}.json"
    for cut in range(ends[-4][0], len(raw)):
        with closing(JournalFolder(folder)) as journals:
            path.write_bytes(raw[:cut])
            locate_mark(path).unlink(missing_ok=True)  # without a mark, a cut looks like a torn commit
            journal = journals.open(NAME)
            told["truncations"] += 1
            told["not_repaired"] += journal.condition.kind != "repaired"
            told["lost_before_the_cut"] += len(journal.entries) < max(seq for end, seq in ends if end <= cut)
            with journal.turn() as turn:
                turn.append([Draft("after", {})], MOMENT, "AB")
            with closing(JournalFolder(folder)) as again:
                told["not_writable"] += len(again.open(NAME).entries) != len(journal.entries)
            with TinyDB(path, access_mode="r") as stock:
                told["not_stock"] += len(stock.table("entries")) != len(journal.entries)
        for kept in folder.glob("*.torn-*"):
            kept.unlink()
    return told


def _end_of(raw: bytes, seq: int) -> int:
    return re.search(rb',?\n *"%d":' % (seq + 1), raw).start()


def bit_flips(raw: bytes) -> dict[str, int]:
    """Flip every bit of a file, one at a time, and check it."""
    told = {"bit_flips": 0, "unnoticed": 0}
    untouched = verify_bytes(NAME, raw).sentence
    for place in range(len(raw) * 8):
        flipped = bytearray(raw)
        flipped[place >> 3] ^= 1 << (place & 7)
        told["bit_flips"] += 1
        try:
            verdict = verify_bytes(NAME, bytes(flipped))
        except NewerFormat:
            continue
        told["unnoticed"] += verdict.sound and verdict.sentence == untouched
    return told


def opened_flips(folder: Path, raw: bytes, places: Sequence[int]) -> dict[str, int]:
    """Open files with one bit flipped: it is reported, and no sound acknowledged entry is removed."""
    told = {"opened_flips": 0, "unsaid": 0, "taken_out": 0}
    path = folder / f"{NAME}.json"
    for place in places:
        flipped = bytearray(raw)
        flipped[place >> 3] ^= 1 << (place & 7)
        path.write_bytes(flipped)
        told["opened_flips"] += 1
        with closing(JournalFolder(folder)) as journals:
            try:
                condition = journals.open(NAME).condition
            except NewerFormat:
                continue
            told["unsaid"] += condition.kind == "fine"
            now = path.read_bytes()
            told["taken_out"] += condition.kind == "read-only" and now != flipped
            if condition.kind == "repaired":
                told["taken_out"] += now.count(b'"kind"') < raw.count(b'"kind"')
        for kept in folder.glob("*.json.*"):
            kept.unlink()
    return told
