"""The time elements and quantities of ISO 22400-2, as far as the record has them: per station, and of the whole batch.

Every span is cut from what was entered: cycles from start to end without their stops, hand work from begin to release
within working hours. What several loads have at the same time counts once. For the whole batch the times of its
stations are added up, as the standard does for the work units of an order.

Planned busy time is working hours from first start to last release, less outages with no load there; an outage during
work is a delay. Set-up runs to the first start of the cycle, loading and waits at its gates within; hand work includes
its set-up. Only pieces at their first pass have planned time, so rework takes time and makes nothing. What a run lacks
leaves it out, by name. A count belongs to the run that made it, as its times do.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import datetime
from enum import StrEnum
from typing import NamedTuple

from floor.batch.counting.losses import find_lost_since
from floor.batch.counting.op_yields import PieceTally, iter_counts, iter_stated_counts, tally_counts
from floor.batch.load import LOST
from floor.batch.quality.cycle_spans import CycleSpans, list_cycle_spans
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.batch.walk.shared_cycles import group_by_cycle
from floor.checklist.expected_yields import list_operation_yields
from floor.checklist.model import Checklist
from floor.checklist.operation import Operation
from floor.dataclass import dataclass
from floor.figures.calendar import Calendar, WorkingTime, list_shift_spans
from floor.figures.key_figures import Absence, Amount, Input
from floor.figures.spans import CumulatedSpans, Span, intersect_spans, measure_spans, merge_spans, subtract_spans

MOMENT = 1e-3
"""Seconds."""
ASIDE = ("stopped", "spare", "trial")
"""Where pieces go that will be no product of the batch."""
TIMES_AT_A_STATION = (Input.PBT, Input.AUBT, Input.AUPT, Input.APT, Input.ASUT, Input.ADET, Input.APWT)


class LeftOut(StrEnum):
    """Why the times of a run are not in the figures."""

    LATE = "entered late"
    UNDER_WAY = "under way"
    NO_CYCLE = "no start or end of its cycle"


@dataclass(frozen=True, slots=True)
class TimeElements:
    """Of one station, or of the whole batch."""

    amounts: Mapping[Input, Amount]
    start: datetime
    end: datetime
    runs: int
    """Whose times are in the figures."""
    left_out: Mapping[LeftOut, int]
    identified: bool
    """Whether each piece was told apart from the others; otherwise first pass yield is an estimate."""


class RunWeight(NamedTuple):
    """By what a run bears its part of what its station and people cost, in seconds."""

    busy: float
    """That it kept its station busy, alone or beside others."""
    attended: float
    """In working hours that somebody worked on it."""


@dataclass(frozen=True, slots=True)
class BatchElements:
    """The elements of a batch and of each of its stations."""

    whole: TimeElements
    stations: Mapping[str, TimeElements]
    """Station → its elements, in the order of the checklist; those where nothing was begun are left out."""
    shifts: Mapping[str, TimeElements]
    """``shift 06:00 to 14:00`` → its elements, where the shop has several, and in those where something was done."""
    weigh_runs: Callable[[], Mapping[int, RunWeight]]
    """Run → its weight, of those with their times; worked out when asked for, as only the cost needs it."""


def compute_time_elements(
    batch: Batch, calendar: Calendar, now: datetime, since: datetime | None = None
) -> BatchElements:
    """The elements as of a moment.

    Args:
        since: only runs begun then or later.
    """
    end = batch.closed or now
    runs = [run for run in batch.runs.values() if not run.put_back and (since is None or run.begun >= since)]
    study = _Study(batch, calendar, runs, end, since)
    stations = {
        one.id: study.describe_station(one.id) for one in batch.checklist.stations if one.id in study.at_stations
    }
    start = min(max(batch.opened, since), end) if since is not None else batch.opened  # nothing since: no time either
    whole = study.describe_whole(stations.values(), start, since)
    return BatchElements(whole, stations, study.describe_shifts(calendar), study.weigh_runs)


def is_identified(batch: Batch, op: int) -> bool:
    """Whether pieces had their own places on every carrier up to this operation."""
    ops = batch.checklist.ops
    return all(batch.checklist.carrier(ops[one].carrier).positions for one in ops if one <= op)


def list_planned_losses(checklist: Checklist) -> dict[int, Amount]:
    """Operation → the share of pieces that the checklist expects to be lost there, rework taken into account."""
    found: dict[int, Amount] = {}
    for op, expected in zip(checklist.route, list_operation_yields(checklist), strict=True):
        reasons = checklist.ops[op].reasons
        open_ = expected.good < 1 and any(one.to == "rework" and one.share is None for one in reasons)
        found[op] = Absence.NOT_SPLIT if open_ else 1 - expected.good - expected.rework * expected.rework_yield
    return found


class _Study:
    """One pass over the record, shared by all stations."""

    def __init__(
        self, batch: Batch, calendar: Calendar, runs: Sequence[Run], end: datetime, since: datetime | None
    ) -> None:
        self.batch, self.runs, self.end = batch, runs, end
        self.spans: CycleSpans = list_cycle_spans(batch, end)
        self.left_out: dict[int, LeftOut] = {run.number: why for run in runs if (why := _find_gap(run, batch))}
        self.begun: dict[int, float] = {run.number: run.begun.timestamp() for run in runs}  # quicker to compare
        start = min([batch.opened, *([self._find_first(runs)] if runs else ())])
        first, last = int(start.timestamp()), int(end.timestamp()) + 1
        self.open: list[Span] = list(WorkingTime.of(calendar, start).list_manned_spans(first, last))
        self.hours = CumulatedSpans(self.open)
        timed = [run for run in runs if run.number not in self.left_out]
        self.losses = list_planned_losses(batch.checklist)
        self.there: dict[int, Span] = {
            run.number: (self.begun[run.number], run.released.timestamp()) for run in timed if run.released is not None
        }
        at: dict[str, list[Run]] = defaultdict(list)
        for run in runs:
            at[run.station].append(run)
        self.at_stations: Mapping[str, Sequence[Run]] = at
        self.tallies = {station: tally_counts(iter_counts(batch, mine)) for station, mine in at.items()}
        self.counted = self._merge_tallies(since)
        """In the period, by all stations."""
        self.produced_first = len(self.counted.pieces)
        """Whatever was counted passed the first operation, if perhaps before the period."""
        self.new = _count_new_pieces(batch)
        self.last_counts: dict[int, int] | None = None
        self.planned: list[tuple[list[Span], Amount]] | None = None
        """When each cycle ran, and its plan; only shifts ask for it."""
        self.attended: dict[int, tuple[tuple[str, Span], ...]] = {}
        self.period = first, last

    def describe_shifts(self, calendar: Calendar) -> dict[str, TimeElements]:
        """The elements of each shift, where there are several: a run counts where it was begun, its times in the
        shifts that they lie in.
        """
        windows = list_shift_spans(calendar, *self.period) if len(calendar.list_windows()) > 1 else {}
        found = {}
        for start, end in sorted(windows):
            spans = merge_spans(windows[start, end])
            begun = [run for run in self.runs if _is_in(spans, self.begun[run.number])]
            if begun:
                found[f"shift {start:%H:%M} to {end:%H:%M}"] = self._describe_shift(begun, spans)
        return found

    def _measure_all(self, within: Sequence[Span]) -> dict[Input, Amount]:
        """The times of all stations together, as far as they lie there."""
        parts = [
            self._measure(station, timed, within)
            for station, runs in self.at_stations.items()
            if (timed := [run for run in runs if run.number not in self.left_out])
        ]
        return {one: _add_up(part[one] for part in parts) for one in TIMES_AT_A_STATION}

    def _describe_shift(self, begun: Sequence[Run], spans: Sequence[Span]) -> TimeElements:
        amounts = self._measure_all(spans)
        mine = [run for run in begun if run.number not in self.left_out]
        amounts[Input.PRU] = self._plan_within(spans)
        tally = tally_counts(iter_counts(self.batch, begun))
        amounts |= {**self._count(tally, begun), Input.PQ_FIRST: len(tally.pieces)}
        gaps = Counter(self.left_out[run.number] for run in begun if run.number in self.left_out)
        identified = all(is_identified(self.batch, op) for op in tally.produced)
        return TimeElements(amounts, self._find_first(begun), self._find_last(mine), len(mine), gaps, identified)

    def _find_first(self, runs: Iterable[Run]) -> datetime:
        return min(runs, key=lambda run: self.begun[run.number]).begun

    def _find_last(self, timed: Sequence[Run]) -> datetime:
        """When the last of some runs was released."""
        last = max(timed, key=lambda run: self.there[run.number][1], default=None)
        return last.released if last is not None and last.released is not None else self.end

    def describe_station(self, station: str) -> TimeElements:
        runs = self.at_stations[station]
        timed = [run for run in runs if run.number not in self.left_out]
        gaps = Counter(self.left_out[run.number] for run in runs if run.number in self.left_out)
        tally = self.tallies[station]
        amounts = {**self._count(tally, runs), **self._measure(station, timed)}
        identified = all(is_identified(self.batch, op) for op in tally.produced)
        return TimeElements(amounts, self._find_first(runs), self._find_last(timed), len(timed), gaps, identified)

    def describe_whole(self, stations: Iterable[TimeElements], start: datetime, since: datetime | None) -> TimeElements:
        parts = list(stations)
        amounts: dict[Input, Amount] = {one: _add_up(part.amounts[one] for part in parts) for one in TIMES_AT_A_STATION}
        amounts[Input.PRU] = _plan_all([part.amounts[Input.PRU] for part in parts if part.runs])
        amounts[Input.AOET] = (self.end - start).total_seconds()
        amounts[Input.APAT] = Absence.ATTENDANCE
        amounts |= self._count_whole(since)
        gaps = sum((Counter(part.left_out) for part in parts), Counter[LeftOut]())
        runs = sum(part.runs for part in parts)
        identified = all(is_identified(self.batch, op) for op in self.batch.checklist.route)
        return TimeElements(amounts, start, self.end, runs, gaps, identified)

    def _count(self, tally: PieceTally, runs: Sequence[Run]) -> dict[Input, Amount]:
        """The pieces of a station or shift, as its last count left them, or a decision on them since."""
        mine = {run.number for run in runs}
        ends = {piece: self.batch.places[piece].where for piece, run in self._find_last_counts().items() if run in mine}
        found = tally.compute_amounts(self.batch, ends)
        found |= {Input.PSQ: self._plan_scrap(tally), Input.PQ_FIRST: self.produced_first}
        found[Input.PQ_ENDED] = found[Input.PQ]  # it has left the station, or was made in the shift
        return found | {Input.AOET: Absence.WHOLE_ORDER, Input.APAT: Absence.ATTENDANCE}

    def _find_last_counts(self) -> dict[int, int]:
        """Piece → the run that counted it last, of those lost or on hold where that run counted them."""
        if self.last_counts is None:
            ended: dict[int, set[int]] = defaultdict(set)
            for piece, place in self.batch.places.items():
                if place.where in ("hold", *LOST):
                    ended[place.op].add(piece)
            self.last_counts = {}
            for run in self.batch.runs.values():
                if run.count is not None and run.op in ended:
                    self.last_counts |= dict.fromkeys(ended[run.op].intersection(run.pieces), run.number)
        return self.last_counts

    def _count_whole(self, since: datetime | None) -> dict[Input, Amount]:
        """The pieces of the batch as they stand: those counted, and those lost without a count. Of those counted, what
        was stopped, kept as a spare or used in a trial is left out.
        """
        batch, tally = self.batch, self.counted
        known = {piece: place.where for piece, place in batch.places.items() if place.where not in ("load", "waiting")}
        in_rework = (piece for piece in batch.found if piece not in known and batch.find_rework_under_way(piece)[0])
        ends = {piece: where for piece, where in known.items() if where not in ASIDE} | dict.fromkeys(
            in_rework, "rework"
        )
        ended = {piece for piece, where in ends.items() if where in ("finished", *LOST)}
        if since is None:
            tally.pieces |= ended
            tally.marked.update(batch.found)
            tally.sent.update(batch.found)
        else:
            tally.pieces |= find_lost_since(batch, since)
        tally.pieces.difference_update(known.keys() - ends.keys())
        found = tally.compute_amounts(batch, ends)
        return found | {
            Input.PSQ: self._plan_scrap(tally),
            Input.PQ_FIRST: self.produced_first,
            Input.PQ_ENDED: len(tally.pieces & ended),
        }

    def _merge_tallies(self, since: datetime | None) -> PieceTally:
        """All stations together, and what was stated as counted before if it is of the whole time."""
        merged = tally_counts(iter_stated_counts(self.batch) if since is None else ())
        for tally in self.tallies.values():
            merged.merge(tally)
        return merged

    def _plan_scrap(self, tally: PieceTally) -> Amount:
        """Of the pieces that each operation produced, the share that the checklist expects to lose there."""
        shares = [(self.losses.get(op, 0.0), len(pieces)) for op, pieces in tally.produced.items()]
        known = [share * made for share, made in shares if not isinstance(share, Absence)]
        return sum(known) if len(known) == len(shares) else Absence.NOT_SPLIT

    def _measure(self, station: str, runs: Sequence[Run], within: Sequence[Span] | None = None) -> dict[Input, Amount]:
        """The times of a station in seconds: what ran, was set up, stood, was busy, was planned.

        Args:
            within: only what lies there, as of one shift; all if left out.
        """

        def cut(spans: Iterable[Span]) -> list[Span]:
            merged = merge_spans(spans)
            return merged if within is None else intersect_spans(merged, within)

        if not runs:
            return dict.fromkeys((*TIMES_AT_A_STATION, Input.PRU), Absence.NO_RUN)
        out = self.spans.outages.get(station, [])
        open_ = self.open if within is None else intersect_spans(self.open, within)
        hours = subtract_spans(open_, out)
        whole = merge_spans(self.there[run.number] for run in runs)
        there = cut(whole)
        ran = cut(span for run in runs for span in self.spans.ran.get(run.number, ()))
        by_hand = cut(self.there[run.number] for run in runs if not _has_cycle(self.batch, run))
        produced = merge_spans([*ran, *intersect_spans(by_hand, hours)])
        first = cut(self._list_setups(runs))
        setup = subtract_spans(intersect_spans(first, hours), produced)
        stood = cut(span for run in runs for span in self.spans.stopped.get(run.number, ()))
        stops = intersect_spans(merge_spans([*stood, *intersect_spans(out, there)]), open_)
        delay = subtract_spans(subtract_spans(stops, produced), setup)
        period = [(whole[0][0], whole[-1][1])] if whole else []
        planned = subtract_spans(intersect_spans(open_, period), subtract_spans(out, there))
        busy = merge_spans([*intersect_spans(there, open_), *ran])
        known_setup: Amount = measure_spans(setup)
        if all(not _has_cycle(self.batch, run) for run in runs):
            known_setup = Absence.SETUP_IN_WORK
        return {
            Input.PBT: measure_spans(planned),
            Input.AUBT: measure_spans(busy),
            Input.APT: measure_spans(produced),
            Input.ASUT: known_setup,
            Input.AUPT: measure_spans(produced) + measure_spans(setup),
            Input.ADET: measure_spans(delay),
            Input.APWT: self._attend(runs, within),
            Input.PRU: _plan_all(self._plan_runs(runs)),
        }

    def _plan_within(self, within: Sequence[Span]) -> Amount:
        """Planned seconds of the cycles of all stations as far as they lie there: a cycle that goes on into the next
        shift has its plan in both, as it has its time.
        """
        if self.planned is None:
            timed = [run for run in self.runs if run.number not in self.left_out]
            cycles = group_by_cycle(timed)
            self.planned = [*zip(map(self._find_produced, cycles), self._plan_runs(timed), strict=True)]
        there, amounts = CumulatedSpans(within), list[Amount]()
        for spans, amount in self.planned:
            share = sum(there.measure(*span) for span in spans) / (measure_spans(spans) or 1.0)
            if share:
                amounts.append(amount if isinstance(amount, Absence) else amount * share)
        return _plan_all(amounts)

    def _find_produced(self, together: Sequence[Run]) -> list[Span]:
        """When the cycle of some runs ran; hand work in working hours, a moment at its begin if it took no time."""
        if _has_cycle(self.batch, together[0]):
            found = merge_spans(span for run in together for span in self.spans.ran.get(run.number, ()))
        else:
            found = intersect_spans(merge_spans(self.there[run.number] for run in together), self.open)
        begun = self.begun[together[0].number]
        return found if measure_spans(found) else [(begun, begun + MOMENT)]

    def _plan_runs(self, runs: Sequence[Run]) -> list[Amount]:
        """Planned seconds of each cycle, for those of its pieces that pass its operation for the first time."""
        cycles: dict[tuple[int, int], Amount] = {}
        planned = []
        for together in group_by_cycle(runs):
            key = op, size = together[0].op, sum(self.new[run.number] for run in together)
            if key not in cycles:
                cycles[key] = _plan_cycle(self.batch.operation(op), size)
            planned.append(cycles[key])
        return planned

    def _list_setups(self, runs: Iterable[Run]) -> Iterable[Span]:
        """From the begin of the first run on each set-up to the first start of its cycle; the loading is in it."""
        for run in runs:
            setup = self.batch.setups.get(run.setup)
            ran = self.spans.ran.get(run.number)
            if setup is not None and ran and setup.op == run.op and setup.at == run.begun:
                yield self.there[run.number][0], ran[0][0]

    def _attend(self, runs: Sequence[Run], within: Sequence[Span] | None = None) -> float:
        """Seconds of work by people, each person's added up; somebody at two loads at once counts once."""
        people: dict[str, list[Span]] = defaultdict(list)
        for run in runs:
            for who, span in self._list_attended(run):
                people[who] += [span] if within is None else intersect_spans([span], within)
        return sum(measure_spans(intersect_spans(merge_spans(spans), self.open)) for spans in people.values())

    def weigh_runs(self) -> dict[int, RunWeight]:
        return {run.number: self._weigh(run) for run in self.runs if run.number not in self.left_out}

    def _weigh(self, run: Run) -> RunWeight:
        begun, released = self.there[run.number]
        ran = merge_spans(self.spans.ran.get(run.number, ()))
        both = sum(self.hours.measure(*span) for span in intersect_spans(ran, [(begun, released)]))
        busy = self.hours.measure(begun, released) + measure_spans(ran) - both
        attended = merge_spans(span for _, span in self._list_attended(run))
        return RunWeight(busy, sum(self.hours.measure(*span) for span in attended))

    def _list_attended(self, run: Run) -> tuple[tuple[str, Span], ...]:
        """(who, span) of the work by people at a run; kept, as the cost asks for it again."""
        found = self.attended.get(run.number)
        if found is None:
            found = self.attended[run.number] = tuple(self._iter_attended(run))
        return found

    def _iter_attended(self, run: Run) -> Iterable[tuple[str, Span]]:
        begun, released = self.there[run.number]
        if run.started is None or run.ended is None:
            yield run.by, (begun, released)
            return
        ran = self.spans.ran.get(run.number, ())
        if len(ran) == 1 and run.number not in self.spans.stopped:
            started, ended = ran[0]  # without a stop it says the same
        else:
            started, ended = run.started.timestamp(), run.ended.timestamp()
        yield run.started_by or run.by, (begun, started)
        yield run.released_by, (ended, released)
        if self.batch.operation(run.op).time.cycle_attended:
            for span in ran:
                yield run.started_by, span


def _find_gap(run: Run, batch: Batch) -> LeftOut | None:
    if run.late:
        return LeftOut.LATE
    if run.released is None:
        return LeftOut.UNDER_WAY
    if _has_cycle(batch, run) and (run.started is None or run.ended is None):
        return LeftOut.NO_CYCLE
    return None


def _is_in(spans: Sequence[Span], at: float) -> bool:
    """Whether a moment is in one of some spans in order, each without its end."""
    n = bisect_right(spans, (at, float("inf"))) - 1
    return n >= 0 and spans[n][0] <= at < spans[n][1]


def _has_cycle(batch: Batch, run: Run) -> bool:
    return batch.operation(run.op).cycle


def _count_new_pieces(batch: Batch) -> dict[int, int]:
    """Run → its pieces that no run of the operation had before, and nobody stated as counted there: of the whole
    batch, as rework is none wherever the first pass was, in another shift, before the period or at another station.
    """
    told = batch.late.counted if batch.late is not None else {}
    seen: dict[int, set[int]] = defaultdict(set, {op: set(said) for op, said in told.items()})
    new = {}
    for run in batch.runs.values():
        if not run.put_back:
            known = seen[run.op]
            before = len(known)
            known.update(run.pieces)
            new[run.number] = len(known) - before
    return new


def _plan_cycle(operation: Operation, pieces: int) -> Amount:
    time = operation.time
    if not pieces:
        return 0.0
    cycle = time.seconds("cycle", pieces) + operation.turns * time.seconds("turn", pieces)
    planned = cycle if operation.cycle else time.seconds("before", pieces) + cycle + time.seconds("after", pieces)
    return planned or Absence.NO_PLAN


def _plan_all(planned: Sequence[Amount]) -> Amount:
    """The sum, or that one is missing: else what was produced without a plan would look fast."""
    absent = next((one for one in planned if isinstance(one, Absence)), None)
    if absent is not None or not planned:
        return absent or Absence.NO_RUN
    return _add_up(planned)


def _add_up(amounts: Iterable[Amount]) -> Amount:
    """The sum of those that are known; the first reason if none is."""
    given = list(amounts)
    known = [one for one in given if not isinstance(one, Absence)]
    if known:
        return sum(known)
    return next((one for one in given if isinstance(one, Absence)), Absence.NO_RUN)
