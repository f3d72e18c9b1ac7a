"""A probed offset beside the earlier ones of its carrier and of its siblings, and the tilt of what was probed."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import TYPE_CHECKING, Any, NamedTuple

from floor.batch.gates.check_values import find_values_outside, is_same_text
from floor.batch.load import Load
from floor.batch.proof import OffsetPlace, ProbedLast, ProbedPlace, ProbedValues, Proof
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.checklist.gate_forms import FormField
from floor.checklist.gates import Axis, Gate, Probed
from floor.checklist.units import Measure, read_measure

if TYPE_CHECKING:  # opening a shop needs no statistics
    from floor.figures.offset_statistics import Comparison, OffsetJudgement

NOBODY_MINDS = 0.01
"""How far in mm an offset may be from the usual one before anybody is told (shop decision)."""
NO_LOAD = 0
"""Stands for the load of another batch."""
MUCH = 0.1
"""How far in mm a carrier seated again may be from where it was before somebody looks (common practice, no source)."""
FINEST = {"in": 0.0001, "mm": 0.001}
"""Unit → the step in which it is read, where the limits of the file do not say."""


class UnusualOffset(NamedTuple):
    """One value out of its usual band."""

    said: str
    probed_twice: bool
    """Whether the same load was probed alike before."""


def record_probed(
    batch: Batch, run: Run, offset: str, seq: int, values: Mapping[str, Any], last: Mapping[str, float]
) -> None:
    """Keep what was probed of a run's carrier, behind what was probed of it last for another batch."""
    known = batch.probed.setdefault(_place(batch, run, offset), [])
    if last and not known:
        known.append(ProbedValues(seq - 1, NO_LOAD, dict(last)))
    known.append(ProbedValues(seq, run.load, dict(values)))


def find_last_elsewhere(
    batch: Batch, run: Run, gate: Gate, find_probed: Callable[[ProbedPlace], ProbedLast | None]
) -> dict[str, float]:
    """What was probed last of this carrier for another batch of the part; empty if it was probed for this one.

    Only where the file says how the carrier repeats: else it may be put elsewhere on the table for each batch.
    """
    if not isinstance(gate, Probed) or gate.repeats is None:
        return {}
    here = _place(batch, run, gate.offset)
    last = None if here in batch.probed else find_probed(ProbedPlace(batch.checklist.part.number, here))
    names = {axis.name for axis in gate.axes}
    return {} if last is None else {name: value for name, value in last.values.items() if name in names}


def list_last_probed(batch: Batch) -> dict[ProbedPlace, ProbedLast]:
    """What was probed last of each carrier whose file says how it repeats."""
    places = [ProbedPlace(batch.checklist.part.number, place) for place in batch.probed]
    return {place: last for place in places if (last := find_last_probed(batch, place)) is not None}


def find_last_probed(batch: Batch, place: ProbedPlace) -> ProbedLast | None:
    """What was probed last of this carrier for a batch; None if nothing was, or its file says nothing of repeating."""
    here = place.place
    if batch.checklist.part.number != place.part or here not in batch.probed:
        return None
    if not any(isinstance(step, Probed) and step.repeats is not None for step in batch.operation(here.op).steps):
        return None
    own = (one for one in reversed(batch.probed[here]) if one.load != NO_LOAD and _is_of_offset(one, here.offset))
    last = next(own, None)
    if last is None:
        return None
    values = {name: value for name, value in last.values.items() if isinstance(value, int | float)}
    return ProbedLast(batch.entries[last.seq - 1].time.timestamp(), values)


def list_unusual_offsets(batch: Batch, run: Run, gate: Probed, proof: Proof) -> list[UnusualOffset]:
    """The values of a proof that are off: by what the file says of the last one, else by the band of earlier ones."""
    load = batch.loads[run.load]
    here = _place(batch, run, gate.offset)
    own, siblings = _list_own(batch, here, proof.seq), [*_list_siblings(batch, here, proof.seq).values()]
    if not own and not siblings:
        return []
    found = []
    for ask, value in _list_numbers(gate, proof):
        if gate.repeats is not None and own:
            found += _judge_repeat(batch, load, ask, value, _list_counted(ask, here, own), gate.repeats)
            continue
        said = _judge(ask, value, [one for one in own if one.load != run.load], siblings)
        if said.verdict == "unusual":
            before = [one.values.get(ask.name) for one in own if one.load == run.load]
            found.append(_describe(batch, load, ask, value, said, before))
    return found


def describe_difference(batch: Batch, run: Run, gate: Probed, proof: Proof) -> str:
    """How far a proof is from the last of its carrier, or for want of one from others of its kind; empty if it is near.

    It holds nobody up: among so few, a carrier put elsewhere on purpose looks like one that sits on a chip. Of carriers
    with other offsets only heights can be alike, where the file has one pair of limits for all.
    """
    here = _place(batch, run, gate.offset)
    own = _list_own(batch, here, proof.seq)
    if own:
        return _compare_with_own(batch, run, gate, proof, own) if gate.repeats is None else ""
    siblings = _list_siblings(batch, here, proof.seq, by_any_offset=True)
    alike = {axis.name for axis in gate.axes if not axis.offset and axis.name.startswith(("Z", "z"))}
    said = []
    for ask, value in _list_numbers(gate, proof):
        near = [at for at in siblings if at.offset == here.offset or ask.name in alike]
        counted = [_list_counted(ask, at, siblings[at]) for at in near]
        latest = sorted(each[-1][1] for each in counted if each)
        if latest:
            said.append(_say_off(ask, value, latest, latest[len(latest) // 2], "on others of its kind"))
    return "; ".join(filter(None, said))


def _compare_with_own(batch: Batch, run: Run, gate: Probed, proof: Proof, own: list[ProbedValues]) -> str:
    whose = f"on {batch.format_carrier(batch.loads[run.load])}"
    said = []
    for ask, value in _list_numbers(gate, proof):
        earlier = [read for _, read in _list_counted(ask, _place(batch, run, gate.offset), own)]
        if earlier:
            said.append(_say_off(ask, value, earlier, earlier[-1], whose))
    return "; ".join(filter(None, said))


def _list_numbers(gate: Probed, proof: Proof) -> list[tuple[FormField, float]]:
    given = [(ask, proof.values.get(ask.name)) for ask in gate.asks() if ask.kind == "number"]
    return [(ask, float(value)) for ask, value in given if isinstance(value, int | float)]


def _list_own(batch: Batch, here: OffsetPlace, seq: int) -> list[ProbedValues]:
    """What was probed of a carrier before an entry."""
    return [one for one in batch.probed.get(here, ()) if one.seq < seq]


def _list_siblings(
    batch: Batch, here: OffsetPlace, seq: int, by_any_offset: bool = False
) -> dict[OffsetPlace, list[ProbedValues]]:
    """What was probed before an entry of each other carrier of its kind, by the same offset or by any."""
    return {
        place: [one for one in probed if one.seq < seq]
        for place, probed in batch.probed.items()
        if place.number != here.number
        and place._replace(number=here.number, offset=here.offset if by_any_offset else place.offset) == here
    }


def _list_counted(ask: FormField, at: OffsetPlace, probed: Iterable[ProbedValues]) -> list[tuple[int, float]]:
    """(load, value) of each that was in limits and of the right offset: others never counted."""
    return [
        (one.load, float(one.values[ask.name]))
        for one in probed
        if ask.name in one.values and _is_of_offset(one, at.offset) and not find_values_outside((ask,), one.values)
    ]


def _is_of_offset(one: ProbedValues, offset: str) -> bool:
    """Whether it was not probed by another offset, by a slip."""
    return is_same_text(str(one.values.get("offset", offset)), offset)


def _say_off(ask: FormField, value: float, earlier: list[float], last: float, whose: str) -> str:
    """How far a value is from one of earlier ones; empty if nobody minds, or it is in the usual band of many."""
    from floor.figures.offset_statistics import Verdict, compare_with_earlier

    verdict = compare_with_earlier(value, earlier, **_tolerances(ask)).verdict
    far = _is_off(value, last, MUCH / _size(ask)) if verdict is Verdict.TOO_FEW else verdict is Verdict.UNUSUAL
    return f"{ask.name} is {_format_off(ask, value, last)} {whose}" if far else ""


def _judge_repeat(
    batch: Batch, load: Load, ask: FormField, value: float, own: list[tuple[int, float]], within: Measure
) -> list[UnusualOffset]:
    """Whether a value is farther than the file allows from the one that stands of its carrier.

    One that was off stands once the same load was probed alike again.

    Args:
        own: (load, value) of each earlier one that was counted.
    """
    if not own:
        return []
    most = within.base / _size(ask)
    stands, before = own[0][1], own[0]
    for one in own[1:]:
        repeated = one[0] == before[0] and not _is_off(one[1], before[1], most)
        if repeated or not _is_off(one[1], stands, most):
            stands = one[1]
        before = one
    if not _is_off(value, stands, most):
        return []
    twice = before[0] == load.number and not _is_off(value, before[1], most)
    off = f"{_format_off(ask, value, stands)} on {batch.format_carrier(load)}"
    return [UnusualOffset(f"{ask.label} {value:.10g} {ask.unit}, {off} (limit: {within})", twice)]


def _is_off(value: float, other: float, most: float) -> bool:
    return abs(value - other) > most * (1 + 1e-9)


def _format_off(ask: FormField, value: float, other: float) -> str:
    return f"{abs(value - other):.4g} {ask.unit} off the earlier {other:.10g} {ask.unit}"


def _size(ask: FormField) -> float:
    """Its unit in mm."""
    return read_measure(f"1 {ask.unit or 'mm'}", "length").base


def _tolerances(ask: FormField) -> dict[str, float]:
    """How finely it is read, and how far it may be off before anybody minds, in its unit."""
    resolution = 10.0**-ask.places if ask.places else FINEST.get(ask.unit, 0.001)
    return {"resolution": resolution, "least_half_width": NOBODY_MINDS / _size(ask)}


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
        **_tolerances(ask),
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
