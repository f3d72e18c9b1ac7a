"""The planner's input and output, as plain values.

Durations are minutes, instants aware datetimes. A problem is the shop as it stands at `now`, with only the work still
to do.
"""

from collections.abc import Mapping
from datetime import datetime
from enum import StrEnum

from floor.dataclass import dataclass
from floor.figures.calendar import Calendar
from floor.figures.yields import Beta


class PhaseKind(StrEnum):
    """The kind of a stretch of a run."""

    SETUP = "setup"
    """Attended; not needed if the station last ran the same family."""
    ATTENDED = "attended"
    """Needs operators all the time, and so a shift."""
    UNATTENDED = "unattended"
    """Holds the station without an operator: a cycle, a bake."""
    CURE = "cure"
    """Elapsed time that holds the carrier; as the last phase of a run it frees the station."""
    WAIT = "wait"
    """In plans only: at the station, idle, until an operator or a shift comes."""


@dataclass(frozen=True, slots=True)
class Phase:
    """A stretch of a run.

    Attributes:
        kind: ATTENDED, UNATTENDED or CURE (a run's set-up is a separate ATTENDED phase).
        minutes: how long; 0 is allowed.
        hands: operators needed throughout; attended phases only.
        interruptible: attended work may pause over breaks and between shifts.
        stands: such work may be left half done over closed days: a weekend, a holiday. Work longer than any shift
            always may.
        outlasts_shift: an unattended phase may continue when nobody is in the shop.
        spread: relative standard deviation of the duration, for the forecast; 0 is exact.
        wait: most minutes between the end of the phase before and its start; None is any time.
        joined: started by hand at the end of the phase before. If it would wait there over a night or weekend, the run
            starts later to avoid that, if one later start is enough.
    """

    kind: PhaseKind
    minutes: float
    hands: int = 1
    interruptible: bool = False
    outlasts_shift: bool = True
    spread: float = 0.0
    wait: float | None = None
    joined: bool = False
    stands: bool = True


@dataclass(frozen=True, slots=True)
class StartWindow:
    """Start allowed from `earliest` to `latest` minutes after the end of another run; no latest means no limit."""

    earliest: float = 0.0
    latest: float | None = None


@dataclass(frozen=True, slots=True)
class Precedence:
    """A run that must have ended first; the start must be in one of the windows counted from its end."""

    run: str
    windows: tuple[StartWindow, ...] = (StartWindow(),)


@dataclass(frozen=True, slots=True)
class StartSpan:
    """Start allowed between two instants, both included; None is open."""

    earliest: datetime | None = None
    latest: datetime | None = None


@dataclass(frozen=True, slots=True)
class YieldBeliefs:
    """The beliefs about an operation's yields, shared by all its runs.

    Attributes:
        good: share good at the first pass.
        again: share of the others sent to rework.
        saved: share of those good after it.
    """

    good: Beta
    again: Beta | None = None
    saved: Beta | None = None


@dataclass(frozen=True, slots=True)
class ReworkLeg:
    """The part of a rework path spent on one carrier: its runs, each with the times and fate of one piece."""

    carrier: str | None
    runs: tuple["RunModel", ...]


@dataclass(frozen=True, slots=True)
class ReworkPath:
    """The path of pieces an operation rejected, until it passes them or they are lost.

    Attributes:
        share: how often pieces take this path.
        own: the pieces leave their load and go on to the end without it; else the load goes back with them and waits.
    """

    share: float
    own: bool
    legs: tuple[ReworkLeg, ...]


@dataclass(frozen=True, slots=True)
class RunOutcomes:
    """What may happen to the pieces of a run, for the spread of the finish.

    Attributes:
        pieces: their numbers in the batch.
        each: minutes each piece adds to each phase.
        yields: None if every piece passes, or has passed.
        sent: pieces this operation sent to rework: they are saved or lost.
        ways: rework paths; without any, saved pieces cost no time.
        waiting: pieces of the load with nothing left to pass, finished when the load is.
    """

    pieces: tuple[int, ...]
    each: tuple[float, ...] = ()
    yields: YieldBeliefs | None = None
    sent: frozenset[int] = frozenset()
    ways: tuple[ReworkPath, ...] = ()
    waiting: int = 0


@dataclass(frozen=True, slots=True)
class RunModel:
    """One load's pass through one operation, or the rest of it.

    Attributes:
        id: unique in the problem.
        operation: what the operator calls it; named in every message.
        station: None if it needs no station (a cure on the rack).
        phases: in order; a run under way has only those left.
        after: other runs that must be over. The run before in the same load always must, and is named only to state
            its windows. A load that takes pieces from several loads names the last run of each.
        places: how many places of the station it takes.
        also_at: other stations that can do it, with the places it takes there.
        setup: attended phase before the others, left out if the station last ran the same family.
        family: what the set-up is for; None means the operation.
        allowed: spans in which it may start; empty means any time.
        under_way: it is at its station now; the phases left start at `now`.
        fate: what may happen to its pieces; None if nothing is known.
    """

    id: str
    operation: str
    station: str | None
    phases: tuple[Phase, ...]
    after: tuple[Precedence, ...] = ()
    places: int = 1
    setup: Phase | None = None
    family: str | None = None
    allowed: tuple[StartSpan, ...] = ()
    under_way: bool = False
    fate: RunOutcomes | None = None
    also_at: tuple[tuple[str, int], ...] = ()


@dataclass(frozen=True, slots=True)
class LoadModel:
    """The runs left of one load, in order, on one carrier from the start of the first to the end of the last.

    Attributes:
        carrier: kind of carrier; None for a load on nothing that is counted.
        holds_carrier: it already has one.
        release: starts no earlier than this instant.
    """

    id: str
    batch: str
    runs: tuple[RunModel, ...]
    carrier: str | None = None
    holds_carrier: bool = False
    release: datetime | None = None


@dataclass(frozen=True, slots=True)
class MakeUpLoads:
    """The loads that so many extra pieces would be, started as soon as too few are left."""

    pieces: int
    loads: tuple[LoadModel, ...]


@dataclass(frozen=True, slots=True)
class BatchModel:
    """An order whose loads compete with those of others.

    Attributes:
        due: lateness against this instant comes before everything else.
        weight: how much an hour late counts against the hours of other batches.
        wanted: good pieces still to come; the last of these finishes the batch. None means all pieces.
        passing: share of extra pieces expected to come out good.
        make_up: the extra loads to start if pieces run short, in several sizes, smallest first.
    """

    id: str
    due: datetime | None = None
    weight: float = 1.0
    wanted: int | None = None
    passing: float = 1.0
    make_up: tuple[MakeUpLoads, ...] = ()


@dataclass(frozen=True, slots=True)
class StationModel:
    """A machine, bench or oven.

    Attributes:
        places: how much it holds at once: 1 run, or the places of an oven.
        set_up_for: family it is set up for now.
        down_until: it can start nothing before this instant.
    """

    name: str
    places: int = 1
    set_up_for: str | None = None
    down_until: datetime | None = None


@dataclass(frozen=True, slots=True)
class SchedulingProblem:
    """The shop at `now` and all work still to do.

    Attributes:
        carriers: how many of each kind.
        hands: operators on every shift without its own number.
    """

    now: datetime
    calendar: Calendar
    stations: tuple[StationModel, ...]
    carriers: Mapping[str, int]
    hands: int
    batches: tuple[BatchModel, ...]
    loads: tuple[LoadModel, ...]


@dataclass(frozen=True, slots=True)
class PlannedStretch:
    """One stretch of a planned run; attended work that pauses has several.

    Attributes:
        phase: index in the run's phases; None for the set-up and for waits.
        people: which operators, numbered from 1, if attended.
    """

    kind: PhaseKind
    start: datetime
    end: datetime
    phase: int | None = None
    people: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class PlannedRun:
    """A run with its times.

    Attributes:
        held_until: when its station is free again; before `end` if it ends with a cure.
        places: which places of the station, numbered from 1.
        carrier_number: which carrier of its kind, numbered from 1.
        slack: minutes it may start later, in the same order of work, before any batch finishes later.
    """

    run: str
    load: str
    batch: str
    operation: str
    station: str | None
    carrier: str | None
    start: datetime
    end: datetime
    held_until: datetime
    stretches: tuple[PlannedStretch, ...]
    places: tuple[int, ...]
    carrier_number: int | None
    slack: float

    @property
    def attended(self) -> tuple[PlannedStretch, ...]:
        """The stretches that need an operator."""
        return tuple(part for part in self.stretches if part.people)


@dataclass(frozen=True, slots=True)
class ResourceUse:
    """How much the plan uses of a resource, from now to the finish.

    Attributes:
        kind: "station", "carrier" or "hands".
        busy: hours, times places, carriers or people.
        available: hours likewise; for hands, the hours of the shifts.
    """

    kind: str
    name: str
    busy: float
    available: float

    @property
    def share(self) -> float:
        """Busy share of what is available, 0 to 1."""
        return min(1.0, self.busy / self.available) if self.available else 0.0


@dataclass(frozen=True, slots=True)
class Bottleneck:
    """What limits the finish.

    Attributes:
        kind: "station", "carrier", "hands", "calendar" or "route" (one load's own time).
        words: the reason, in a sentence or two.
    """

    kind: str
    name: str
    words: str


@dataclass(frozen=True, slots=True)
class Saving:
    """How much sooner one more of a resource makes the finish. `kind` is as in `ResourceUse`, or "calendar"."""

    kind: str
    name: str
    hours: float
    """By the clock."""
    working: float
    """The part of it inside today's shifts."""


@dataclass(frozen=True, slots=True)
class Plan:
    """A feasible plan.

    Attributes:
        runs: in order of start.
        finish: by batch.
        bound: no plan can finish everything before this instant.
        order: ids of the runs in the order they were placed.
    """

    start: datetime
    end: datetime
    bound: datetime
    runs: tuple[PlannedRun, ...]
    finish: Mapping[str, datetime]
    use: tuple[ResourceUse, ...]
    bottleneck: Bottleneck
    order: tuple[str, ...]

    def attended(self) -> tuple[tuple[PlannedStretch, PlannedRun], ...]:
        """Who must be where and when, in order of time."""
        found = [(part, run) for run in self.runs for part in run.attended]
        return tuple(sorted(found, key=lambda item: item[0].start.timestamp()))

    def run(self, run_id: str) -> PlannedRun:
        """The planned run with that id."""
        return next(run for run in self.runs if run.run == run_id)


@dataclass(frozen=True, slots=True)
class Obstacle:
    """Why something cannot be planned.

    Attributes:
        where: what it is about, as the operator calls it.
        wrong: what is wrong.
        remedy: what would make it possible.
        run: id of the run concerned, if one is.
        load: id of the load concerned, if one is.
    """

    where: str
    wrong: str
    remedy: str
    run: str | None = None
    load: str | None = None

    def __str__(self) -> str:
        return f"{self.where}: {self.wrong}. {self.remedy}."


class CannotPlan(ValueError):
    """No plan exists, or none was found that hits every window; the obstacles say where, and what to do."""

    def __init__(self, obstacles: tuple[Obstacle, ...]) -> None:
        super().__init__(" ".join(map(str, obstacles)))
        self.obstacles = obstacles
