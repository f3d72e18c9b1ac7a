"""A small invented part, and a shop in memory that decides and folds like the real one, without a disk."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta, timezone
from functools import cache
from pathlib import Path
from typing import Any, get_args

import pytest

from floor.batch.command import Command, Context, OtherBatches, Person, Refused
from floor.batch.corrections.commands import StrikeOut
from floor.batch.events import Concession
from floor.batch.fold import advance, fold
from floor.batch.gates.commands import Prove
from floor.batch.gates.decide_out_of_limits import DecideOut, MeasureAgain
from floor.batch.gates.measured_pieces import ValueRead, find_value_to_read_again
from floor.batch.handover.page import list_count_subjects
from floor.batch.lifecycle.commands import OpenBatch
from floor.batch.load import Where
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.batch.walk.commands import BeginRun
from floor.batch.walk.lines import Line, Walk
from floor.batch.walk.station_walk import build_walk
from floor.checklist.loading import load_checklist, read_checklist
from floor.checklist.model import Checklist
from floor.entry import Draft, Entry, Moment
from floor.ledger.hash_chain import ZERO, chain_drafts
from floor.shop.simulation import ManualClock, SimulatedOperator

HERE = Path(__file__).parent
MORNING = datetime(2026, 3, 2, 7, 0, tzinfo=timezone(timedelta(hours=1)))
VANCE = Concession(by="Ms Vance", on="2026-02-27", number="26-114")
"""The customer's word."""


@cache
def part() -> Checklist:
    """The test part, read as any file is."""
    loaded = load_checklist(HERE / "part.toml")
    assert loaded.checklist is not None, "\n".join(map(str, loaded.problems))
    return loaded.checklist


PROBE = 'offset = "G54", axes = [{ name = "X", low = "-1 mm", high = "1 mm" }, {'
TWO_UP = (
    (
        'offsets = ["G54"]\n',
        'offsets = ["G54", "G55", "G56"]\nruns_at_once = 2\ncarrier_offsets = { pallet = ["G54", "G55", "G56"] }\n',
    ),
    (
        PROBE,
        'axes = [{ name = "X", low = "-1 mm", high = "1 mm", offset = "G54" }, '
        '{ name = "X", low = "199 mm", high = "201 mm", offset = "G55" }, '
        '{ name = "X", low = "399 mm", high = "401 mm", offset = "G56" }, {',
    ),
    ('offset = "G54", axes = [{ name = "Z"', 'axes = [{ name = "Z"'),
)
"""Edits of the test part: two pallets on the bed of the mill at once, each with a work offset of its own."""

OWN_LOAD = ("back_to = 20\npasses = 2", 'back_to = 20\nrides = "own load"\npasses = 2')
"""An edit of the test part: pieces to touch up leave their carrier, and the others go on."""

ONE_CYCLE = (*TWO_UP, ('program = "KB7-10 A"\n', 'program = "KB7-10 A"\nloads_per_cycle = 2\n'))
"""Edits of the test part: two pallets on the bed of the mill, cut by one program in one cycle."""


TWO_MILLS = (
    (
        '[[stations]]\nid = "bench"',
        '[[stations]]\nid = "mill 2"\nname = "Mill 2"\noffsets = ["G54"]\n\n[[stations]]\nid = "bench"',
    ),
    (
        'station = "mill"\ncarrier = "pallet"\nprogram',
        'station = "mill"\nalso_at = ["mill 2"]\ncarrier = "pallet"\nprogram',
    ),
)
"""Edits of the test part: a second mill that can mill the groove too."""


TURNED = (
    ('cycle = "20 min", after', 'cycle = "20 min", turn_piece = "1 min", after'),
    (
        '  { do = "Brush the chips off"',
        '  { do = "Turn the pieces over", id = "turn", at = "cycle", cycle = "stands" },\n'
        '  { gate = "confirmed", do = "Seated: no feeler goes in", at = "cycle", waive = "never" },\n'
        '  { do = "Start the second side", id = "second side", at = "cycle", cycle = "goes on" },\n'
        '  { do = "Brush the chips off"',
    ),
)
"""Edits of the test part: the groove is cut from both sides in one cycle, the pieces turned over between."""


BY_HAND = (
    (
        "[[operations]]\nop = 50\n",
        """[[operations]]
op = 42
title = "Fill by hand"
station = "bench"
carrier = "tray"
rework_only = true
cycle = false
time = { before_piece = "4 min" }
steps = [{ do = "Fill the place with a drop", id = "drop", at = "load", skip = false }]
clocks = [{ id = "drop dry", starts = "step drop", windows = [{ earliest = "24 h" }], source = "Label: 24 h" }]
reasons = [{ code = "spilt", text = "Spilt over" }, { code = "odd", text = "Odd color", to = "hold" }]

[[operations]]
op = 44
title = "Rub flat"
station = "bench"
carrier = "tray"
rework_only = true
cycle = false
time = { before_piece = "2 min" }
steps = [{ gate = "cured", clock = "drop dry", at = "arrive" }, { do = "Rub the place flat", at = "load" }]
reasons = [{ code = "through", text = "Rubbed through" }]

[[operations]]
op = 50
""",
    ),
    (
        "[[operations]]\nop = 20\n",
        """[[operations]]
op = 12
title = "Strip the coat"
station = "bench"
carrier = "pallet"
rework_only = true
cycle = false
time = { before_piece = "3 min" }
steps = [{ do = "Strip to bare metal", at = "load" }]
reasons = [{ code = "gouged", text = "Gouged" }, { code = "pitted", text = "Pitted", to = "hold" }]

[[operations]]
op = 14
title = "Etch"
station = "bench"
carrier = "pallet"
rework_only = true
cycle = false
time = { before_piece = "1 min" }
steps = [{ do = "Etch the bare place", at = "load" }]
reasons = [{ code = "etched", text = "Etched through" }, { code = "stained", text = "Stained", to = "hold" }]

[[operations]]
op = 20
""",
    ),
    (
        '  { code = "thin", ',
        '  { code = "flaky", text = "Flakes off", to = "rework", rework = "strip" },\n  { code = "thin", ',
    ),
    (
        '[[reworks]]\nid = "regroove"\n',
        """[[reworks]]
id = "strip"
name = "Strip and coat again"
back_to = 12
ops = [12, 14, 20]

[[reworks]]
id = "by hand"
name = "Fill the scratch by hand"
back_to = 42
ops = [42, 44, 50]
expected_yield = 0.8

[[reworks]]
id = "anew"
name = "Groove and coat again"
back_to = 10
ops = [10, 20, 50]
rides = "own load"

[[reworks]]
id = "regroove"
ops = [10, 30]
""",
    ),
    (
        '  { code = "bent", text = "Bent" },\n',
        '  { code = "bent", text = "Bent" },\n'
        '  { code = "drop", text = "Deep scratch", to = "rework", rework = "by hand", share = 0.05 },\n'
        '  { code = "worn", text = "Groove worn", to = "rework", rework = "anew" },\n',
    ),
    ('clock = "cooling", at = "arrive"', 'clock = "cooling", at = "arrive", once = true'),
    ('time = { before_piece = "30 s" }', 'time = { before_piece = "30 s" }\nexpected_yield = 0.9'),
)
"""Edits of the test part: scratches are filled at the bench, and two reworks leave out operations of the route."""


def edited_text(*edits: tuple[str, str]) -> str:
    """The test part's file with some of its text changed."""
    text = (HERE / "part.toml").read_text()
    for was, now in edits:
        assert was in text, was
        text = text.replace(was, now)
    return text


def edited(*edits: tuple[str, str]) -> Checklist:
    """The test part with some of its text changed."""
    loaded = read_checklist(edited_text(*edits), "part.toml")
    assert loaded.checklist is not None, "\n".join(map(str, loaded.problems))
    return loaded.checklist


@cache
def two_up() -> Checklist:
    return edited(*TWO_UP, OWN_LOAD)


@cache
def one_cycle() -> Checklist:
    return edited(*ONE_CYCLE)


@cache
def two_mills() -> Checklist:
    return edited(*TWO_MILLS)


@cache
def turned() -> Checklist:
    return edited(*TURNED)


@cache
def by_hand() -> Checklist:
    return edited(*BY_HAND)


@cache
def thermal_break() -> Checklist:
    """The shipped main demo part."""
    loaded = load_checklist(HERE.parents[1] / "checklists" / "thermal-break-plate.toml")
    assert loaded.checklist is not None, "\n".join(map(str, loaded.problems))
    return loaded.checklist


def entries_of(drafts: list[Draft], moment: Moment, by: str, before: list[Entry]) -> list[Entry]:
    """Entries as the record makes them: through canonical JSON and back."""
    prev = before[-1].hash if before else ZERO
    return chain_drafts(drafts, moment, by, len(before), prev)[1]


class StepClock(ManualClock):
    """A clock that can be set, as on a real machine: the wall time moves, the uptime does not."""

    def __init__(self, at: datetime) -> None:
        self.moment = Moment(at, "bench-0", 1000.0)

    def step(self, seconds: float) -> None:
        self.moment = Moment(self.moment.at + timedelta(seconds=seconds), self.moment.boot, self.moment.up)

    def restart(self, off: float = 0.0) -> None:
        """The machine was off this long by the wall clock, and restarted a minute ago."""
        at = self.moment.at + timedelta(seconds=off + 60)
        self.moment = Moment(at, f"{self.moment.boot}+", 60.0)

    def other_machine(self, boot: str, up: float, away: float = 0.0) -> None:
        """The batch moved to a machine that has been on for some time; the move took this long by the wall clock."""
        self.moment = Moment(self.moment.at + timedelta(seconds=away), boot, up)


@dataclass
class Bench:
    """One batch in memory, with what a `SimulatedOperator` needs from a shop."""

    clock: StepClock
    state: Batch
    leads: frozenset[str] = frozenset({"LL"})
    people: frozenset[str] = frozenset({"LL", "AA", "BB", "CC"})
    elsewhere: OtherBatches = field(default_factory=OtherBatches)

    # what a simulated operator needs from a shop

    def batch(self, id: str) -> Batch:
        return self.state

    def context(self, id: str, by: str) -> Context:
        return Context(self.clock(), Person(by, by in self.leads), self.elsewhere, self.leads, self.people)

    def do(self, id: str, command: Command, by: str) -> list[Entry]:
        drafts = command.decide(self.state, self.context(id, by))
        entries = entries_of(drafts, self.clock(), by, self.state.entries)
        self.state = advance(self.state, entries)
        return entries

    # short forms for tests

    def say(self, command: Command, by: str = "AA") -> list[Entry]:
        return self.do("", command, by)

    def refused(self, command: Command, by: str = "AA") -> Refused:
        """The refusal of a command that must be refused and change nothing."""
        before = fold(self.state.entries, checklist=self.state.checklist)
        with pytest.raises(Refused) as refusal:
            self.say(command, by)
        assert self.state == before
        assert refusal.value.wrong, "a refusal says what is wrong"
        return refusal.value

    def strike_back_to(self, seq: int) -> None:
        """Strike out an entry and what was entered after it, the last one first."""
        for entry in reversed(self.state.entries[seq - 1 :]):
            if entry.seq not in self.state.struck:
                self.say(StrikeOut(entry.seq, "wrong load"), "LL")

    def hand(self, initials: str = "AA", second: str = "BB") -> SimulatedOperator:
        return SimulatedOperator(self, "", initials, self.clock, second=second)  # type: ignore[arg-type]

    def form(self, op: int, count: int | None = None, rework: str = "") -> int:
        return self.hand().form(op, count, rework)

    def begin(self, load: int, by: str = "AA") -> Run:
        return self.state.runs[self.say(BeginRun(load, anyway=True), by)[0].body["run"]]

    def run_of(self, load: int) -> Run:
        number = self.state.loads[load].run
        assert number is not None
        return self.state.runs[number]

    def walk(self, load: int, by: str = "AA") -> Walk:
        return build_walk(self.state, self.run_of(load), self.clock(), by)

    def line(self, load: int, key: str, by: str = "AA") -> Line:
        found = self.walk(load, by).line(key)
        assert found is not None, f"no line {key}"
        return found

    def current(self, load: int, by: str = "AA") -> Line:
        line = self.walk(load, by).current
        assert line is not None
        return line

    def until(self, load: int, key: str, by: str = "AA", **more: Any) -> Line:
        """Work a load up to the line with this key (starting the run if needed), and stop before it."""
        assert not self.hand(by).work(load, stop=lambda line: line.key == key, **more), f"{key} was never current"
        assert self.current(load, by).key == key, f"stuck at {self.current(load, by)}"
        return self.current(load, by)

    def through(self, load: int, *ops: int, by: str = "AA", second: str = "BB", **more: Any) -> None:
        """Work a load through its next operation, or the named ones."""
        for op in ops or (self.state.loads[load].at,):
            assert self.state.loads[load].at == op
            assert self.hand(by, second).work(load, **more), f"stuck at {self.current(load, by)}"

    def prove(self, load: int, key: str, by: str = "AA", **values: Any) -> Entry:
        return self.say(Prove(self.run_of(load).number, key, values), by)[0]

    def where(self) -> dict[str, int]:
        """How many pieces are in each kind of place."""
        return {kind: n for kind in get_args(Where) if (n := self.state.total(kind))}


def open_bench(
    checklist: Callable[[], Checklist] = part, start: int = 8, order: int = 1, at: datetime = MORNING, **more: Any
) -> Bench:
    """A batch just opened; `more` goes to the command that opens it."""
    clock = StepClock(at)
    context = Context(clock(), Person("AA"))
    opened = OpenBatch("B0001", checklist(), "digest", "part.toml", order, start, **more).decide_new(context)
    return Bench(clock, fold(entries_of(opened, clock(), "AA", [])))


def decide_out(batch: Batch, out: int, reason: str = "", positions: tuple[str, ...] = (), count: int = 0) -> DecideOut:
    """The decision of somebody who sees that reading as it stands now."""
    return DecideOut(
        out, find_value_to_read_again(batch, batch.out[out]) if out in batch.out else None, reason, positions, count
    )


def measure_again(batch: Batch, out: int, value: object, why: str, *, corrects: bool = False) -> MeasureAgain:
    """The value of that reading that is next, as it stands now; any one where there is none."""
    read = find_value_to_read_again(batch, batch.out[out]) if out in batch.out else None
    return MeasureAgain(out, read or ValueRead(0, "value", ""), value, why, corrects=corrects)


def conserved(batch: Batch) -> None:
    """The law of conservation: the places partition the pieces, and every count of them agrees."""
    assert set(batch.places) == set(range(1, batch.started + 1)) == set(batch.started_at)
    assert batch.list_entries(*batch.by_kind) == batch.entries
    riding = {number: set(pieces) for number, pieces in batch.on.items() if pieces}
    by_place: dict[int, set[int]] = {}
    for piece, place in batch.places.items():
        if place.where == "load":
            by_place.setdefault(place.load, set()).add(piece)
    assert riding == by_place
    for number, pieces in riding.items():
        load = batch.loads[number]
        assert load.dissolved is None, f"load {number} is gone, its pieces are not"
        assert pieces <= set(load.pieces)
    for piece, place in batch.places.items():
        if place.sits:
            load = batch.loads[place.load]
            assert place.where in ("hold", "scrap")
            assert load.dissolved is None
            assert piece in load.pieces
            assert batch.find_carrier(load.number).holds_fast
    for subject in list_count_subjects(batch):
        assert subject.expected == sum(place.heap == subject.key for place in batch.places.values())
    counted_by_hand = sum(subject.expected for subject in list_count_subjects(batch))
    gone = sum(
        place.where in ("finished", "stopped", "trial", "regraded", "returned")
        or (place.where == "scrap" and not place.sits)
        for place in batch.places.values()
    )
    assert counted_by_hand == batch.started - gone, "what is counted at a handover is all that lies there"
    for load in batch.list_live_loads():
        counted = load.run is not None and batch.runs[load.run].count is not None
        held = batch.sitting(load, "hold")
        assert batch.present(load) or counted or held, f"load {load.number} holds a carrier without a piece"
        assert load.at is not None
        capacity = batch.checklist.carrier(load.carrier).capacity
        assert len(load.pieces) == len(set(load.pieces)) <= capacity
        for detour in load.detours:
            assert detour.at is not None or detour is not load.detours[-1]
    carriers = [(load.carrier, load.carrier_number) for load in batch.list_live_loads()]
    assert len(carriers) == len(set(carriers)), "two loads on one carrier"
    assert sum(batch.total(kind) for kind in get_args(Where)) == batch.started
    assert all(count >= 0 for count in batch.tally.values())
    assert sum(count for _, _, count in batch.list_waiting_pools()) == batch.total("waiting")
    for op, rework, count in batch.list_waiting_pools():
        assert len(batch.waiting(op, rework)) == count
    for run in batch.runs.values():
        if run.count is not None:
            marked = sum(run.count.total(to) for to in ("scrap", "rework", "hold"))
            assert run.count.good + marked == run.count.went_in == len(run.pieces)
    for station in batch.checklist.stations:
        there = [batch.loads[run.load].carrier for run in batch.list_open_runs() if run.station == station.id]
        assert sum(station.carrier_places.get(kind, 1) for kind in there) <= station.runs_at_once
    for run in batch.list_open_runs():
        assert run.pieces, f"run {run.number} goes on without a piece"
        assert set(run.pieces) <= set(batch.present(batch.loads[run.load])) or run.count is not None


def went_its_way(batch: Batch, piece: int) -> None:
    """By the entries alone: each count of a piece is at the next operation on its path.

    A piece sent back on its carrier goes on as before once it is back where it was found; one that left its carrier
    follows the rework's own path. If both are possible, either is right.
    """
    route = batch.checklist.route
    ahead, left = [list(route)], False
    for entry in batch.entries:
        body = entry.body
        if entry.seq in batch.struck or entry.kind not in ("counted", "disposed"):
            continue
        sent = ""
        if entry.kind == "disposed" and piece in body["pieces"]:
            sent, left = body.get("rework", ""), left or bool(body.get("waives_rework"))
            found = 0
        elif entry.kind == "counted" and piece in batch.runs[body["run"]].pieces:
            found = batch.runs[body["run"]].op
            if left:  # a rework was waived: it may go on anywhere after the operation that found it
                ahead, left = [[op for op in route if op >= found]], False
            due = {way[0] for way in ahead}
            assert found in due, f"piece {piece} was at op {found}, and {due} was next"
            ahead = [way[1:] for way in ahead if way[0] == found]
            reason = next((mark["reason"] for mark in body["marks"] if piece in mark["pieces"]), "")
            code = batch.operation(found).reason(reason)
            sent = code.rework if code is not None else ""
        if sent:
            way = list(batch.checklist.list_way(sent))
            ahead = [way, *([op for op in way if op <= (found or was[0] - 1)] + was for was in ahead if was)]
    assert [] in ahead, f"piece {piece} is finished and was not at op {ahead}"


def went_through(batch: Batch, piece: int) -> None:
    """A finished piece was counted good at every operation, or a lead released it there as is."""
    for op in batch.checklist.route:
        runs = [run for run in batch.runs.values() if run.op == op and run.count and piece in run.pieces]
        assert runs, f"piece {piece} is finished and was never counted at op {op}"
        last = max(runs, key=lambda run: run.seq)
        assert last.count is not None
        marked = [mark.to for mark in last.count.marks if piece in mark.pieces]
        used_as_is = [
            entry for entry in batch.entries
            if entry.kind == "disposed" and entry.seq not in batch.struck and entry.body["decision"] == "use as is"
            and piece in entry.body["pieces"]
        ]  # fmt: skip
        waived = any(entry.body.get("waives_rework") for entry in used_as_is)
        passed = (marked == ["hold"] and used_as_is) or (marked == ["rework"] and waived)
        assert marked == [] or passed, f"piece {piece} at op {op}: {marked}"


def look_at_loose_pieces(faulty: int) -> tuple[Bench, int, int]:
    """Four pieces that lie loose at the last operation and were looked at: their load, and the entry."""
    bench = open_bench(start=4)
    bench.through(bench.form(10), 10, 20, 30)
    bench.through(bench.form(40))
    tote = bench.form(50)
    bench.until(tote, "measured 1")
    return bench, tote, bench.prove(tote, "measured 1", faulty=faulty).seq
