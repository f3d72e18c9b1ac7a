"""A record on a real file system of its own that fills up and turns read-only.

Run as a process of its own. It mounts a small tmpfs in a mount namespace of its own, which root may do, and on most
machines anybody within a user namespace; where neither is allowed, a file size limit and file modes stand in for it.
"""

from __future__ import annotations

import os
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

from floor.entry import Draft, Entry, Moment
from floor.ledger import Journal, JournalFolder, ReadOnly, WriteFailed
from floor.ledger.verify import verify_journal

MOMENT = Moment(datetime(2026, 11, 25, tzinfo=UTC))
INSIDE = "--inside"


def append(journal: Journal) -> None:
    with journal.turn() as turn:
        turn.append([Draft("x", {"text": "y" * 900}), Draft("x", {})], MOMENT, "AB")


def refusal(step: Callable[[], object]) -> str:
    """What was said when a step was refused."""
    try:
        step()
    except (WriteFailed, ReadOnly) as error:
        return str(error)
    raise AssertionError("it was not refused")


def fill(journal: Journal) -> None:
    """Append without end."""
    while len(journal.entries) < 100_000:
        append(journal)


def stored(folder: Path) -> list[Entry]:
    """What another terminal finds."""
    with closing(JournalFolder(folder / "record")) as journals:
        return list(journals.open("B1").entries)


def go_through(folder: Path, free: Callable[[], None], bar: Callable[[], None], unbar: Callable[[], None]) -> None:
    """Fill the disk, free it, make it read-only, make it writable again; nothing acknowledged may be missing."""
    journals = JournalFolder(folder / "record")
    journal = journals.create("B1")
    said = refusal(lambda: fill(journal))
    assert "the disk is full. Free some space" in said, said
    kept = list(journal.entries)
    assert len(kept) > 10
    assert stored(folder) == kept
    free()
    append(journal)
    kept = list(journal.entries)
    assert verify_journal(journal).sound
    journals.close()
    bar()
    reader = JournalFolder(folder / "record").open("B1")
    assert list(reader.entries) == kept
    assert reader.condition.kind == "read-only", reader.condition
    assert "can be read but not written to" in refusal(lambda: append(reader))
    assert "may not be written to" in refusal(lambda: JournalFolder(folder / "record").create("B2"))
    reader.close()
    unbar()
    with closing(JournalFolder(folder / "record")) as journals:
        append(journals.open("B1"))
    assert stored(folder)[:-2] == kept


def on_a_small_disk(folder: Path) -> None:
    """In a mount namespace: a tmpfs of 600 kB."""

    def mount(*words: str) -> None:
        subprocess.run(["mount", *words], check=True)

    mount("-t", "tmpfs", "-o", "size=600k", "floor-test", str(folder))
    ballast = folder / "ballast"
    ballast.write_bytes(b"b" * 200_000)
    go_through(
        folder,
        ballast.unlink,
        lambda: mount("-o", "remount,ro", str(folder)),
        lambda: mount("-o", "remount,rw", str(folder)),
    )


def by_limits(folder: Path) -> None:
    """Where nothing can be mounted: a file size limit, and file modes as somebody who is not root."""
    if os.geteuid() == 0:
        os.chown(folder, 65534, 65534)
        os.setgroups([])
        os.setgid(65534)
        os.setuid(65534)
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    hard = resource.getrlimit(resource.RLIMIT_FSIZE)[1]
    resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, hard))
    record = folder / "record"

    def modes(file: int, inner: int) -> None:
        for path in (record, record / "closed"):
            path.chmod(inner)
        (record / "B1.json").chmod(file)

    go_through(
        folder,
        lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (hard, hard)),
        lambda: modes(0o440, 0o550),
        lambda: modes(0o640, 0o750),
    )


def main() -> None:
    """Mount if that is allowed, else go by limits."""
    if INSIDE in sys.argv:
        on_a_small_disk(Path(sys.argv[-1]))
        return
    folder = Path(tempfile.mkdtemp(prefix="floor-disk-"))
    try:
        for apart in (["unshare", "-m"], ["unshare", "-rm"]):
            command = [*apart, "mount", "-t", "tmpfs", "floor-test", str(folder)]
            if shutil.which("unshare") and subprocess.run(command, capture_output=True, check=False).returncode == 0:
                again = [*apart, sys.executable, "-m", "tests.ledger.disks", INSIDE, str(folder)]
                subprocess.run(again, check=True)
                sys.stdout.write("on a tmpfs of 600 kB\n")
                break
        else:
            by_limits(folder)
            sys.stdout.write("by limits\n")
    finally:
        shutil.rmtree(folder, ignore_errors=True)
    sys.stdout.write("full, freed, read-only, writable again: nothing lost\n")


if __name__ == "__main__":
    main()
