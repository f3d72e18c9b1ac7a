"""Where the losses of a batch come from: each way of loss tested for places, order, carriers, tools, lots and more.

People are tried together and never named: a list of who scraps most would stop honest counts.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import Counter
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from enum import StrEnum
from typing import NamedTuple

from floor.batch.quality.loss_causes import LossPath, RunOutcome, count_pieces, list_outcomes_by_cause
from floor.batch.state import Batch
from floor.checklist.equipment import Carrier
from floor.dataclass import dataclass
from floor.figures.calendar import Calendar, Window, list_shift_spans, to_epoch
from floor.figures.quality.detection import estimate_pieces_to_detect
from floor.figures.quality.looks import Look, find_look
from floor.figures.quality.missing import Missing
from floor.figures.quality.patterns import Pattern, find_patterns
from floor.figures.quality.suspects import LoadResult, OperationResult, PlaceGroup, list_place_groups


class FactorKind(StrEnum):
    """What loads may have in common."""

    CARRIER = "carrier"
    STATION = "station"
    SETUP = "set-up"
    FIRST = "first load of a set-up"
    SHIFT = "shift"
    """One of the shop's."""
    STINT = "since a handover"
    TOOL = "tool"
    AGE = "pieces cut by the tool"
    LOT = "lot"
    ORDER = "order of the loads"


class Factor(NamedTuple):
    """A kind, and which tool or material it is of."""

    kind: FactorKind
    of: str = ""


@dataclass(frozen=True, slots=True)
class LossStudy:
    """The losses of a batch and what is behind them, as far as that can be told."""

    outcomes: Mapping[LossPath, Sequence[RunOutcome]]
    look: Look | None
    """The last look that was due; None before the first."""
    patterns: Sequence[Pattern]
    """The strongest first; the operation of each is its `LossPath`, the factor a key of `factors`."""
    factors: Mapping[str, Factor]
    to_detect: int | Missing
    """About how many more pieces until a place that loses twice as many as the others would be named."""

    def narrow(self, since: datetime | None) -> LossStudy:
        """With the runs begun then or later, as the key figures; what is tested stays that of the whole batch, as
        whoever chooses a time by what it shows would be told of luck more often.
        """
        if since is None:
            return self
        later = {path: [run for run in runs if run.begun >= since] for path, runs in self.outcomes.items()}
        return replace(self, outcomes={path: runs for path, runs in later.items() if runs})

    @property
    def named(self) -> list[Pattern]:
        """Those established, without those that a stronger one explains."""
        return [one for one in self.patterns if one.named and not one.explained]


def study_losses(batch: Batch, calendar: Calendar | None = None) -> LossStudy:
    """All losses up to now, tested as of the last look that was due.

    Args:
        calendar: the shop's shifts, which are tried where there are several; None if they cannot be read.
    """
    outcomes = list_outcomes_by_cause(batch)
    shifts = _list_shifts(calendar, outcomes)
    factors: dict[str, Factor] = {}
    dated = sorted(
        ((run.known, path, run) for path, runs in outcomes.items() for run in runs),
        key=lambda one: (one[0], one[1], one[2].run),
    )
    look = find_look([run.spoiled for _, _, run in dated])
    patterns: Sequence[Pattern] = ()
    if look is not None:
        seen: dict[LossPath, list[RunOutcome]] = {}
        for _, path, run in dated[: look.entries]:
            seen.setdefault(path, []).append(run)
        patterns = find_patterns([_prepare(batch, path, runs, factors, shifts) for path, runs in seen.items()], look)
    return LossStudy(outcomes, look, patterns, factors, _estimate_to_detect(batch, outcomes, look, len(patterns)))


_Shifts = Mapping[Window, Sequence[tuple[int, int]]]
"""Shift of the shop → its (from, to) in epoch seconds, in order."""


def _list_shifts(calendar: Calendar | None, outcomes: Mapping[LossPath, Sequence[RunOutcome]]) -> _Shifts:
    """The shop's shifts over the time of these runs; empty where it has only one."""
    times = [to_epoch(run.at) for runs in outcomes.values() for run in runs]
    if calendar is None or not times or len(calendar.list_windows()) < 2:
        return {}
    return list_shift_spans(calendar, min(times), max(times) + 1)


def _find_shift(run: RunOutcome, shifts: _Shifts) -> Window | None:
    """The shift that a run was made in; None between shifts."""
    at = to_epoch(run.at)
    for window, spans in shifts.items():
        n = bisect_right(spans, at, key=lambda span: span[0]) - 1
        if n >= 0 and at < spans[n][1]:
            return window
    return None


def _prepare(
    batch: Batch,
    path: LossPath,
    runs: Sequence[RunOutcome],
    factors: dict[str, Factor],
    shifts: _Shifts,
) -> OperationResult:
    ordered = sorted(runs, key=lambda run: (run.at, run.run))
    loads = [_prepare_load(run, n, factors, _find_shift(run, shifts)) for n, run in enumerate(ordered)]
    return OperationResult(path, loads, _list_groups(batch, path))


def _prepare_load(run: RunOutcome, order: int, factors: dict[str, Factor], shift: Window | None) -> LoadResult:
    def key(kind: FactorKind, of: str = "") -> str:
        name = f"{kind.value}:{of}"
        factors[name] = Factor(kind, of)
        return name

    labels: dict[str, Hashable] = {
        key(FactorKind.CARRIER): run.carrier,
        key(FactorKind.STATION): run.station,
        key(FactorKind.SETUP): run.setup,
        key(FactorKind.FIRST): run.first_of_setup,
        key(FactorKind.STINT): run.handovers,
    }
    if shift is not None:
        labels[key(FactorKind.SHIFT)] = shift
    values = {key(FactorKind.ORDER): float(order)}
    for what, lots in run.lots.items():
        labels[key(FactorKind.LOT, what)] = lots
    for stay, age in run.tools.items():
        labels[key(FactorKind.TOOL, f"T{stay.tool}")] = (stay.station, stay.changes)
        values[key(FactorKind.AGE, f"T{stay.tool}")] = float(age)
    bad = frozenset(n for n, one in enumerate(run.pieces) if one.spoiled is not None)
    places = tuple(one.place or None for one in run.pieces)
    in_order = None not in places  # loose pieces have numbers, given without knowing which is which
    return LoadResult(places, bad, labels, values, run.by, in_order)


def _list_groups(batch: Batch, path: LossPath) -> list[PlaceGroup]:
    carrier = _find_carrier(batch, path)
    if not carrier.positions or not carrier.columns:
        return []
    return list_place_groups({place: divmod(n, carrier.columns) for n, place in enumerate(carrier.positions)})


def _find_carrier(batch: Batch, path: LossPath) -> Carrier:
    return batch.checklist.carrier(batch.operation(path.caused).carrier)


def _estimate_to_detect(
    batch: Batch, outcomes: Mapping[LossPath, Sequence[RunOutcome]], look: Look | None, tries: int
) -> int | Missing:
    """For the way on which most pieces were lost of those whose carrier has places."""
    lost: Counter[LossPath] = Counter()
    for path, runs in outcomes.items():
        if len(_find_carrier(batch, path).positions) > 1:
            lost[path] = count_pieces(runs)[0]
    if not lost:
        return Missing.EMPTY
    (path, bad), *_ = lost.most_common(1)
    places = len(_find_carrier(batch, path).positions)
    pieces = count_pieces(outcomes[path])[1]
    return estimate_pieces_to_detect(bad, pieces, places, max(tries, places), look)
