"""What the planner is asked and what it answers, as plain values.

Durations are minutes, instants are aware datetimes. A problem is the shop as it stands at `now`: only what is still
to be done is in it.
"""

from collections.abc import Mapping
from datetime import datetime
from enum import StrEnum

from floor.dataclass import dataclass
from floor.figures.calendar import Calendar
from floor.figures.yields import Beta


class PhaseKind(StrEnum):
    """What a stretch of a run is."""

    SETUP = "setup"
    """Attended, and saved when the station last ran the same family."""
    ATTENDED = "attended"
    """Needs hands all the time, and so a shift."""
    UNATTENDED = "unattended"
    """Holds the station without hands: a cycle, a bake."""
    CURE = "cure"
    """Elapsed time that holds the carrier; as the last phase of a run it no longer holds the station."""
    WAIT = "wait"
    """In plans only: at the station, nothing going on, until hands or a shift come."""


@dataclass(frozen=True, slots=True)
class Phase:
    """A stretch of a run.

    Attributes:
        kind: ATTENDED, UNATTENDED or CURE (a run's set-up is given apart, as an ATTENDED phase).
        minutes: how long; 0 is allowed.
        hands: operators needed all the while; attended phases only.
        interruptible: attended work may pause over breaks and between shifts.
        stands: such work may be left half done over closed days: a weekend, a holiday. What is longer than any shift
            always may.
        outlasts_shift: an unattended phase may go on when nobody is in the shop.
        spread: relative standard deviation of the duration, for the forecast; 0 is exact.
        wait: minutes that may pass at the most between the end of the phase before and its start; None is any time.
        joined: it is begun by hand at the end of the phase before. What would wait there over a night or a weekend is
            begun so late that it need not, if one later start of the run is enough for that.
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
    """Start allowed from `earliest` to `latest` minutes after the end of another run; without a latest, any time on."""

    earliest: float = 0.0
    latest: float | None = None


@dataclass(frozen=True, slots=True)
class Precedence:
    """A run that must have ended before; the start must lie in one of the windows counted from its end."""

    run: str
    windows: tuple[StartWindow, ...] = (StartWindow(),)


@dataclass(frozen=True, slots=True)
class StartSpan:
    """Start allowed between two instants; both ends count, None is open."""

    earliest: datetime | None = None
    latest: datetime | None = None


@dataclass(frozen=True, slots=True)
class YieldBeliefs:
    """What is believed of an operation's yields, which all its runs have in common.

    Attributes:
        good: share that is good at the first pass.
        again: share of the others that is sent to rework.
        saved: share of those that is good after it.
    """

    good: Beta
    again: Beta | None = None
    saved: Beta | None = None


@dataclass(frozen=True, slots=True)
class ReworkLeg:
    """The part of a rework's way that is ridden on one carrier: its runs, each with the times and fate of one piece."""

    carrier: str | None
    runs: tuple["RunModel", ...]


@dataclass(frozen=True, slots=True)
class ReworkPath:
    """Where pieces go that an operation found wanting, and are passed by it again or lost.

    Attributes:
        share: how often it is this way and not another.
        own: the pieces leave their load and go on to the end without it; else it goes back with them, and waits.
    """

    share: float
    own: bool
    legs: tuple[ReworkLeg, ...]


@dataclass(frozen=True, slots=True)
class RunOutcomes:
    """What may become of the pieces of a run, for the spread of the finish.

    Attributes:
        pieces: their numbers in the batch.
        each: minutes that every piece adds to each of the phases.
        yields: None where every piece passes, or has passed.
        sent: those of the pieces that were sent to rework by this operation: they are saved or lost.
        ways: of rework; where there is none, what is saved costs no time.
        waiting: pieces of the load that have nothing to pass any more and are through when it is.
    """

    pieces: tuple[int, ...]
    each: tuple[float, ...] = ()
    yields: YieldBeliefs | None = None
    sent: frozenset[int] = frozenset()
    ways: tuple[ReworkPath, ...] = ()
    waiting: int = 0


@dataclass(frozen=True, slots=True)
class RunModel:
    """One load's pass through one operation, or what is left of it.

    Attributes:
        id: unique in the problem.
        operation: what the person calls it; named in every message.
        station: None needs no station (a cure on the rack).
        phases: in order; a run under way gives only what is left.
        after: further runs that must be over; the run before in the same load always must and need not be
            named, unless to give its windows. A load that takes pieces from several loads names the last run of each.
        places: how many of the station's places it takes.
        also_at: other stations that can do it as well, with the places that it takes there.
        setup: attended phase before the others, left out when the station last ran the same family.
        family: what the set-up is for; None means the operation.
        allowed: instants between which it may start, any one of them; empty means any time.
        under_way: it stands at its station now; the phases left begin at `now`.
        fate: what may become of its pieces; None where nothing is known of them.
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
    """The runs left of one load, in order, on one carrier of a kind from the first of them to the end of the last.

    Attributes:
        carrier: kind it rides on; None rides on nothing that is counted.
        holds_carrier: it already occupies one.
        release: not before this instant.
    """

    id: str
    batch: str
    runs: tuple[RunModel, ...]
    carrier: str | None = None
    holds_carrier: bool = False
    release: datetime | None = None


@dataclass(frozen=True, slots=True)
class MakeUpLoads:
    """Loads that so many pieces more would be, begun as soon as too few are left."""

    pieces: int
    loads: tuple[LoadModel, ...]


@dataclass(frozen=True, slots=True)
class BatchModel:
    """An order whose loads compete with the others'.

    Attributes:
        due: lateness against this instant counts before everything else.
        weight: how much an hour late counts against other batches' hours.
        wanted: good pieces that are still to come; it is through with the last of these. None is all there are.
        passing: share of pieces that is expected to come through, of those made in addition.
        make_up: what may have to be made in addition where they are too few, of some sizes, the smallest first.
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
        places: how much it holds at once: 1 run, or an oven's places.
        set_up_for: family it is set up for now.
        down_until: it can start nothing before.
    """

    name: str
    places: int = 1
    set_up_for: str | None = None
    down_until: datetime | None = None


@dataclass(frozen=True, slots=True)
class SchedulingProblem:
    """The shop at `now` and everything still to be done.

    Attributes:
        carriers: how many there are of each kind.
        hands: operators on every shift that does not give its own number.
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
    """One stretch of a planned run; attended work that pauses has one for each piece.

    Attributes:
        phase: index in the run's phases; None for the set-up and for waits.
        people: which operators, numbered from 1, when it is attended.
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
        held_until: when its station is free again; before `end` by the cure, if it ends with one.
        places: which of the station's places, numbered from 1.
        carrier_number: which of the carriers of its kind, numbered from 1.
        slack: minutes it may start later, the order of work unchanged, before any batch finishes later.
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
        """The stretches somebody must be there for."""
        return tuple(part for part in self.stretches if part.people)


@dataclass(frozen=True, slots=True)
class ResourceUse:
    """How much of a resource the plan uses, from now to the finish.

    Attributes:
        kind: "station", "carrier" or "hands".
        busy: hours, times places, carriers or people.
        available: hours likewise; for hands those of the shifts.
    """

    kind: str
    name: str
    busy: float
    available: float

    @property
    def share(self) -> float:
        """Busy part of what is available, 0 to 1."""
        return min(1.0, self.busy / self.available) if self.available else 0.0


@dataclass(frozen=True, slots=True)
class Bottleneck:
    """What the finish hangs on.

    Attributes:
        kind: "station", "carrier", "hands", "calendar" or "route" (one load's own time).
        words: the reason, in a sentence or two.
    """

    kind: str
    name: str
    words: str


@dataclass(frozen=True, slots=True)
class Saving:
    """How much one more of a resource brings the finish forward. `kind` is as in `ResourceUse`, or "calendar"."""

    kind: str
    name: str
    hours: float
    """By the clock."""
    working: float
    """The part of them inside today's shifts."""


@dataclass(frozen=True, slots=True)
class Plan:
    """A feasible plan.

    Attributes:
        runs: in order of start.
        finish: by batch.
        bound: no plan can finish everything before this instant.
        order: ids of the runs in the order in which they were given their places, the first served first.
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
        """When somebody must be where, in order of time."""
        found = [(part, run) for run in self.runs for part in run.attended]
        return tuple(sorted(found, key=lambda item: item[0].start.timestamp()))

    def run(self, run_id: str) -> PlannedRun:
        """The planned run of that id."""
        return next(run for run in self.runs if run.run == run_id)


@dataclass(frozen=True, slots=True)
class Obstacle:
    """Why something cannot be planned.

    Attributes:
        where: what it is about, as the person calls it.
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
    """No plan exists, or none was found that hits every window; the obstacles say where and what to do."""

    def __init__(self, obstacles: tuple[Obstacle, ...]) -> None:
        super().__init__(" ".join(map(str, obstacles)))
        self.obstacles = obstacles
