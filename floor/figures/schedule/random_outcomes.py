"""One random realization: each piece is good, reworked or lost at each operation, and every time is drawn.

The result is a problem of its own: runs are shorter by the pieces that never get there, loads go back with reworked
pieces or go on without them, and pieces that leave a load get loads of their own.
"""

from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import accumulate, chain
from math import ceil, exp, log, sqrt
from random import Random
from zlib import crc32

from floor.dataclass import dataclass
from floor.figures.schedule.model import (
    BatchModel,
    LoadModel,
    MakeUpLoads,
    Phase,
    PhaseKind,
    Precedence,
    ReworkPath,
    RunModel,
    RunOutcomes,
    SchedulingProblem,
)
from floor.figures.yields import Beta

_COMMON = 0.5
"""Share of a duration's variance common to all runs of an operation: a wrong estimate is wrong for every load."""

_NUMBERED = 1_000_000
"""Numbers of made-up pieces start here; no batch has that many."""

_NOTHING = (Phase(PhaseKind.CURE, 0.0),)


@dataclass(frozen=True, slots=True)
class Realization:
    """One realization: its problem, and the outcome of each run."""

    problem: SchedulingProblem
    lost: Sequence[tuple[str, str, int]]
    """(batch, run, pieces): lost there."""
    through: Sequence[tuple[str, str, int]]
    """(batch, run, pieces): good at the end of their last run."""


class RunSequence:
    """The runs of a problem, each after those it waits for, and which run is the last for which piece."""

    def __init__(self, problem: SchedulingProblem) -> None:
        self.problem = problem
        self.batches = {batch.id: batch for batch in problem.batches}
        runs = {run.id: (load, run) for load in problem.loads for run in load.runs}
        order: dict[str, None] = {}
        for first in runs:
            waiting = [first]
            while waiting:
                at = waiting[-1]
                before = [one for one in self._before(*runs[at]) if one not in order]
                waiting += before
                if not before:
                    order[waiting.pop()] = None
        self.runs = [runs[one] for one in order]
        self.last: dict[str, set[int]] = {}
        """Run → pieces for which it is the last."""
        later: dict[str, set[int]] = {}
        for load, run in reversed(self.runs):
            if run.fate is not None:
                known = later.setdefault(load.batch, set())
                self.last[run.id] = set(run.fate.pieces) - known
                known |= self.last[run.id]
        self.pieces = {batch: len(known) for batch, known in later.items()}
        """Batch → pieces known to the problem."""

    @staticmethod
    def _before(load: LoadModel, run: RunModel) -> Iterator[str]:
        place = load.runs.index(run)
        yield from (load.runs[place - 1].id,) if place else ()
        yield from (one.run for one in run.after)

    def with_make_up(self, added: Sequence[LoadModel]) -> "RunSequence":
        return RunSequence(replace(self.problem, loads=(*self.problem.loads, *added)))


def build_make_up_loads(batch: BatchModel, missing: int, times: int) -> tuple[LoadModel, ...]:
    """The loads that make up for so many pieces, with names and numbers of their own; none if none are known."""
    wanted = ceil(missing / batch.passing)
    found: MakeUpLoads | None = next((one for one in batch.make_up if one.pieces >= wanted), None)
    if found is None:
        found = batch.make_up[-1] if batch.make_up else MakeUpLoads(0, ())

    def named(id: str) -> str:
        return f"{id}, {batch.id} made up {times}"

    def renewed(run: RunModel) -> RunModel:
        fate = run.fate
        if fate is not None:
            fate = replace(fate, pieces=tuple(piece + _NUMBERED * times for piece in fate.pieces))
        after = tuple(replace(link, run=named(link.run)) for link in run.after)
        return replace(run, id=named(run.id), after=after, fate=fate)

    return tuple(replace(load, id=named(load.id), runs=tuple(map(renewed, load.runs))) for load in found.loads)


class RandomDraws:
    """What is drawn once for all runs of an operation, and what each run draws for itself.

    Each run's luck is seeded by its first piece, separately for times and pieces. So the promise for the rest does not
    change when a load is done, started, or renamed.

    Args:
        longest: minutes of the longest stretch with so many people in.
    """

    def __init__(self, seed: int, longest: Callable[[int], float]) -> None:
        self.random = Random(seed)
        self._seed = seed
        self._longest = longest
        self._common: dict[tuple[str, str, int], float] = {}
        self._shares: dict[tuple[str, str], tuple[float, float, float]] = {}

    def turn_to(self, batch: str, run: RunModel, what: str) -> None:
        """From now on, draw for this run: its times, or the fate of its pieces."""
        fate = run.fate
        piece, sent = (fate.pieces[0], bool(fate.sent)) if fate is not None and fate.pieces else (run.id, False)
        self.random.seed(self._seed_of(f"{what} {batch} {run.operation} {piece} {sent}"))

    def _seed_of(self, what: str) -> int:
        return self._seed ^ crc32(what.encode())

    def shares(self, batch: str, run: RunModel, fate: RunOutcomes) -> tuple[float, float, float]:
        """Share good at first, of the rest sent back, and of those saved: the true values this time."""
        of = batch, run.operation
        if of not in self._shares:
            known = fate.yields
            assert known is not None
            random = Random(self._seed_of(f"yields of {of}"))
            again = _share(known.again, random) if known.again is not None else 0.0
            saved = _share(known.saved, random) if known.saved is not None else 0.0
            self._shares[of] = _share(known.good, random), again, saved
        return self._shares[of]

    def some(self, pieces: Sequence[int], share: float) -> list[int]:
        """The pieces that a chance hits; costs time only for those."""
        if share <= 0:
            return []
        if share >= 1:
            return list(pieces)
        found: list[int] = []
        at, miss = -1, log(1 - share)
        while True:
            at += 1 + int(log(1.0 - self.random.random()) / miss)
            if at >= len(pieces):
                return found
            found.append(pieces[at])

    def run(self, batch: str, run: RunModel, pieces: int) -> RunModel:
        """The run with drawn times, for some of its pieces."""
        fate = run.fate
        missing = len(fate.pieces) - pieces if fate is not None else 0
        each = fate.each if fate is not None and fate.each and missing else ()
        phases = tuple(
            self._phase(batch, run, n, phase, max(phase.minutes - missing * each[n], 0.0) if each else phase.minutes)
            for n, phase in enumerate(run.phases)
        )
        setup = self._phase(batch, run, -1, run.setup, run.setup.minutes) if run.setup is not None else None
        if phases == run.phases and setup == run.setup:
            return run
        return RunModel(
            run.id,
            run.operation,
            run.station,
            phases,
            run.after,
            run.places,
            setup,
            run.family,
            run.allowed,
            run.under_way,
            run.fate,
            run.also_at,
        )

    def _phase(self, batch: str, run: RunModel, n: int, phase: Phase, expected: float) -> Phase:
        """A phase expected to take so many minutes, with drawn minutes."""
        if not phase.spread or not expected:
            return phase if expected == phase.minutes else _lasting(phase, expected)
        of = batch, run.operation, n
        if of not in self._common:
            self._common[of] = Random(self._seed_of(f"times of {of}")).gauss(0, 1)
        sigma = sqrt(log(1 + phase.spread**2))
        z = sqrt(_COMMON) * self._common[of] + sqrt(1 - _COMMON) * self.random.gauss(0, 1)
        minutes = expected * exp(sigma * z - sigma**2 / 2)
        if phase.kind is PhaseKind.ATTENDED and not phase.interruptible:
            # Work that no shift could hold would really stop at the end of one.
            minutes = min(minutes, max(expected, self._longest(phase.hands)))
        return _lasting(phase, minutes)


def _share(belief: Beta, random: Random) -> float:
    if belief.good == 0 or belief.bad == 0:
        return belief.mean
    return random.betavariate(belief.good, belief.bad)


def _lasting(phase: Phase, minutes: float) -> Phase:
    """The phase with another length. `replace` is far slower, and this runs for every phase of every draw."""
    return Phase(
        phase.kind,
        minutes,
        phase.hands,
        phase.interruptible,
        phase.outlasts_shift,
        phase.spread,
        phase.wait,
        phase.joined,
        phase.stands,
    )


class RealizationSampler:
    """Draws what happens to every piece and how long everything takes."""

    def __init__(self, luck: RandomDraws) -> None:
        self.luck = luck
        self.out: dict[str, set[int]] = defaultdict(set)
        """Batch → pieces lost, or gone from their loads."""
        self.made: dict[str, list[RunModel]] = {}
        """Run → what came of it, with the runs of the pieces it sent back."""
        self.more: list[LoadModel] = []
        self.lost: list[tuple[str, str, int]] = []
        self.through: list[tuple[str, str, int]] = []

    def go(self, route: RunSequence) -> Realization:
        """Draw the runs of a route. Runs drawn before stay; only make-up loads added since are new."""
        for load, run in route.runs[len(self.made) :]:
            self.luck.turn_to(load.batch, run, "times")
            self.made[run.id] = self._one(load, run, route.last.get(run.id, set()))
        loads = [
            replace(load, runs=tuple(chain.from_iterable(self.made[run.id] for run in load.runs)))
            for load in route.problem.loads
        ]
        waits_too = {run: made[-1].id for run, made in self.made.items() if len(made) > 1}
        if waits_too:
            loads = [replace(load, runs=tuple(_waiting(run, waits_too) for run in load.runs)) for load in loads]
        return Realization(replace(route.problem, loads=(*loads, *self.more)), self.lost, self.through)

    def _one(self, load: LoadModel, run: RunModel, last: set[int]) -> list[RunModel]:
        """A run as drawn, followed by the runs of the pieces that go back with their load."""
        batch, fate, out = load.batch, run.fate, self.out[load.batch]
        if fate is None:
            return [self.luck.run(batch, run, 0)]
        pieces = fate.pieces if out.isdisjoint(fate.pieces) else tuple(one for one in fate.pieces if one not in out)
        if fate.pieces and not pieces:
            self._through(batch, run, fate.waiting)
            return [
                replace(
                    run,
                    station=None,
                    phases=_NOTHING,
                    setup=None,
                    also_at=(),
                    allowed=(),
                    under_way=False,
                    after=tuple(Precedence(link.run) for link in run.after),
                )
            ]
        made = [self.luck.run(batch, run, len(pieces))]
        if fate.yields is not None:  # turning is slow, and nothing is drawn without them
            self.luck.turn_to(batch, run, "fate")
        for way, those in self._passed(batch, run, fate, pieces, out):
            if way.own:
                out.update(those)
                self._on_its_own(load, run, way, those)
                continue
            for template in way.legs[0].runs:
                again = _copied(template, those, f"{run.id} again {len(made)}")
                made.append(self.luck.run(batch, again, len(those)))
                assert again.fate is not None
                self._passed(batch, again, again.fate, those, out)
        self._through(batch, made[-1], len(last - out) + fate.waiting)  # the others wait for those that go back
        return made

    def _through(self, batch: str, run: RunModel, pieces: int) -> None:
        if pieces:
            self.through.append((batch, run.id, pieces))

    def _passed(
        self, batch: str, run: RunModel, fate: RunOutcomes, pieces: Sequence[int], out: set[int]
    ) -> list[tuple[ReworkPath, list[int]]]:
        """Draw what happens to the pieces at a run: some are lost, others go back, each by its path."""
        if fate.yields is None:
            return []
        random = self.luck.random
        good, again, saved = self.luck.shares(batch, run, fate)
        lost: list[int] = []
        if fate.sent:
            lost = self.luck.some([piece for piece in pieces if piece in fate.sent], 1 - saved)
            pieces = [piece for piece in pieces if piece not in fate.sent]
        back: dict[int, list[int]] = {}
        for piece in self.luck.some(pieces, 1 - good):
            if random.random() >= again:
                lost.append(piece)
            elif fate.ways:
                back.setdefault(_chosen(fate.ways, random), []).append(piece)
            elif random.random() >= saved:
                lost.append(piece)
        if lost:
            out.update(lost)
            self.lost.append((batch, run.id, len(lost)))
        return [(fate.ways[n], those) for n, those in back.items()]

    def _on_its_own(self, load: LoadModel, run: RunModel, way: ReworkPath, pieces: Sequence[int]) -> None:
        """Loads for pieces that leave their load for rework, to the end of the route."""
        before, left, lost = run.id, list(pieces), set[int]()
        for place, leg in enumerate(way.legs):
            runs: list[RunModel] = []
            for template in leg.runs:
                if left:
                    made = _copied(template, left, f"{run.id} by itself {place} {len(runs)}")
                    made = made if runs else replace(made, after=(Precedence(before),))
                    runs.append(self.luck.run(load.batch, made, len(left)))
                    before = made.id
                    assert made.fate is not None
                    self._passed(load.batch, made, made.fate, left, lost)
                    left = [piece for piece in left if piece not in lost]
            if runs:
                self.more.append(LoadModel(f"{run.id} by itself {place}", load.batch, tuple(runs), leg.carrier))
        if left:
            self.through.append((load.batch, before, len(left)))


def _copied(template: RunModel, pieces: Sequence[int], id: str) -> RunModel:
    """A run of so many pieces, copied from that of one."""
    fate = template.fate
    assert fate is not None
    more = len(pieces) - 1
    phases = template.phases
    if more:
        phases = tuple(
            _lasting(phase, phase.minutes + more * each) for phase, each in zip(phases, fate.each, strict=True)
        )
    sent = frozenset(pieces) if fate.sent else fate.sent
    return replace(template, id=id, phases=phases, fate=replace(fate, pieces=tuple(pieces), sent=sent))


def _waiting(run: RunModel, too: Mapping[str, str]) -> RunModel:
    """The run, also waiting for the last of those that went back."""
    more = [Precedence(too[link.run]) for link in run.after if link.run in too]
    return replace(run, after=(*run.after, *more)) if more else run


def _chosen(ways: Sequence[ReworkPath], random: Random) -> int:
    """Which path it is this time."""
    if len(ways) == 1:
        return 0
    shares = list(accumulate(way.share for way in ways))
    at = random.random() * shares[-1]
    return next(n for n, until in enumerate(shares) if at <= until)
