"""The proven optimum of a small shop by OR-Tools CP-SAT, modeled from the job itself, not from the planner.

Strict in one thing: an unattended phase starts when the phase before it ends, as nobody may be there to start it
later; only attended work, and what needs somebody in the shop, may wait. No plan can beat this optimum.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise

from ortools.sat.python import cp_model

from floor.figures.schedule import LoadModel, Phase, PhaseKind, Plan, RunModel, SchedulingProblem
from tests.figures.schedule_check import levels

Var = cp_model.IntVar
Literal = cp_model.IntVar


@dataclass(frozen=True, slots=True)
class Proof:
    """What the solver proved: `end` is minutes from now to the last end, after the least weighted minutes late.

    Attributes:
        proven: the optimum, or that there is no plan.
        end: None if no plan exists within the horizon, or none was found.
    """

    proven: bool
    end: int | None = None
    late: float = 0.0


def solve(
    problem: SchedulingProblem,
    horizon: int,
    effort: float,
    *,
    grid: int = 1,
    hint: Plan | None = None,
    not_before: Mapping[str, int] | None = None,
) -> Proof:
    """The best plan that ends within so many minutes.

    The effort is in the solver's deterministic time, and it has one worker, so that a busy computer proves as much as
    an idle one.

    Args:
        grid: minutes of which every time in the problem is a multiple.
        hint: a plan from which the solver may start.
        not_before: minute before which a run may not start.
    """
    model = _Model(problem, -(-horizon // grid), grid)
    for run, minute in (not_before or {}).items():
        model.model.add(model.start[run] >= -(-minute // grid))
    return model.solve(effort, hint)


def optimum(
    problem: SchedulingProblem, horizon: int, effort: float, not_before: Mapping[str, int] | None = None
) -> int | None:
    """Least minutes from now to the last end of a shop without due dates; None when not proven in time."""
    proof = solve(problem, horizon, effort, not_before=not_before)
    return proof.end if proof.proven else None


class _Model:
    def __init__(self, problem: SchedulingProblem, horizon: int, grid: int) -> None:
        self.problem, self.horizon, self.grid = problem, horizon, grid
        self.model = cp_model.CpModel()
        self.zero = problem.now.timestamp()
        self.start: dict[str, Var] = {}
        self.end: dict[str, Var] = {}
        self.held: dict[str, Var] = {}
        self.set_up: dict[str, Literal] = {}
        self.at: dict[tuple[str, str], Literal] = {}
        """Whether a run is at a station."""
        self.hands: list[tuple[cp_model.IntervalVar, int]] = []
        until = self.zero + (horizon + 1) * grid * 60
        self.staffed = _stretches(levels(problem, self.zero, until, breaks=True), self.zero, grid, horizon)
        self.opened = _stretches(levels(problem, self.zero, until, breaks=False), self.zero, grid, horizon)
        for load in problem.loads:
            for run in load.runs:
                self._run(load, run)
            for one, two in pairwise(load.runs):
                if all(after.run != one.id for after in two.after):
                    self.model.add(self.start[two.id] >= self.end[one.id])
        for load in problem.loads:
            for run in load.runs:
                self._windows(run)
                self._allowed(run)
        self._stations()
        self._carriers()
        self._crew()

    def solve(self, effort: float, hint: Plan | None) -> Proof:
        last = self._var("last")
        self.model.add_max_equality(last, [self.model.new_constant(0), *self.end.values()])
        late = []
        for batch in self.problem.batches:
            ends = [self.end[run.id] for load in self.problem.loads if load.batch == batch.id for run in load.runs]
            if batch.due is not None and ends:
                due = self._grid(batch.due)
                over = self.model.new_int_var(0, self.horizon + max(0, -due), f"{batch.id} late")
                self.model.add_max_equality(over, [self.model.new_constant(0), *(end - due for end in ends)])
                late.append((batch.weight, over))
        weighted = sum(int(4 * weight) * over for weight, over in late)
        self.model.minimize((self.horizon + 1) * weighted + last)
        if hint is not None:
            for done in hint.runs:
                self.model.add_hint(self.start[done.run], self._grid(done.start))
                self.model.add_hint(self.end[done.run], self._grid(done.end))
        solver = cp_model.CpSolver()
        solver.parameters.max_deterministic_time = effort
        solver.parameters.num_workers = 1
        # With it the solver (9.12) called a shop infeasible within a horizon that has a plan.
        solver.parameters.cp_model_probing_level = 0
        status = solver.solve(self.model)
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return Proof(status == cp_model.INFEASIBLE)
        minutes = sum(weight * solver.value(over) for weight, over in late) * self.grid
        return Proof(status == cp_model.OPTIMAL, int(solver.value(last)) * self.grid, minutes)

    def _grid(self, instant: datetime) -> int:
        return round((instant.timestamp() - self.zero) / 60 / self.grid)

    def _length(self, phase: Phase) -> int:
        return round(phase.minutes / self.grid)

    def _var(self, name: str) -> Var:
        return self.model.new_int_var(0, self.horizon, name)

    def _run(self, load: LoadModel, run: RunModel) -> None:
        self.start[run.id] = at = self._var(f"{run.id} start")
        self.held[run.id] = at
        if load.release is not None:
            self.model.add(at >= self._grid(load.release))
        if run.setup is not None and not run.under_way:
            at = self._set_up(run, run.setup, at)
        if run.under_way and run.phases[0].kind is not PhaseKind.ATTENDED:
            self.model.add(at == 0)
        for n, phase in enumerate(run.phases):
            at = self._phase(run, phase, at, first=n == 0)
            if phase.kind is not PhaseKind.CURE:
                self.held[run.id] = at
        self.end[run.id] = at

    def _set_up(self, run: RunModel, phase: Phase, start: Var) -> Var:
        """The end of the set-up, where one is needed; what is needed is said by the order at the station."""
        needed = self.model.new_bool_var(f"{run.id} set up")
        self.set_up[run.id] = needed
        begin, end = self._by_hand(phase, f"{run.id} set-up", needed)
        done = self._var(f"{run.id} set up done")
        self.model.add(begin == start).only_enforce_if(needed)
        self.model.add(done == end).only_enforce_if(needed)
        self.model.add(done == start).only_enforce_if(~needed)
        return done

    def _phase(self, run: RunModel, phase: Phase, after: Var, *, first: bool) -> Var:
        """The end of a phase that begins at the end of the one before, or later where it may."""
        if phase.kind is PhaseKind.ATTENDED:
            begin, end = self._by_hand(phase, f"{run.id} {phase}")
        else:
            begin, end = self._var(f"{run.id} begin"), self._var(f"{run.id} end")
            self.model.add(end == begin + self._length(phase))
        self.model.add(begin >= after)
        in_the_open = phase.kind is PhaseKind.UNATTENDED and not phase.outlasts_shift
        if in_the_open:
            self._inside(begin, end, [(opens, closed) for opens, closed, _ in self.opened])
        if phase.kind is not PhaseKind.ATTENDED and not in_the_open:
            self.model.add(begin == after)
        if phase.wait is not None:
            self.model.add(begin - after <= int(phase.wait // self.grid))
        if first and not run.under_way:
            begun = self.model.add(begin == after)
            if run.id in self.set_up:
                begun.only_enforce_if(~self.set_up[run.id])
        return end

    def _by_hand(self, phase: Phase, name: str, present: Literal | None = None) -> tuple[Var, Var]:
        """Begin and end of attended work, which lies in staffed time; of hands it takes its time at work only."""
        begin, end, length = self._var(f"{name} begin"), self._var(f"{name} end"), self._length(phase)
        worked = self.staffed[-1][2] + self.staffed[-1][1] - self.staffed[-1][0] if self.staffed else 0
        work = self.model.new_int_var(0, max(worked, 0), f"{name} work")
        work_end = self.model.new_int_var(0, max(worked, 0), f"{name} work end")
        self.model.add(work_end == work + length)
        begins, ends = [], []
        for opens, closed, before in self.staffed:
            here = self.model.new_bool_var("")
            begins.append(here)
            self.model.add(begin - work == opens - before).only_enforce_if(here)
            self.model.add(begin >= opens).only_enforce_if(here)
            if not phase.interruptible:
                self.model.add(end <= closed).only_enforce_if(here)
                continue
            self.model.add(begin < closed).only_enforce_if(here)
            there = self.model.new_bool_var("")
            ends.append(there)
            self.model.add(end - work_end == opens - before).only_enforce_if(there)
            self.model.add(end > opens).only_enforce_if(there)
            self.model.add(end <= closed).only_enforce_if(there)
        if not phase.interruptible:
            self.model.add(end == begin + length)
        for choices in (begins, ends) if phase.interruptible else (begins,):
            self.model.add(sum(choices) == (1 if present is None else present))
        span = (
            self.model.new_interval_var(work, length, work_end, name)
            if present is None
            else self.model.new_optional_interval_var(work, length, work_end, present, name)
        )
        self.hands.append((span, phase.hands))
        return begin, end

    def _inside(self, begin: Var, end: Var, spans: list[tuple[int, int]]) -> None:
        chosen = []
        for opens, closed in spans:
            here = self.model.new_bool_var("")
            self.model.add(begin >= opens).only_enforce_if(here)
            self.model.add(end <= closed).only_enforce_if(here)
            chosen.append(here)
        self.model.add_bool_or(chosen)

    def _windows(self, run: RunModel) -> None:
        for after in run.after:
            chosen = []
            for window in after.windows:
                inside = self.model.new_bool_var("")
                gap = self.start[run.id] - self.end[after.run]
                self.model.add(gap >= -int(-window.earliest // self.grid)).only_enforce_if(inside)
                if window.latest is not None:
                    self.model.add(gap <= int(window.latest // self.grid)).only_enforce_if(inside)
                chosen.append(inside)
            self.model.add_bool_or(chosen)

    def _allowed(self, run: RunModel) -> None:
        spans = [
            (
                0 if span.earliest is None else self._grid(span.earliest),
                self.horizon if span.latest is None else self._grid(span.latest),
            )
            for span in run.allowed
        ]
        if spans:
            self._inside(self.start[run.id], self.start[run.id], spans)

    def _stations(self) -> None:
        everything = [run for load in self.problem.loads for run in load.runs]
        for run in everything:
            names = [name for name, _ in _ways(run)]
            chosen = [self.model.new_bool_var(f"{run.id} at {name}") for name in names]
            self.at.update({(run.id, name): one for name, one in zip(names, chosen, strict=True)})
            if names:
                self.model.add_exactly_one(chosen)
        for station in self.problem.stations:
            here = [(run, places) for run in everything for name, places in _ways(run) if name == station.name]
            down = self._grid(station.down_until) if station.down_until is not None else 0
            spans, demands = [], []
            for run, places in here:
                there = self.at[run.id, station.name]
                begins = self.model.new_constant(0) if run.under_way else self.start[run.id]
                spans.append(
                    self.model.new_optional_interval_var(
                        begins, self._var(""), self.held[run.id], there, f"{run.id} {station.name}"
                    )
                )
                demands.append(places)
                if not run.under_way:
                    self.model.add(self.start[run.id] >= down).only_enforce_if(there)
            self.model.add_cumulative(spans, demands, station.places)
            if any(run.setup is not None for run, _ in here):
                self._like_after_like([run for run, _ in here], station.name, station.places, station.set_up_for)

    def _like_after_like(self, here: list[RunModel], name: str, places: int, family: str | None) -> None:
        """A row of runs for each place of the station; a set-up is needed where the family changes in a row."""
        arcs: list[tuple[int, int, Literal]] = []
        rows = []
        for j, two in enumerate(here, 1):
            there = self.at[two.id, name]
            first, last = self.model.new_bool_var(""), self.model.new_bool_var("")
            arcs += [(0, j, first), (j, 0, last), (j, j, ~there)]
            rows.append(first)
            changes = [first] if family != (two.family or two.operation) else []
            for i, one in enumerate(here, 1):
                if i == j:
                    continue
                follows = self.model.new_bool_var("")
                arcs.append((i, j, follows))
                self.model.add(self.start[two.id] >= self.held[one.id]).only_enforce_if(follows)
                if (one.family or one.operation) != (two.family or two.operation):
                    changes.append(follows)
                if two.under_way:
                    self.model.add(follows == 0)
            if two.id in self.set_up:
                self.model.add(self.set_up[two.id] == sum(changes)).only_enforce_if(there)
        self.model.add_multiple_circuit(arcs)
        self.model.add(sum(rows) <= places)

    def _carriers(self) -> None:
        for kind, count in self.problem.carriers.items():
            spans = [
                self.model.new_interval_var(
                    self.model.new_constant(0) if load.holds_carrier else self.start[load.runs[0].id],
                    self._var(""),
                    self.end[load.runs[-1].id],
                    load.id,
                )
                for load in self.problem.loads
                if load.carrier == kind
            ]
            self.model.add_cumulative(spans, [1] * len(spans), count)

    def _crew(self) -> None:
        """Hands over the time somebody is in: where fewer are in than at the most, the others count as busy."""
        until = self.zero + (self.horizon + 1) * self.grid * 60
        known = levels(self.problem, self.zero, until, breaks=True)
        most = max((level for *_, level in known), default=0)
        spans, demands = [span for span, _ in self.hands], [need for _, need in self.hands]
        for opens, closed, before in self.staffed:
            for begin, end, level in known:
                a = max(opens, round((begin - self.zero) / 60 / self.grid))
                b = min(closed, round((end - self.zero) / 60 / self.grid))
                if a < b and level < most:
                    spans.append(self.model.new_fixed_size_interval_var(before + a - opens, b - a, ""))
                    demands.append(most - level)
        self.model.add_cumulative(spans, demands, most)


def _ways(run: RunModel) -> Iterable[tuple[str, int]]:
    """Stations that can do the run, and the places it takes there."""
    return ((name, places) for name, places in ((run.station, run.places), *run.also_at) if name is not None)


def _stretches(
    known: list[tuple[float, float, int]], zero: float, grid: int, horizon: int
) -> list[tuple[int, int, int]]:
    """(start, end, time before it) of each unbroken stretch with somebody in, on the grid."""
    joined: list[tuple[int, int]] = []
    for begin, end, level in known:
        a, b = round((begin - zero) / 60 / grid), min(horizon, round((end - zero) / 60 / grid))
        if level < 1 or b <= a:
            continue
        if joined and joined[-1][1] == a:
            joined[-1] = (joined[-1][0], b)
        else:
            joined.append((a, b))
    found, before = [], 0
    for a, b in joined:
        found.append((a, b, before))
        before += b - a
    return found
