"""What all commands share: each is checked against the state and returns entries or a refusal."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import field
from datetime import datetime, timedelta
from typing import Literal, Protocol

from floor.batch.event_base import Event
from floor.batch.gauge import Gauge
from floor.batch.load import Load
from floor.batch.open_items import Conditions, Outage
from floor.batch.proof import ProbedLast, ProbedPlace
from floor.batch.qualification import Qualified
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.batch.walk.lines import Line, Walk
from floor.batch.walk.shared_cycles import find_emptied_runs
from floor.batch.walk.station_walk import build_walk
from floor.checklist.equipment import MOST_PIECES
from floor.dataclass import dataclass
from floor.entry import Draft, Moment
from floor.text import format_count, join_sentences, sanitize

Why = Literal[
    "unknown",  # names something that does not exist
    "not now",  # out of order in the walk
    "gate",  # a prerequisite is not met
    "busy",  # station, carrier or load is taken
    "count",  # pieces do not add up
    "authority",  # needs a lead, or another person
    "input",  # a value is missing, of the wrong kind or absurd
    "handover",  # a handover is open
    "later entries",  # later entries depend on it
    "closed",  # the batch takes no more work
]

LARGEST_VALUE = 1e9
"""The largest value anybody may enter (shop decision)."""
SHORTEST_REASON = 3
"""Letters and digits of the shortest reason (shop decision)."""
FARTHEST = timedelta(days=3653)
"""The farthest from now that an entered time may lie: ten years (shop decision)."""

FREE_IT = "finish and release that, or put it back (u on its walk) if it was only started"
"""What frees a station that is taken."""


class Refused(Exception):
    """A command that the state does not allow: why (a fixed word), what is wrong, and what to do about it."""

    def __init__(
        self,
        why: Why,
        wrong: str,
        remedy: str = "",
        *,
        field: str = "",
        place: int = 0,
        attempt: Event | None = None,
        signs: str = "the lead",
    ) -> None:
        """Refuse.

        Args:
            field: the form field that is wrong, if any.
            place: where the same value is asked for several pieces, which of them, from 0.
            attempt: what was entered, if it stays on record as refused.
            signs: who may do it once they sign in, where it is refused for want of authority; empty for nobody.
        """
        super().__init__(join_sentences(wrong, remedy))
        self.why: Why = why
        self.wrong = wrong
        self.remedy = remedy
        self.field = field
        self.place = place
        self.attempt = attempt
        self.signs = signs if why == "authority" else ""


@dataclass(frozen=True, slots=True)
class Person:
    """Who gives a command."""

    initials: str
    lead: bool = False


def _find_no_probing(place: ProbedPlace) -> ProbedLast | None:
    return None


@dataclass(frozen=True, slots=True)
class OtherBatches:
    """What other open batches of the shop use now."""

    runs: dict[str, tuple[str, ...]] = field(default_factory=dict)
    """Station → the runs under way there, in words."""
    carriers: dict[tuple[str, int], str] = field(default_factory=dict)
    """(kind, number) of a carrier that holds a load of theirs → the batch; empty: at that time, a load of this one."""
    worn: dict[tuple[str, int], float] = field(default_factory=dict)
    """(station, tool) → its wear in the unit of its card, including wear left by closed batches."""
    outages: dict[str, Outage] = field(default_factory=dict)
    """Station → why it is out of service, as the shop's own record says."""
    places: dict[str, int] = field(default_factory=dict)
    """Station → how many of its places the runs take."""
    conditions: Conditions = field(default_factory=dict)
    """A guard off, a lock on and the like, as the shop's own record says."""
    gauges: dict[str, Gauge] = field(default_factory=dict)
    """Serial number → the gauge, as the shop's register has it."""
    registered_gauges_only: bool = False
    """Whether a gauge that is not in the register may not be used."""
    qualified: Qualified = field(default_factory=dict)
    """What people are qualified for, as the shop's register has it."""
    long_shift_hours: float = 0.0
    """After so many hours at work a handover has its written part in full; 0: never."""
    handover_questions: tuple[str, ...] = ()
    """What the shop asks for at each handover."""
    zeros: tuple[tuple[str, str, str], ...] = ()
    """(station, work offset, load in words) of each cycle that runs now; nobody asks for a past time."""
    find_probed: Callable[[ProbedPlace], ProbedLast | None] = _find_no_probing
    """What was probed last of a carrier whose file says how it repeats, for closed batches too: looked up by the few
    commands that ask, not at each key."""

    def taken(self, station: str) -> int:
        """How many places of a station are taken."""
        return self.places.get(station, len(self.runs.get(station, ())))


@dataclass(frozen=True, slots=True)
class Context:
    """What a command may look at besides its batch: the time, the person, what other batches use.

    ``people`` holds the known initials.
    """

    now: Moment
    by: Person
    elsewhere: OtherBatches = OtherBatches()
    leads: frozenset[str] = frozenset()
    people: frozenset[str] = frozenset()

    def need_lead(self, what: str) -> None:
        """Refuse who is no lead, or has not shown it by their PIN."""
        if not self.by.lead:
            if self.by.initials in self.leads:
                raise lack_pin_given(self.by.initials, what)
            leads = ", ".join(sorted(self.leads)) or "no lead is in the people list yet"
            raise Refused("authority", f"{what} needs a lead", f"ask {leads}" if self.leads else leads)

    def need_second(self, initials: str, what: str) -> str:
        """The initials of a known second person; refused if they are the one who gives the command."""
        second = sanitize(initials).upper()
        if not second:
            raise Refused(
                "authority", f"{what} needs a second person", "have them enter their initials", field="second"
            )
        if second == self.by.initials:
            raise Refused(
                "authority",
                f"{what}: the second person cannot be the first",
                "ask someone else to sign",
                field="second",
            )
        return self.need_known(second, "second")

    def need_known(self, initials: str, field: str = "") -> str:
        """These initials; refused if the shop has a people list and they are not on it.

        ``field`` is the form field they come from.
        """
        if self.people and not initials:
            raise Refused("input", "nobody is named", "enter the initials of whoever did it", field=field)
        if self.people and initials not in self.people:
            raise Refused(
                "authority", f"{initials} is not in the people list", "a lead adds them (c on What next)", field=field
            )
        return initials


def lack_pin_given(initials: str, what: str) -> Refused:
    """The refusal of a lead who was not asked for their PIN here."""
    return Refused("authority", f"{what} needs the PIN of {initials}", f"{initials} signs in again with it")


class Command(Protocol):
    """A request to change one batch."""

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        """Return the entries that carry it out. Raises `Refused`."""
        ...


def require_within_ten_years(at: datetime, now: datetime, remedy: str, field: str = "") -> None:
    """Refuse a time that is years away: it is a typing error, and other zones may not be able to represent it."""
    if not -FARTHEST <= at - now <= FARTHEST:
        raise Refused("input", f"the year {at.year} is more than ten years from now", remedy, field=field)


def require_reason(text: str, what: str, field: str = "why") -> str:
    """A reason with real words in it; ``field`` is the form field it comes from."""
    said = sanitize(text)
    if sum(map(str.isalnum, said)) < SHORTEST_REASON:
        raise Refused("input", f"{what} needs a reason", "give a short reason", field=field)
    return said


def refuse_closed_batch(batch: Batch) -> None:
    if batch.closed is not None:
        raise Refused("closed", f"batch {batch.id} is closed", "open a new batch for more work")
    if batch.gone:
        raise Refused(
            "closed", f"batch {batch.id} was transferred to {batch.gone}", "work on it there, or take it back in"
        )


def require_load(batch: Batch, number: int) -> Load:
    load = batch.loads.get(number)
    if load is None:
        raise Refused("unknown", f"there is no load {number} in batch {batch.id}", "choose one from the list")
    if load.dissolved is not None:
        raise Refused("unknown", f"load {number} is done and its carrier is free", "its pieces have gone on")
    return load


def require_run(batch: Batch, number: int) -> Run:
    run = batch.runs.get(number)
    if run is None:
        raise Refused("unknown", f"there is no run {number} in batch {batch.id}", "choose one from the list")
    if run.put_back:
        raise Refused("not now", f"load {run.load} was put back from op {run.op}", "start it again from what is next")
    if run.released is not None:
        raise Refused("not now", f"load {run.load} is already released from op {run.op}", "look at where it is now")
    return run


def walk_of(batch: Batch, run: Run, context: Context) -> Walk:
    return build_walk(batch, run, context.now, context.by.initials)


def must_be_current(walk_: Walk, key: str) -> None:
    """Refuse anything but the current line of the walk, and name that line."""
    current = walk_.current
    line = walk_.line(key)
    if line is None:
        raise Refused("unknown", f'there is no line "{key}" in this run', "look at the walk again")
    if current is None or current.key == key:
        return
    if line.is_satisfied and line.kind == "caution":
        raise Refused("not now", f"{line.title}: read already", f"next: {current.title}")
    if line.is_satisfied:
        raise Refused("not now", f"{line.title}: done already ({line.evidence})", "strike it out to do it again")
    unmet = [one for one in walk_.lines[walk_.place : walk_.lines.index(line)] if not one.is_satisfied]
    gates = [f"{one.title} ({one.verdict.why})" for one in unmet if one.verdict is not None]
    first = f"first: {current.title}"
    if gates and line.kind in ("start", "end", "count", "release"):
        raise Refused("gate", f"{line.title}: {format_count(len(gates), 'gate')} not met: {'; '.join(gates)}", first)
    raise Refused("not now", f"{line.title}: not yet", first)


def require_current_line(batch: Batch, number: int, key: str, context: Context) -> tuple[Run, Line]:
    """An open run and its current line; refused if this is not the current line."""
    refuse_closed_batch(batch)
    run = require_run(batch, number)
    walked = walk_of(batch, run, context)
    must_be_current(walked, key)
    line = walked.line(key)
    assert line is not None, "a line that is not there is refused above"
    return run, line


def refuse_counted_loads(batch: Batch, pieces: Sequence[int]) -> None:
    """Refuse to take out pieces of a load between its count and its release: the count has its say on them."""
    for load in batch.list_live_loads():
        counted = load.run is not None and batch.runs[load.run].count is not None
        if counted and set(pieces) & set(batch.present(load)):
            wrong = f"load {load.number} is counted but not released"
            raise Refused("not now", wrong, "release it first, or strike the count out")


def leave_some_in_the_cycle(batch: Batch, pieces: Sequence[int]) -> None:
    """Refuse to take the last pieces out of a run in mid-cycle: its station would count as free."""
    for run in find_emptied_runs(batch, pieces):
        if run.running:
            name = batch.checklist.station(run.station).name
            raise Refused(
                "not now",
                f"the cycle of {batch.format_load(run.load)} runs at {name}, and no piece would be left in it",
                "end the cycle, or report that it stopped (x), then set them aside",
            )


def require_whole_number(value: object, what: str, low: int = 0, high: int = MOST_PIECES, field: str = "") -> int:
    """A whole number in its range; ``field`` is the form field it comes from."""
    if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
        raise Refused(
            "input",
            f"{what} must be a whole number from {low} to {high}, not {str(value)[:20]}",
            "enter it again",
            field=field,
        )
    return value


def format_pieces(batch: Batch, load: Load | None, pieces: Sequence[int]) -> str:
    """The pieces by their places if the carrier has places, else their number."""
    names = [batch.format_slot(load, piece) for piece in pieces] if load else []
    named = [name for name in names if name]
    return ", ".join(named) if named else format_count(len(pieces), "piece")
