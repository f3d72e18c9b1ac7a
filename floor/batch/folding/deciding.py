"""What is read out of limits, and what is decided about it."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from typing import Any

from floor.batch.folding.base import Inapplicable, kind, need
from floor.batch.gates import outside, said
from floor.batch.run import CountMark, Run
from floor.batch.state import Batch
from floor.batch.unsettled import Decided, OutOfLimits
from floor.checklist.gates import Measured
from floor.entry import Entry


def read_out(batch: Batch, entry: Entry, run: Run, gate: Measured, at: datetime) -> OutOfLimits:
    """What the reading of an entry means: of a piece, one of the run's; of a station, all that is in it now."""
    in_it = [one for one in batch.open_runs() if one.station == run.station and (one is run or one.running)]
    among = run.undecided if gate.of_piece else [piece for one in in_it for piece in one.pieces]
    wrong = dict.fromkeys(outside(gate.asks(), entry.body["values"]))
    return OutOfLimits(
        seq=entry.seq, run=run.number, op=run.op, line=entry.body["line"], key=tuple(entry.body["key"]),
        title=gate.title(), said="; ".join(wrong), by=entry.by, at=at,
        of_piece=gate.of_piece, many=int(entry.body["out"]), among=frozenset(among),
        before=int(entry.body.get("before", 0)),
    )  # fmt: skip


def _out_of(batch: Batch, entry: Entry) -> OutOfLimits:
    one = batch.out.get(entry.body["out"])
    if one is None:
        raise Inapplicable(entry, f"entry {entry.body['out']} read nothing out of limits")
    return one


def _commit(batch: Batch, entry: Entry, mark: dict[str, Any]) -> None:
    """What the count of the run will say of these pieces; until then they ride on."""
    run = batch.runs[entry.body["run"]]
    need(entry, run.count is None and set(mark["pieces"]) <= set(run.pieces), "the pieces are not in the run any more")
    said = CountMark(mark["to"], mark["reason"], tuple(mark["pieces"]), mark.get("note", ""))
    for piece in said.pieces:
        run.decided[piece] = said


@kind
def _out_decided(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    one = _out_of(batch, entry)
    need(entry, len(set(body["pieces"]) - one.named) <= one.left, "that many were not out")
    one.decided.append(Decided(tuple(body["pieces"]), body["where"], body["to"], entry.by))
    if "mark" in body:
        _commit(batch, entry, body["mark"])


@kind
def _before_decided(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    one = _out_of(batch, entry)
    need(entry, one.asks_before, "those before it are already decided")
    why = f", the others not: {body['reason']}" if body.get("reason") else ""
    one.before_said = f"{body['hold']} of {body['of']} on hold{why} ({entry.by})"
    if "mark" in body:
        _commit(batch, entry, body["mark"])


@kind
def _measured_again(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    one, proof = _out_of(batch, entry), batch.proofs.get(_out_of(batch, entry).key)
    need(entry, proof is not None and one.left > 0, "that reading is already decided, or its proof is void")
    assert proof is not None
    gate = batch.operation(one.op).step(one.line)
    assert isinstance(gate, Measured)
    name = gate.asks()[0].name
    read = said(gate.asks(), {name: body["value"]})
    one.again.append(f"the same piece again {read}, {body['reason']} ({entry.by})")
    if not body.get("good"):
        return
    one.many -= 1
    given = proof.values[name]
    values = _in_its_place(gate, given if isinstance(given, list) else [given], body["value"])
    kept: Any = given - 1 if gate.accept else values if isinstance(given, list) else values[0]
    batch.proofs[one.key] = replace(proof, values={**proof.values, name: kept})
    if gate.asks() and not outside(gate.asks(), {name: kept}):
        batch.runs[one.run].reopened.discard(one.line)


def _in_its_place(gate: Measured, given: list[Any], value: Any) -> list[Any]:
    """The readings with the first that was out set right."""
    at = next((n for n, old in enumerate(given) if outside(gate.asks(), {"value": old})), 0)
    return [*given[:at], value, *given[at + 1 :]]


@kind
def _out_settled(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    one = _out_of(batch, entry)
    need(entry, one.open, "it is already decided")
    one.settled = f"{body['how']}, {body['reason']} ({entry.by})"
