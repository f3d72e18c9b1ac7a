"""Which released runs lost a proof they relied on: judged from the raw entries, without the rules.

It replays the entries of both batches once per strike, so it knows which strike removed which proof. From `floor` it
reads only the checklist and the entries.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from floor.checklist.gates import Cured, LotRecorded
from floor.checklist.model import Checklist
from floor.checklist.operation import Do
from floor.entry import Entry

Pass = tuple[int, str, int]
"""Run, line, and the entry with which the run passed it."""

VOIDS = {
    "lifted": {"probed", "confirmed"},
    "tool changed": {"tool loaded"},
    "rezeroed": {"probed"},
    "refixtured": {"probed", "signed", "confirmed"},
    "power lost": {"probed", "confirmed"},
}


@dataclass
class Pass_:
    """One run, as the oracle keeps it."""

    body: dict[str, Any]
    pieces: set[int]
    started: int = 0
    ended: int = 0
    released: bool = False
    rested: dict[str, int | None] = field(default_factory=dict)
    """Line → what proved it when the run was counted."""
    late: bool = False
    decided: set[int] = field(default_factory=set)
    """Pieces out of limits, or possibly so, whose count will record the decision."""


@dataclass
class Out:
    """A piece measured out of limits."""

    key: tuple[Any, ...]
    many: int
    before: bool
    named: set[int] = field(default_factory=set)

    @property
    def open(self) -> bool:
        return self.many > len(self.named) or (self.before and self.many > 0)


@dataclass
class Replay:
    """The raw entries of one batch, some struck out, and what the other batch did at the same stations."""

    part: Checklist
    runs: dict[int, Pass_] = field(default_factory=dict)
    proofs: dict[tuple[Any, ...], tuple[int, dict[str, Any], int]] = field(default_factory=dict)
    voided: dict[tuple[Any, ...], int] = field(default_factory=dict)
    """Key → the place in the common record at which its proof became void."""
    marks: dict[tuple[Any, ...], int] = field(default_factory=dict)
    waived: dict[tuple[int, str], int] = field(default_factory=dict)
    lots: dict[str, int] = field(default_factory=dict)
    outs: dict[int, Out] = field(default_factory=dict)
    setups: dict[str, int] = field(default_factory=dict)
    """Station → its last set-up."""
    carriers: dict[int, tuple[str, int]] = field(default_factory=dict)
    """Load → its carrier."""
    cooling: set[int] = field(default_factory=set)
    doubtful: dict[int, set[int]] = field(default_factory=dict)
    """Run → pieces that went through it, or that may have."""
    unmet: set[Pass] = field(default_factory=set)
    rests_on: dict[tuple[int, str], int] = field(default_factory=dict)
    """(released run, line) → what proved it at its release."""

    def lines(self, run: Pass_, *phases: str) -> list[tuple[str, Any]]:
        operation = self.part.operation_for(run.body["op"], *self.carriers[run.body["load"]])
        found = [(key, step) for key, step in operation.numbered_steps if step.at in phases]
        if run.body.get("rework") and "load" in phases:
            route = next(one for one in self.part.reworks if one.id == run.body["rework"])
            found += [(f"rework {route.id} {n}", step) for n, step in enumerate(route.steps, 1)]
        return found

    def key(self, run: Pass_, line: str, step: Any) -> tuple[Any, ...]:
        number, body = run.body["run"], run.body
        if isinstance(step, Do):
            return ("setup", body["setup"], line) if step.at == "setup" else ("run", number, line)
        keys = {
            "probed": lambda: ("probed", body["load"], body["station"], step.offset),
            "tool loaded": lambda: ("tool loaded", body["station"], step.tool),
            "confirmed": lambda: ("confirmed", "shift", 0, body["op"], line),
        }
        return keys[step.gate]() if step.gate in keys else (step.gate, "run", number, line)

    def evidence(self, run: Pass_, line: str, step: Any) -> int | None:
        """The entry a line relies on now, 0 for a clock; None if nothing proves it."""
        waived = self.waived.get((run.body["run"], line))
        if waived:
            return waived
        if isinstance(step, Do):
            return self.marks.get(self.key(run, line, step))
        if isinstance(step, Cured):
            return 0 if run.pieces <= self.cooling else None
        if isinstance(step, LotRecorded):
            return self.lots.get(step.what)
        key = self.key(run, line, step)
        if step.gate == "measured" and run.decided and run.pieces <= run.decided:
            return 0  # none is left of which it could be measured
        if any(out.key == key and out.open for out in self.outs.values()):
            return None
        seq, values, _ = self.proofs.get(key, (0, {}, 0))
        for ask in step.asks():
            value = values.get(ask.name)
            if ask.only and value != ask.only:
                return None
            wrong = value is None or (ask.low is not None and value < ask.low) or (
                ask.high is not None and value > ask.high)  # fmt: skip
            if ask.kind in ("number", "whole") and wrong:
                return None
        return seq or None

    def past(self, run: Pass_, seq: int, lines: list[tuple[str, Any]], after: int | None = None) -> None:
        """A run passes lines; with ``after``, only those that became void later count."""
        for line, step in lines:
            if after is not None and (isinstance(step, Do) or self.voided.get(self.key(run, line, step), 0) < after):
                continue
            if self.evidence(run, line, step) is None:
                self.unmet.add((run.body["run"], line, seq))

    def void(
        self, station: str, kinds: set[str], at: int, load: int | None = None, tool: int | None = None, offset: str = ""
    ) -> None:
        for key in list(self.proofs):
            run = self.runs[self.proofs[key][2]]
            if key[0] not in kinds or run.body["station"] != station:
                continue
            if load is not None and (run.body["load"] != load or key[1] == "shift"):
                continue
            if tool is not None and key[0] == "tool loaded" and key[2] != tool:
                continue
            if offset and self.proofs[key][1].get("offset", key[-1]) != offset:
                continue
            del self.proofs[key]
            self.voided[key] = at

    def elsewhere(self, entry: Entry, struck: bool, at: int) -> None:
        """What the other batch did matters here too, whether this one was told or not."""
        body = entry.body
        if entry.kind == "disturbed" and not struck and body["what"] != "lifted" and "told" not in body:
            self.void(body["station"], VOIDS[body["what"]], at, tool=body.get("tool"), offset=body.get("offset", ""))
        if entry.kind == "run_begun" and body["new_setup"]:
            self.void(body["station"], {"probed", "tool loaded"}, at)

    def take(self, entry: Entry, at: int) -> None:
        body = entry.body
        if entry.kind == "run_begun":
            run = self.runs[body["run"]] = Pass_(body, set(body["pieces"]))
            self.setups[body["station"]] = body["setup"]
            alone = self.part.station(body["station"]).runs_at_once == 1
            for key in [key for key in self.proofs if key[0] == "probed"]:
                made_room = alone or key[1] in body.get("lifted", ())
                if (key[1] != body["load"] and key[2] == body["station"] and made_room) or (
                    key[1] == body["load"] and key[2] != body["station"]
                ):
                    del self.proofs[key]
                    self.voided[key] = at
            return
        if entry.kind == "disturbed":
            load = body.get("load") if body["what"] == "lifted" else None
            self.void(body["station"], VOIDS[body["what"]], at, load, body.get("tool"), body.get("offset", ""))
            if body["what"] == "refixtured":
                gone = ("setup", self.setups.get(body["station"]))
                self.marks = {key: seq for key, seq in self.marks.items() if key[:2] != gone}
        if entry.kind == "entered_late":
            self._entered_late(body, at)
        if entry.kind == "lot_opened":
            self.lots[body["what"]] = entry.seq
        if entry.kind == "load_formed":
            self.carriers[body["load"]] = body["carrier"], body["number"]
            pieces = {piece for piece in body["slots"] if piece}
            for found in self.doubtful.values():
                if body["carrier"] == "tote" and found & pieces:
                    found |= pieces
        if entry.kind in ("set_aside", "surplus_taken_out"):
            for run in self.runs.values():
                if not run.released and not self._counted(run):
                    run.pieces -= set(body["pieces"])
        for number in (body["run"], *body.get("along", ())) if "run" in body else ():
            if number in self.runs:
                self._at_run(self.runs[number], entry, at)

    def _at_run(self, run: Pass_, entry: Entry, at: int) -> None:
        """What was entered for a run, or for its cycle."""
        body = entry.body
        if entry.kind in ("step_done", "proved", "waived"):
            self._entered(run, entry, at)
        elif entry.kind in ("out_decided", "before_decided", "measured_again"):
            self._decided(run, body)
        elif entry.kind == "run_put_back":
            self._put_back(run, at)
        else:
            self._event(run, entry, at)

    def _counted(self, run: Pass_) -> bool:
        return run.body["run"] in self.doubtful

    def _entered_late(self, body: dict[str, Any], at: int) -> None:
        for row in body["rows"]:
            if "cooling" in dict(row.get("clocks", ())):
                self.cooling |= set(row["pieces"])
            if "load" not in row:
                continue
            operation = self.part.ops[row["op"]]
            self.carriers[row["load"]] = operation.carrier, row["number"]
            if "run" in row:
                over = row["stands"] == "over"
                told = {"station": operation.station, "setup": row["setup"]}
                self.runs[row["run"]] = Pass_(row | told, set(row["pieces"]), at, at if over else 0, late=True)
                self.cooling |= set(row["pieces"]) if over and row["op"] == 20 else set()

    def _put_back(self, run: Pass_, at: int) -> None:
        for key in list(self.proofs):
            mine = key[0] == "probed" and self.proofs[key][2] == run.body["run"]
            if mine or key[1:3] == ("run", run.body["run"]):
                del self.proofs[key]
                self.voided[key] = at
        run.pieces = set()

    def _decided(self, run: Pass_, body: dict[str, Any]) -> None:
        out = self.outs.get(body["out"])
        if out is None:
            return
        if "pieces" in body:
            out.named |= set(body["pieces"])
        elif "hold" in body:
            out.before = False
        elif body.get("good"):
            out.many -= 1
            seq, values, number = self.proofs[out.key]
            self.proofs[out.key] = seq, {**values, "value": body["value"]}, number
        run.decided |= set(body.get("mark", {}).get("pieces", ()))

    def _entered(self, run: Pass_, entry: Entry, at: int) -> None:
        line, body = entry.body["line"], entry.body
        if entry.kind == "waived":
            self.waived[run.body["run"], line] = entry.seq
        elif entry.kind == "proved":
            if "offset" in body["values"]:
                self.void(run.body["station"], {"probed"}, at, offset=body["values"]["offset"])
            if body.get("out"):
                self.outs[entry.seq] = Out(tuple(body["key"]), body["out"], bool(body.get("before")))
            self.proofs[tuple(body["key"])] = (entry.seq, body["values"], run.body["run"])
            if body["gate"] == "lot recorded":
                self.lots[body["key"][1]] = entry.seq
        else:
            step = dict(self.lines(run, "arrive", "setup", "load", "cycle", "after"))[line]
            self.marks[self.key(run, line, step)] = entry.seq

    def _event(self, run: Pass_, entry: Entry, at: int) -> None:
        before = self.lines(run, "arrive", "setup", "load")
        cycle = self.part.ops[run.body["op"]].cycle
        if entry.kind == "cycle_started":
            self.past(run, entry.seq, before, after=run.started or None)
            run.started = at
        elif entry.kind == "cycle_ended":
            self.past(run, entry.seq, before, after=run.started)
            run.ended = at
            if run.body["op"] == 20:
                self.cooling |= run.pieces
        elif entry.kind == "counted":
            self.past(run, entry.seq, self.lines(run, "after") + ([] if cycle and run.started else before))
            events = {"start": run.started, "end": run.ended} if cycle else {}
            self.unmet |= {(run.body["run"], line, entry.seq) for line, done in events.items() if not done}
            self.doubtful[run.body["run"]] = set(run.pieces)
            every = self.lines(run, "arrive", "setup", "load", "cycle", "after")
            run.rested = {line: self.evidence(run, line, step) for line, step in every}
        elif entry.kind == "released":
            run.released = True
            missed = {line for number, line, _ in self.unmet if number == run.body["run"]}
            for line, step in self.lines(run, "arrive", "setup", "load", "cycle", "after"):
                evidence = self.evidence(run, line, step)
                if evidence is None:  # what is void since the count counted then
                    evidence = run.rested.get(line)
                self.rests_on[run.body["run"], line] = evidence or 0
                if line in missed and evidence is None:
                    self.unmet.add((run.body["run"], line, entry.seq))


def struck_by(entries: list[Entry]) -> set[int]:
    """What these entries strike out, following strikes of strikes back from the last."""
    struck: set[int] = set()
    for entry in reversed(entries):
        if entry.kind == "struck_out" and entry.seq not in struck:
            struck.add(entry.body["seq"])
    return struck


def lots(entries: list[Entry], struck: set[int], run: Pass_, what: str) -> list[int]:
    """The entries for a run's lots: a run under way when another lot is opened keeps its own, or has both."""
    had: list[int] = []
    began = kept = False
    for entry in entries:
        body = entry.body
        told = entry.kind == "entered_late" and any(row.get("run") == run.body["run"] for row in body["rows"])
        began = began or told or (entry.kind == "run_begun" and body["run"] == run.body["run"])
        if entry.seq in struck:
            continue
        if entry.kind == "proved" and entry.body["key"] == ["lot recorded", what] and not kept:
            had = [entry.seq]
        elif entry.kind == "lot_opened" and entry.body["what"] == what:
            kept = began and bool(had)
            if not kept:
                had = [entry.seq]
            elif run.body["load"] in entry.body["into"]:
                had += [entry.seq]
    return had


@dataclass
class Oracle:
    """Which released runs of a batch lost a proof they relied on, and by which strike."""

    record: list[tuple[int, Entry]]
    """The entries of both batches in the order in which they were written."""
    part: Checklist

    def replay(self, batch: int, upto: int) -> Replay:
        """The whole record, with everything struck out that was by a given place."""
        early = self.record[:upto]
        struck = [struck_by([entry for one, entry in early if one == which]) for which in (0, 1)]
        found = Replay(self.part)
        for at, (which, entry) in enumerate(self.record, 1):
            gone = entry.seq in struck[which]
            if which != batch:
                found.elsewhere(entry, gone, at)
            elif not gone:
                found.take(entry, at)
        mine = [entry for which, entry in self.record if which == batch]
        for run in found.runs.values():
            for line, step in found.lines(run, "load"):
                if isinstance(step, LotRecorded) and (run.body["run"], line) not in found.waived:
                    found.unmet |= self._another_lot(mine, struck[batch], run, line, step.what)
        return found

    @staticmethod
    def _another_lot(mine: list[Entry], struck: set[int], run: Pass_, line: str, what: str) -> set[Pass]:
        """The points a run passed with lots other than the record now shows."""
        number, found = run.body["run"], set()
        for at, entry in enumerate(mine):
            if entry.kind in ("counted", "released") and entry.body["run"] == number and entry.seq not in struck:
                then = struck_by(mine[:at])
                if lots(mine[:at], then, run, what) != lots(mine[:at], struck, run, what):
                    found.add((number, line, entry.seq))
        return found

    def lost(self, batch: int) -> tuple[Replay, dict[tuple[int, str], int]]:
        """As of now: what released runs lost and have not proved again → the strike that removed it."""
        now = self.replay(batch, len(self.record))
        strikes = [at for at, (_, entry) in enumerate(self.record, 1) if entry.kind == "struck_out"]
        taken: dict[Pass, int] = {}
        left = set(now.unmet)
        for at in reversed(strikes) if left else ():
            # A point of the run that was struck out itself then, and counts again, is looked for further back.
            gone = struck_by([entry for which, entry in self.record[: at - 1] if which == batch])
            met = {one for one in left - self.replay(batch, at - 1).unmet if one[2] not in gone}
            taken |= dict.fromkeys(met, at)
            left -= met
        assert not left, f"passed unproved, with nothing struck out: {left}"
        lost: dict[tuple[int, str], int] = {}
        for (run, line, _), at in taken.items():
            which, strike = self.record[at - 1]
            again = now.rests_on.get((run, line), 0)
            since = self._place(batch, again) > at if again else False
            if now.runs[run].released and not since:
                lost[run, line] = max(at, lost.get((run, line), 0))
        return now, lost

    def _place(self, batch: int, seq: int) -> int:
        return next(at for at, (one, entry) in enumerate(self.record, 1) if one == batch and entry.seq == seq)
