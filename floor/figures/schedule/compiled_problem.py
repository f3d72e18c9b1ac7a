"""A problem compiled for planning: names become indices, instants epoch seconds, and windows tie runs into blocks."""

from collections.abc import Mapping, Sequence
from dataclasses import field
from operator import itemgetter

from floor.dataclass import dataclass
from floor.figures.calendar import WorkingTime, to_epoch, to_seconds
from floor.figures.schedule.model import (
    LoadModel,
    Phase,
    PhaseKind,
    RunModel,
    SchedulingProblem,
    StartSpan,
    StartWindow,
)

ATTENDED, ELAPSED, OPEN_HOURS = range(3)
"""How a phase takes time: with operators, in shifts; at any time; while somebody is in the shop."""

Gap = tuple[int, int | None]
"""Allowed seconds from one run's end to another's start."""


@dataclass(slots=True)
class Activity:
    """A phase in seconds. `phase` is its index in the run; None for the set-up."""

    how: int
    length: int
    hands: int
    interruptible: bool
    phase: int | None
    wait: int | None = None
    joined: bool = False
    stands: bool = True


@dataclass(slots=True)
class Task:
    """A run, compiled. Indices point into the shop's lists; instants are epoch seconds."""

    run: RunModel
    load: int
    station: int
    places: int
    stints: list[Activity]
    held: int
    """How many of the stints hold the station."""
    setup: Activity | None
    family: str
    links: list[tuple[int, tuple[Gap, ...]]]
    ready: int
    allowed: list[tuple[int, int | None]]
    fixed: bool
    opens: bool
    """First run of its load: takes the carrier, unless the load already has one."""
    closes: bool
    """Last run of its load: returns the carrier."""
    others: tuple[tuple[int, int], ...] = ()
    """Other stations that can do it, and how many places it takes there."""
    length: int = 0
    holding: int = 0
    """Seconds of the phases that hold the station."""
    head: int = 0
    tail: int = 0


@dataclass(slots=True)
class Block:
    """Runs tied together by windows with a latest start, in order; mostly a single run."""

    tasks: list[int]
    before: list[int] = field(default_factory=list)
    after: list[int] = field(default_factory=list)
    needs: dict[int, int] = field(default_factory=dict)
    """Carriers by kind that must be free before it can start."""
    rank: int = 0
    """What is planned first: 0, runs at a station now; 1, runs leading up to a fixed latest start; 2, the rest."""
    latest: int = 0


@dataclass(slots=True)
class ShopHours:
    """When people are at work, and when the shop is open; the same for all problems with its calendar, moment, crew."""

    at_work: WorkingTime
    open: WorkingTime

    @classmethod
    def of(cls, problem: SchedulingProblem) -> "ShopHours":
        now = to_epoch(problem.now)
        return cls(
            WorkingTime(problem.calendar, now, problem.hands), WorkingTime(problem.calendar, now, 1, breaks=False)
        )


class CompiledProblem:
    """The compiled problem. `tasks`, `blocks`, `loads` and `kinds` (of carriers) are in the problem's order.

    `hours` are worked out unless given: for a small shop they take longer than all the rest.
    """

    def __init__(self, problem: SchedulingProblem, hours: ShopHours | None = None) -> None:
        self.problem = problem
        self.now = to_epoch(problem.now)
        hours = hours or ShopHours.of(problem)
        self.hours, self.open_hours = hours.at_work, hours.open
        self.stations = list(problem.stations)
        self.kinds = list(problem.carriers)
        self.loads = list(problem.loads)
        self.batches = list(problem.batches)
        batch_of = {batch.id: i for i, batch in enumerate(self.batches)}
        self.load_batch = [batch_of[load.batch] for load in self.loads]
        self.load_kind = [-1 if load.carrier is None else self.kinds.index(load.carrier) for load in self.loads]
        self.holders = self._list_holders()
        """Loads that hold a carrier of each kind now."""
        self.due = [None if batch.due is None else to_epoch(batch.due) for batch in self.batches]
        self.tasks = self._compile_tasks()
        self.followers = self._list_followers()
        self.lanes = self._find_setup_stations()
        self.order = self._measure()
        self.block_of = [0] * len(self.tasks)
        self.place_in_block = [0] * len(self.tasks)
        self.blocks = self._tie()
        self._shut_what_is_out_of_reach()
        self.tied = [block for block in self.blocks if len(block.tasks) > 1]
        self.runs_of = self._group_by_load()
        self.with_choice = [i for i, task in enumerate(self.tasks) if task.others]
        self.mean_length = sum(task.length for task in self.tasks) / max(1, len(self.tasks))
        self.greedy = any(sum(block.needs.values()) > 1 for block in self.blocks)
        """Whether some block needs more than one carrier at once."""
        self._rank_blocks()
        self.bound = self._lower_bound()

    def _list_holders(self) -> list[list[int]]:
        return [
            [i for i, load in enumerate(self.loads) if load.holds_carrier and self.load_kind[i] == kind]
            for kind in range(len(self.kinds))
        ]

    def _list_followers(self) -> list[list[int]]:
        followers: list[list[int]] = [[] for _ in self.tasks]
        for i, task in enumerate(self.tasks):
            for before, _ in task.links:
                followers[before].append(i)
        return followers

    def _find_setup_stations(self) -> set[int]:
        return {
            station
            for task in self.tasks
            if task.setup
            for station in (task.station, *(other for other, _ in task.others))
            if station >= 0
        }

    def _group_by_load(self) -> list[list[int]]:
        runs_of: list[list[int]] = [[] for _ in self.loads]
        for i, task in enumerate(self.tasks):
            runs_of[task.load].append(i)
        return runs_of

    def _compile_tasks(self) -> list[Task]:
        index = {run.id: i for i, run in enumerate(run for load in self.loads for run in load.runs)}
        station_of = {station.name: i for i, station in enumerate(self.stations)}
        return [
            self._compile_task(load, number, position, index, station_of)
            for number, load in enumerate(self.loads)
            for position in range(len(load.runs))
        ]

    def _compile_task(
        self, load: LoadModel, number: int, position: int, index: dict[str, int], station_of: dict[str, int]
    ) -> Task:
        run = load.runs[position]
        stints = [compile_activity(phase, i) for i, phase in enumerate(run.phases)]
        held = max((i + 1 for i, phase in enumerate(run.phases) if phase.kind is not PhaseKind.CURE), default=0)
        release = self.now if load.release is None else max(self.now, to_epoch(load.release))
        ready, allowed = compile_spans(run.allowed, release)
        setup = None if run.setup is None or run.under_way else compile_activity(run.setup, None)
        return Task(
            run=run,
            load=number,
            station=-1 if run.station is None else station_of[run.station],
            places=run.places,
            stints=stints,
            held=held,
            setup=setup,
            family=run.family or run.operation,
            links=compile_links(load.runs, position, index),
            ready=ready,
            allowed=allowed,
            fixed=run.under_way,
            opens=position == 0,
            closes=position == len(load.runs) - 1,
            length=sum(part.length for part in stints),
            holding=sum(part.length for part in stints[:held]),
            others=() if run.under_way else tuple((station_of[name], places) for name, places in run.also_at),
        )

    def _measure(self) -> list[int]:
        """Earliest heads and longest tails, ignoring resources; returns the tasks in an order that respects links."""
        waiting = [len(task.links) for task in self.tasks]
        order = [i for i, count in enumerate(waiting) if not count]
        for i in order:
            task = self.tasks[i]
            task.head = max(
                [task.ready, *(self.tasks[b].head + self.tasks[b].length + gaps[0][0] for b, gaps in task.links)]
            )
            for j in self.followers[i]:
                waiting[j] -= 1
                if not waiting[j]:
                    order.append(j)
        for i in reversed(order):
            task = self.tasks[i]
            task.tail = (
                max(
                    (
                        self.tasks[j].tail + next(gaps[0][0] for b, gaps in self.tasks[j].links if b == i)
                        for j in self.followers[i]
                    ),
                    default=0,
                )
                + task.length
            )
        return order

    def _tie(self) -> list[Block]:
        """Blocks: runs that must be placed together because a window between them may close."""
        back: list[list[int]] = [[] for _ in self.tasks]
        for i, task in enumerate(self.tasks):
            for before, gaps in task.links:
                if any(latest is not None for _, latest in gaps):
                    back[i].append(before)
        place = {task: position for position, task in enumerate(self.order)}
        blocks: list[Block] = []
        groups = _components([self.followers[i] + back[i] for i in range(len(self.tasks))])
        for group in sorted(groups, key=min):
            for i in group:
                self.block_of[i] = len(blocks)
            blocks.append(Block(sorted(group, key=place.__getitem__)))
            for position, i in enumerate(blocks[-1].tasks):
                self.place_in_block[i] = position
        for b, block in enumerate(blocks):
            block.before = sorted({self.block_of[p] for i in block.tasks for p, _ in self.tasks[i].links} - {b})
            for p in block.before:
                blocks[p].after.append(b)
            self._count_carriers(block)
        return blocks

    def between(self, i: int, before: int) -> int:
        """Least seconds from the end of one run to the start of one tied to it, by the runs in between."""
        least = {before: 0}
        for j in self.blocks[self.block_of[i]].tasks:
            found = [least[b] + gaps[0][0] for b, gaps in self.tasks[j].links if b in least]
            if j == i:
                return max(found, default=0)
            if found and j != before:
                least[j] = max(found) + self.tasks[j].length
        return 0

    def _shut_what_is_out_of_reach(self) -> None:
        """Drop windows that close before the runs in between can be over, so nobody waits for them in vain."""
        for i, task in enumerate(self.tasks):
            for n, (before, gaps) in enumerate(task.links):
                if len(gaps) > 1:
                    task.links[n] = before, clip_windows(gaps, self.between(i, before)) or gaps

    def _count_carriers(self, block: Block) -> None:
        balance: dict[int, int] = {}
        for i in block.tasks:
            task = self.tasks[i]
            kind = self.load_kind[task.load]
            if kind < 0:
                continue
            if task.opens and not self.loads[task.load].holds_carrier:
                balance[kind] = balance.get(kind, 0) + 1
                block.needs[kind] = max(block.needs.get(kind, 0), balance[kind])
            if task.closes:
                balance[kind] = balance.get(kind, 0) - 1

    def _rank_blocks(self) -> None:
        for block in self.blocks:
            block.rank, block.latest = self._rank_alone(block)
        self._rank_what_leads_up()

    def _rank_alone(self, block: Block) -> tuple[int, int]:
        """A block's rank and latest start from its own runs."""
        if any(self.tasks[i].fixed for i in block.tasks):
            return 0, 0
        closing = [latest for i in block.tasks for _, latest in self.tasks[i].allowed[-1:] if latest is not None]
        return (1, min(closing)) if closing else (2, 0)

    def _rank_what_leads_up(self) -> None:
        """Rank each block as high as the most urgent block waiting for it."""
        left = [len(block.after) for block in self.blocks]
        ready = [b for b, count in enumerate(left) if not count]
        for b in ready:
            block = self.blocks[b]
            for p in block.before:
                parent = self.blocks[p]
                if block.rank < parent.rank or (block.rank == 1 == parent.rank and block.latest < parent.latest):
                    parent.rank, parent.latest = block.rank, block.latest
                left[p] -= 1
                if not left[p]:
                    ready.append(p)

    def _lower_bound(self) -> int:
        """Lower bound on the end: the longest chain, and each station's work between its least head and tail."""
        if not self.tasks:
            return self.now
        bound = max(task.head + task.tail for task in self.tasks)
        for s, station in enumerate(self.stations):
            here = [task for task in self.tasks if task.station == s and not task.others]
            if here and station.places:
                work = sum(task.holding * task.places for task in here)
                rest = min(task.tail - task.holding for task in here)
                bound = max(bound, min(task.head for task in here) + -(-work // station.places) + rest)
        return bound


def compile_activity(phase: Phase, index: int | None) -> Activity:
    """A phase in seconds; `index` is its place in the run, None for the set-up."""
    how = (
        ATTENDED
        if phase.kind is PhaseKind.ATTENDED
        else OPEN_HOURS
        if phase.kind is PhaseKind.UNATTENDED and not phase.outlasts_shift
        else ELAPSED
    )
    wait = None if phase.wait is None else to_seconds(phase.wait)
    return Activity(
        how, to_seconds(phase.minutes), phase.hands, phase.interruptible, index, wait, phase.joined, phase.stands
    )


def compile_links(
    runs: Sequence[RunModel], position: int, index: Mapping[str, int]
) -> list[tuple[int, tuple[Gap, ...]]]:
    """What a run waits for: the one before it in the load, and those its own links name."""
    links: dict[int, tuple[Gap, ...]] = {index[runs[position - 1].id]: ((0, None),)} if position else {}
    for after in runs[position].after:
        links[index[after.run]] = compile_windows(after.windows)
    return list(links.items())


def compile_windows(windows: Sequence[StartWindow]) -> tuple[Gap, ...]:
    """Windows after a run in seconds, in order."""
    gaps = (
        (to_seconds(window.earliest), None if window.latest is None else to_seconds(window.latest))
        for window in windows
    )
    return tuple(sorted(gaps, key=itemgetter(0)))


def compile_spans(spans: Sequence[StartSpan], release: int) -> tuple[int, list[tuple[int, int | None]]]:
    """(earliest start of a run, the spans in which it may start), in epoch seconds and in order.

    None starts before the load's release. No spans means any time from then on.
    """
    allowed = [
        (
            release if span.earliest is None else max(release, to_epoch(span.earliest)),
            None if span.latest is None else to_epoch(span.latest),
        )
        for span in spans
    ]
    allowed.sort(key=itemgetter(0))
    ready = allowed[0][0] if allowed else release
    return ready, [] if allowed == [(ready, None)] else allowed


def clip_windows(gaps: tuple[Gap, ...], least: int) -> tuple[Gap, ...]:
    """The parts of windows at least so many seconds after."""
    return tuple((max(earliest, least), latest) for earliest, latest in gaps if latest is None or latest >= least)


def _components(edges: list[list[int]]) -> list[list[int]]:
    """Strongly connected components, by Tarjan's algorithm without recursion."""
    number: list[int] = [-1] * len(edges)
    low = [0] * len(edges)
    on_stack = [False] * len(edges)
    stack: list[int] = []
    found: list[list[int]] = []
    count = 0
    for root in range(len(edges)):
        work = [(root, 0)] if number[root] < 0 else []
        while work:
            node, edge = work.pop()
            if edge == 0:
                number[node] = low[node] = count
                count += 1
                stack.append(node)
                on_stack[node] = True
            for position in range(edge, len(edges[node])):
                child = edges[node][position]
                if number[child] < 0:
                    work += [(node, position + 1), (child, 0)]
                    break
                if on_stack[child]:
                    low[node] = min(low[node], number[child])
            else:
                if low[node] == number[node]:
                    cut = stack.index(node)
                    found.append(stack[cut:])
                    for member in stack[cut:]:
                        on_stack[member] = False
                    del stack[cut:]
                if work:
                    parent = work[-1][0]
                    low[parent] = min(low[parent], low[node])
    return found
