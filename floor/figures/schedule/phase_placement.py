"""The phases of one run laid out in turn, each as early as operators and shifts allow.

Nobody leaves attended work over closed days, and no running cycle is paused.
"""

from collections.abc import Mapping, Sequence
from dataclasses import field

from floor.dataclass import dataclass
from floor.figures.calendar import NoWorkingTime, WorkingTime
from floor.figures.schedule.compiled_problem import ATTENDED, ELAPSED, Activity
from floor.figures.schedule.timeline import FreeHands

MAX_TRIES = 120
"""How often a run is moved later so that none of its phases waits too long."""

_WEEKS = 28
"""Days searched for the longest shift."""

Part = tuple[Activity, int, int]
"""(phase, start, end); work that pauses has several."""

Hold = tuple[int, int]
"""(position of a phase, epoch second before which it may not start)."""

_NO_WAITS: Mapping[int, int] = {}


@dataclass(slots=True)
class Slot:
    """Where a run was placed: epoch seconds and its parts.

    Attributes:
        held: when its station is free again.
        lanes: which places of a station with set-ups.
        carrier_from: when the carrier the load took became free.
        late: seconds past its fixed latest start.
        station: where it was placed, of the stations that can do it.
    """

    start: int
    end: int
    held: int
    parts: list[Part]
    lanes: tuple[int, ...] = ()
    carrier_from: int = 0
    late: int = 0
    station: int = -1
    places: int = 1
    at: tuple[int, ...] = field(default=(), compare=False)
    """Its positions in the rows of its station."""
    neighbor: "Neighbor | None" = field(default=None, compare=False)
    """The next run, to which this one adds or saves a set-up."""


@dataclass(slots=True)
class Neighbor:
    """A run that gained or lost its set-up because another was placed before it: its slots before and after."""

    task: int
    before: Slot
    since: Slot


class PhasePlacer:
    """Lays out phases over the operators still free and the hours the shop is open."""

    __slots__ = ("_shift", "crew", "hours", "tries")

    def __init__(self, crew: FreeHands, hours: WorkingTime) -> None:
        self.crew, self.hours = crew, hours
        self._shift = hours.find_longest_stretch(days=_WEEKS)
        self.tries = 0
        """How often phases were laid out; nearly all the time goes into that."""

    def lay_out(
        self, at: int, stints: list[Activity], held: int, hands: Sequence[int] | None = None, hold: Hold | None = None
    ) -> Slot | None:
        """Lay out the phases from `at` on, ignoring stations.

        The run starts later if a phase would otherwise start too long after the one before; None if that never helps.
        A set-up stays where it is if what follows can wait.

        Args:
            held: how many phases hold the station.
            hands: operators that must be free for each phase, if not its own number.
            hold: a phase that must wait.
        """
        torn: Slot | None = None
        keeps = len(stints) > 1 and stints[0].phase is None and stints[1].how != ELAPSED and stints[1].wait is None
        waits = _NO_WAITS if hold is None else {hold[0]: hold[1]}
        for _ in range(MAX_TRIES):
            self.tries += 1
            found = self._lay_in_turn(at, stints, held, hands, waits)
            if found is None:
                break
            slot, late, apart = found
            if late and keeps:
                waits = {**waits, 1: next(start for stint, start, _ in slot.parts if stint is stints[1]) + late}
            elif late:
                at = slot.start + late
            elif apart < 0 or torn is not None:
                return torn if apart >= 0 else slot
            else:
                torn, at = slot, apart
        return torn

    def _lay_in_turn(
        self, at: int, stints: list[Activity], held: int, hands: Sequence[int] | None, waits: Mapping[int, int]
    ) -> tuple[Slot, int, int] | None:
        """The phases regardless of gaps; the worst excess of a gap in seconds; which joined phase starts late.

        The last is -1 if every joined phase starts at the end of the one before.

        Args:
            waits: by position of a phase, the epoch second before which it may not start.
        """
        begin = apart = -1
        late = 0
        free_from = at
        parts: list[Part] = []
        for n, stint in enumerate(stints):
            ready = at
            if n in waits and waits[n] > at:
                at = waits[n]
            if stint.how == ELAPSED:
                start, end = at, at + stint.length
                parts.append((stint, start, end))
            else:
                stretches = self._fit(stint, at, stint.hands if hands is None else hands[n])
                if stretches is None:
                    return None
                parts += [(stint, a, b) for a, b in stretches]
                start, end = stretches[0][0], stretches[-1][1]
            if begin < 0:
                begin = start
            elif start > ready:
                if stint.wait is not None:
                    late = max(late, start - ready - stint.wait)
                if stint.joined:
                    apart = start
            at = end
            if n < held:
                free_from = end
        if begin < 0:
            begin = at
        return Slot(begin, at, free_from if held else begin, parts), late, apart

    def _fit(self, stint: Activity, at: int, need: int) -> Sequence[tuple[int, int]] | None:
        """The stretches of a phase that needs operators, or somebody in the shop, each as early as possible."""
        if stint.how == ATTENDED:
            if stint.interruptible:
                stands = stint.stands or stint.length > self._shift
                return self.crew.fit_paused(at, stint.length, need, stands=stands)
            whole = self.crew.fit(at, stint.length, need)
            return None if whole is None else (whole,)
        try:
            return (self.hours.fit(at, stint.length),)
        except NoWorkingTime:
            return None
