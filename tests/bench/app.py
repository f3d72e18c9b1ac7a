"""The program as a whole process in a pseudo-terminal, against a bare Textual app on the same machine in the same run.

Opening: from the start of the process to the first screen with its rows. A key: from the byte that the terminal
sends to the changed text on the screen, which for Floor includes the entry on the disk. The bare app is a Textual
app with a table, a header and a footer that shows a key at once. Both may use Python's compiled files.
"""

from __future__ import annotations

import fcntl
import json
import os
import pty
import select
import shutil
import signal
import statistics
import struct
import sys
import tempfile
import termios
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path

from floor.batch.corrections.commands import Note
from floor.batch.lifecycle.commands import OpenBatch
from floor.batch.walk.commands import BeginRun
from floor.checklist.frozen import read_frozen_checklist
from floor.entry import Draft, Moment
from floor.ledger import JournalFolder
from floor.shop import Shop
from floor.shop.demo import make_demo
from floor.shop.simulation import ManualClock, SimulatedOperator

OPENINGS, KEYS, LOOKS, ROUNDS = 9, 40, 15, 5
KEY_CPU_BEFORE = 6.0
"""`key_cpu_vs_bare_app` of the program before its entries had types (507f37a), measured the same way."""
CLOSED, ENTRIES = 200, 500
BARE = """
import sys
from textual.app import App
from textual.widgets import DataTable, Footer, Header, Static

class Bare(App):
    BINDINGS = [("q", "quit", "Quit")]
    keys = 0
    def compose(self):
        yield Header()
        yield Static("key 0 of many", id="shown")
        yield DataTable()
        yield Footer()
    def on_mount(self):
        table = self.query_one(DataTable)
        table.add_columns("when", "load", "what", "where")
        for n in range(12):
            table.add_row("now", f"pallet {n}", "what is to be done", "there")
    def on_key(self, event):
        self.keys += 1
        self.query_one("#shown", Static).update(f"key {self.keys} of many")

Bare().run()
"""


@dataclass
class Terminal:
    """A process in a pseudo-terminal of 80 × 24."""

    pid: int
    fd: int
    started: float

    def until(self, text: bytes, seconds: float = 30.0) -> float:
        """Read until the text is on its way to the screen; returns the time since the last key or the start."""
        seen = b""
        end = time.perf_counter() + seconds
        while time.perf_counter() < end:
            if select.select([self.fd], [], [], 0.5)[0]:
                seen += os.read(self.fd, 1 << 16)
                if text in seen:
                    return time.perf_counter() - self.started
        raise TimeoutError(f"{text!r} did not come; last was {seen[-300:]!r}")

    def press(self, key: bytes) -> None:
        self.started = time.perf_counter()
        os.write(self.fd, key)

    def used(self) -> float:
        """Processor seconds so far."""
        fields = Path(f"/proc/{self.pid}/stat").read_text(encoding="ascii").rpartition(")")[2].split()
        return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")

    def settle(self) -> None:
        """Let everything that is still on its way arrive."""
        while select.select([self.fd], [], [], 0.15)[0]:
            os.read(self.fd, 1 << 16)

    def end(self, key: bytes = b"\x11") -> tuple[float, float]:
        """Quit; processor seconds and peak memory (MiB) of the whole process."""
        # The kernel's figure for a child starts with that of its parent before exec.
        status = Path(f"/proc/{self.pid}/status").read_text(encoding="ascii")
        peak = next(int(line.split()[1]) for line in status.splitlines() if line.startswith("VmHWM"))
        os.write(self.fd, key)
        while True:
            try:
                if not os.read(self.fd, 1 << 16):
                    break
            except OSError:
                break
        _, _, usage = os.wait4(self.pid, 0)
        os.close(self.fd)
        return usage.ru_utime + usage.ru_stime, peak / 1024


def start(*command: str) -> Terminal:
    environment = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    started = time.perf_counter()
    pid, fd = pty.fork()
    if pid == 0:
        os.environ.clear()
        os.environ.update(environment | {"TERM": "xterm-256color", "TEXTUAL_ANIMATIONS": "none"})
        os.execv(sys.executable, [sys.executable, *command])
    fcntl.ioctl(fd, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
    os.kill(pid, signal.SIGWINCH)
    return Terminal(pid, fd, started)


def big_shop(folder: Path) -> None:
    """The demo shop with so many closed batches of so many entries beside it."""
    make_demo(folder).close()
    journals = JournalFolder(folder / "record")
    at = datetime.now().astimezone() - timedelta(days=30)
    closed = journals.create("closed")
    drafts = [
        Draft("noted", {"text": f"a remark of some length about what was seen, number {n}", "run": n, "op": 30})
        for n in range(ENTRIES)
    ]
    with closed.turn() as turn:
        entries = turn.append(drafts, Moment(at), "RK")
    for number in range(1000, 1000 + CLOSED):
        journals.create(f"B{number}", entries)
        journals.archive(f"B{number}")
    journals.archive("closed")
    journals.close()


def long_walk(folder: Path, entries: int) -> int:
    """A shop with one run of many plain steps, in a batch of so many entries; the number of steps."""
    checklist = read_frozen_checklist(
        {
            "format": 1,
            "part": {
                "number": "BENCH",
                "name": "Bench",
                "revision": "A",
                "revised": "2026-01-01",
                "notice": "Local codes, the makers' data sheets and licensed practice govern.",
            },
            "stations": [{"id": "bench", "name": "Bench", "kind": "bench"}],
            "carriers": [{"id": "tote", "name": "Tote", "kind": "tote", "capacity": 10, "count": 2}],
            "operations": [
                {
                    "op": 10,
                    "title": "Many steps",
                    "station": "bench",
                    "carrier": "tote",
                    "cycle": False,
                    "steps": [{"do": f"Do the thing of step {n}"} for n in range(KEYS + 20)],
                }
            ],
        }
    )
    clock = ManualClock(datetime.now().astimezone() - timedelta(minutes=30))
    shop = Shop(folder, clock)
    shop.add_person("RK", "Rosa Keel", True, by="-")
    shop.open_batch(OpenBatch("B0001", checklist, "", "bench.toml", 10, 10), "RK")
    hand = SimulatedOperator(shop, "B0001", "RK", clock)
    hand.do(BeginRun(hand.form(10)))
    for n in range(entries - len(hand.batch.entries)):
        hand.do(Note(f"remark {n}", run=1))
    shop.close()
    return KEYS + 20


FLOOR = """
from floor.app import FloorApp; from floor.shop import Shop; import sys
app = FloorApp(Shop(sys.argv[1]), 'RK'); app.key_reader.guard.gap = 0.0; app.run()
"""
"""The program, with keys that come faster than a hand's."""


def measure() -> tuple[dict[str, float], dict[str, object]]:
    """Ratios and figures of the whole program."""
    with tempfile.TemporaryDirectory(prefix="floor-bench-") as name:
        folder = Path(name)
        bare = folder / "bare.py"
        bare.write_text(BARE, encoding="utf-8")
        ratios, figures = _opening(folder, bare)
        for more_ratios, more_figures in (_keys(folder, bare), _other_terminal(folder)):
            ratios |= more_ratios
            figures |= more_figures
    return ratios, figures


def _spread(values: list[float], scale: float = 1.0) -> dict[str, float]:
    ordered = sorted(value * scale for value in values)
    return {"min": round(ordered[0], 3), "median": round(statistics.median(ordered), 3), "max": round(ordered[-1], 3)}


def _opening(folder: Path, bare: Path) -> tuple[dict[str, float], dict[str, object]]:
    big_shop(folder / "big")
    wall: dict[str, list[float]] = {"bare": [], "floor": []}
    cpu: dict[str, list[float]] = {"bare": [], "floor": []}
    memory: dict[str, list[float]] = {"bare": [], "floor": []}
    for turn in range(OPENINGS + 1):
        for which, command, sign in (
            ("bare", (str(bare),), b"what is to be done"),
            ("floor", ("-m", "floor", "--shop", str(folder / "big")), b"Router"),
        ):
            terminal = start(*command)
            took = terminal.until(sign)
            used, peak = terminal.end()
            if turn:  # the first time fills the caches
                wall[which].append(took)
                cpu[which].append(used)
                memory[which].append(peak)
    pairs = [ours / theirs for ours, theirs in zip(wall["floor"], wall["bare"], strict=True)]
    return (
        {
            "open_vs_bare_app": round(statistics.median(pairs), 3),
            "open_cpu_vs_bare_app": round(statistics.median(cpu["floor"]) / statistics.median(cpu["bare"]), 3),
            "open_memory_vs_bare_app": round(statistics.median(memory["floor"]) / statistics.median(memory["bare"]), 3),
        },
        {
            "open_s": _spread(wall["floor"]),
            "open_bare_s": _spread(wall["bare"]),
            "open_memory_mib": _spread(memory["floor"]),
            "open_closed_batches": CLOSED,
            "open_entries": CLOSED * ENTRIES,
        },
    )


@contextmanager
def _walking(folder: Path) -> Iterator[Terminal]:
    """The program on the walk of the one run."""
    terminal = start("-c", FLOOR, str(folder))
    terminal.until(b"Bench")
    terminal.settle()
    terminal.press(b"\r")
    terminal.until(b"step")
    terminal.settle()
    yield terminal
    terminal.end()


def _type(terminal: Terminal, n: int) -> float:
    terminal.press(b"x")
    return terminal.until(f"key {n} of".encode())


def _confirm(terminal: Terminal, n: int, steps: int) -> float:
    terminal.press(b"\r")
    return terminal.until(f"step {n + 1}/".encode())


def _keys(folder: Path, bare: Path) -> tuple[dict[str, float], dict[str, object]]:
    steps = {size: long_walk(folder / f"walk{size}", size) for size in (100, 10_000)}
    took: dict[str, list[float]] = {"bare": [], "100": [], "10000": []}
    cpu: dict[str, list[float]] = {"bare": [], "100": [], "10000": []}

    def press(terminal: Terminal, which: str, key: Callable[[int], float]) -> None:
        before = terminal.used()
        took[which] += [key(n) for n in range(1, KEYS + 1)]
        terminal.settle()
        cpu[which].append((terminal.used() - before) / KEYS)

    for _ in range(ROUNDS):
        terminal = start(str(bare))
        terminal.until(b"what is to be done")
        terminal.settle()
        press(terminal, "bare", partial(_type, terminal))
        terminal.end()
        for size in (100, 10_000):
            copy = folder / "walk"
            shutil.copytree(folder / f"walk{size}", copy)
            with _walking(copy) as walking:
                press(walking, str(size), partial(_confirm, walking, steps=steps[size]))
            shutil.rmtree(copy)
    median = {name: statistics.median(values) for name, values in took.items()}
    used = {name: statistics.median(values) for name, values in cpu.items()}
    return (
        {
            "key_paint_vs_bare_app": round(median["100"] / median["bare"], 3),
            "key_paint_10k_vs_100": round(median["10000"] / median["100"], 3),
            "key_cpu_vs_bare_app": round(used["100"] / used["bare"], 3),
            "key_cpu_vs_before": round(used["100"] / used["bare"] / KEY_CPU_BEFORE, 3),
        },
        {f"key_paint_{name}_ms": _spread(values, 1000) for name, values in took.items()}
        | {f"key_cpu_{name}_ms": _spread(values, 1000) for name, values in cpu.items()},
    )


def _other_terminal(folder: Path) -> tuple[dict[str, float], dict[str, object]]:
    """One terminal records, the other shows it without being touched."""
    long_walk(folder / "two", 100)
    took = []
    with _walking(folder / "two") as first, _walking(folder / "two") as second:
        for n in range(1, LOOKS + 1):
            second.settle()
            first.press(b"\r")
            second.started = first.started
            took.append(second.until(f"step {n + 1}/".encode()))
            first.settle()
    median = round(statistics.median(took) * 1000, 1)
    return {}, {"other_terminal_ms_p50": median, "other_terminal_ms": _spread(took, 1000)}


if __name__ == "__main__":
    sys.stdout.write(json.dumps(measure(), indent=2) + "\n")
