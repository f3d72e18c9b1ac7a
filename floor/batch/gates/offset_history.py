"""A probed offset beside the earlier ones of its carrier and of its siblings, and the tilt of what was probed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any, NamedTuple

from floor.batch.load import Load
from floor.batch.proof import OffsetPlace, ProbedValues, Proof
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.checklist.gate_forms import FormField
from floor.checklist.gates import Axis, Probed
from floor.checklist.units import read_measure

if TYPE_CHECKING:  # opening a shop needs no statistics
    from floor.figures.offset_statistics import Comparison, OffsetJudgement

NOBODY_MINDS = 0.01
"""How far in mm an offset may be from the usual one before anybody is told (shop decision)."""
FINEST = {"in": 0.0001, "mm": 0.001}
"""Unit → the step in which it is read, where the limits of the file do not say."""


class UnusualOffset(NamedTuple):
    """One value out of its usual band."""

    said: str
    probed_twice: bool
    """Whether the same load was probed alike before."""


def record_probed(batch: Batch, run: Run, offset: str, seq: int, values: Mapping[str, Any]) -> None:
    """Keep what was probed of a run's carrier."""
    place = _place(batch, run, offset)
    batch.probed.setdefault(place, []).append(ProbedValues(seq, run.load, dict(values)))


def list_unusual_offsets(batch: Batch, run: Run, gate: Probed, proof: Proof) -> list[UnusualOffset]:
    """The values of a proof that are out of the band of the last ones, by robust statistics."""
    load = batch.loads[run.load]
    own, siblings = _list_earlier(batch, _place(batch, run, gate.offset), proof.seq)
    if not own and not siblings:
        return []
    found = []
    for ask in gate.asks():
        value = proof.values.get(ask.name)
        if ask.kind == "number" and isinstance(value, int | float):
            said = _judge(ask, float(value), [one for one in own if one.load != run.load], siblings)
            if said.verdict == "unusual":
                before = [one.values.get(ask.name) for one in own if one.load == run.load]
                found.append(_describe(batch, load, ask, float(value), said, before))
    return found


def _list_earlier(batch: Batch, here: OffsetPlace, seq: int) -> tuple[list[ProbedValues], list[list[ProbedValues]]]:
    """What was probed before an entry: of this carrier, and of each other of its kind by the same offset."""
    siblings = [
        [one for one in probed if one.seq < seq]
        for place, probed in batch.probed.items()
        if place != here and place._replace(number=here.number) == here
    ]
    return [one for one in batch.probed.get(here, ()) if one.seq < seq], siblings


def _place(batch: Batch, run: Run, offset: str) -> OffsetPlace:
    load = batch.loads[run.load]
    return OffsetPlace(run.station, run.op, load.carrier, load.carrier_number, offset)


def _judge(
    ask: FormField, value: float, own: Iterable[ProbedValues], siblings: Iterable[Iterable[ProbedValues]]
) -> OffsetJudgement:
    from floor.figures.offset_statistics import judge_offset

    return judge_offset(
        value,
        _values(ask, own),
        [_values(ask, each) for each in siblings],
        resolution=10.0**-ask.places if ask.places else FINEST.get(ask.unit, 0.001),
        least_half_width=NOBODY_MINDS / read_measure(f"1 {ask.unit or 'mm'}", "length").base,
    )


def _values(ask: FormField, probed: Iterable[ProbedValues]) -> list[float]:
    given = (one.values.get(ask.name) for one in probed)
    return [float(value) for value in given if isinstance(value, int | float)]


def _describe(
    batch: Batch, load: Load, ask: FormField, value: float, judged: OffsetJudgement, before: Iterable[object]
) -> UnusualOffset:
    by_own = judged.own.center is not None
    usual: Comparison = judged.own if by_own else judged.siblings
    assert usual.center is not None
    assert usual.half_width is not None
    whose = batch.format_carrier(load) if by_own else "others of its kind"
    low, high = (f"{usual.center + side * usual.half_width:.6g}" for side in (-1, 1))
    said = f"{ask.label} {value:.10g} {ask.unit}, usual on {whose}: {low} to {high} ({usual.count} readings)"
    twice = any(isinstance(one, int | float) and abs(one - value) <= usual.half_width for one in before)
    return UnusualOffset(said, twice)


def describe_tilt(gate: Probed, values: Mapping[str, Any]) -> str:
    """How much too far the probed heights fall, in a sentence; empty where they do not."""
    if gate.flat is None:
        return ""
    from floor.figures.offset_statistics import compute_tilt

    points = [point for axis in gate.axes for point in _point(axis, values)]
    tilt = compute_tilt(points)
    if tilt is None or tilt.fall <= gate.flat.base * (1 + 1e-9):
        return ""
    unit = gate.flat.number / gate.flat.base
    return f"tilted: {tilt.fall * unit:.3g} {gate.flat.unit} across the probed points (limit: {gate.flat})"


def _point(axis: Axis, values: Mapping[str, Any]) -> list[tuple[float, float, float]]:
    """A height with its place, in mm."""
    height = values.get(axis.name)
    limit = axis.low or axis.high
    if axis.x is None or axis.y is None or not isinstance(height, int | float):
        return []
    unit = limit.unit if limit is not None else axis.x.unit
    return [(axis.x.base, axis.y.base, float(height) * read_measure(f"1 {unit}", "length").base)]
