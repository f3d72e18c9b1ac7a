"""The proven optimum of a small problem by OR-Tools CP-SAT, modelled from the problem alone, in whole minutes."""

from datetime import timedelta

from ortools.sat.python import cp_model

from floor.figures.schedule import Kind, Phase, Problem, Run


def optimum(problem: Problem, horizon: int, effort: float,
            not_before: dict[str, int] | None = None) -> int | None:
    """Least minutes from now to the last end, some runs not starting before a minute; None when not proven in time.

    The effort is in the solver's deterministic time, and it has one worker, so that a busy computer proves as much as
    an idle one. Not for interruptible work, fixed starting instants and runs under way; set-ups only at stations with
    one place.
    """
    model = _Model(problem, horizon)
    for run, minute in (not_before or {}).items():
        model.model.add(model.start[run] >= minute)
    return model.solve(effort)


class _Model:
    def __init__(self, problem: Problem, horizon: int) -> None:
        self.problem, self.horizon = problem, horizon
        self.model = cp_model.CpModel()
        self.start: dict[str, cp_model.IntVar] = {}
        self.end: dict[str, cp_model.IntVar] = {}
        self.held: dict[str, cp_model.IntVar] = {}
        self.set_up: dict[str, cp_model.IntVar] = {}
        self.hands: list[tuple[cp_model.IntervalVar, int]] = []
        for load in problem.loads:
            for run in load.runs:
                self._run(run)
            for one, two in zip(load.runs, load.runs[1:], strict=False):
                self.model.add(self.start[two.id] >= self.end[one.id])
        for load in problem.loads:
            for run in load.runs:
                self._windows(run)
        self._stations()
        self._carriers()
        self._crew()

    def solve(self, effort: float) -> int | None:
        last = self.model.new_int_var(0, self.horizon, "last")
        self.model.add_max_equality(last, list(self.end.values()))
        self.model.minimize(last)
        solver = cp_model.CpSolver()
        solver.parameters.max_deterministic_time = effort
        solver.parameters.num_workers = 1
        return int(solver.objective_value) if solver.solve(self.model) == cp_model.OPTIMAL else None

    def _var(self, name: str) -> cp_model.IntVar:
        return self.model.new_int_var(0, self.horizon, name)

    def _run(self, run: Run) -> None:
        self.start[run.id] = at = self._var(f"{run.id} start")
        self.held[run.id] = at
        if run.setup is not None:
            needed = self.model.new_bool_var(f"{run.id} set up")
            self.set_up[run.id] = needed
            done = self._var(f"{run.id} set up done")
            length = int(run.setup.minutes)
            self.hands.append((self.model.new_optional_interval_var(at, length, done, needed, f"{run.id} set-up"),
                               run.setup.hands))
            self.model.add(done == at).only_enforce_if(~needed)
            at = done
        for n, phase in enumerate(run.phases):
            at = self._phase(run, n, phase, at)
        self.end[run.id] = at

    def _phase(self, run: Run, n: int, phase: Phase, after: cp_model.IntVar) -> cp_model.IntVar:
        begin, end, length = self._var(f"{run.id} {n}"), self._var(f"{run.id} {n} end"), int(phase.minutes)
        self.model.add(begin >= after)
        if n == 0 and run.setup is None:
            self.model.add(begin == after)
        self.model.add(end == begin + length)
        if phase.kind is Kind.ATTENDED:
            self.hands.append((self.model.new_interval_var(begin, length, end, f"{run.id} {n}"), phase.hands))
        if phase.kind is not Kind.CURE:
            self.held[run.id] = end
        return end

    def _windows(self, run: Run) -> None:
        for after in run.after:
            chosen = []
            for window in after.windows:
                inside = self.model.new_bool_var("")
                gap = self.start[run.id] - self.end[after.run]
                self.model.add(gap >= int(window.earliest)).only_enforce_if(inside)
                if window.latest is not None:
                    self.model.add(gap <= int(window.latest)).only_enforce_if(inside)
                chosen.append(inside)
            self.model.add_bool_or(chosen)

    def _stations(self) -> None:
        runs = [run for load in self.problem.loads for run in load.runs]
        for station in self.problem.stations:
            here = [run for run in runs if run.station == station.name]
            spans = []
            for run in here:
                size = self._var("")
                spans.append(self.model.new_interval_var(self.start[run.id], size, self.held[run.id], run.id))
            self.model.add_cumulative(spans, [run.places for run in here], station.places)
            if any(run.setup is not None for run in here):
                assert station.places == 1
                self._like_after_like(here, station.set_up_for)

    def _like_after_like(self, here: list[Run], family: str | None) -> None:
        """One circuit through the runs; a set-up is needed where the family changes."""
        arcs = []
        changes: dict[str, list[cp_model.IntVar]] = {run.id: [] for run in here}
        for j, two in enumerate(here, 1):
            first, last = self.model.new_bool_var(""), self.model.new_bool_var("")
            arcs += [(0, j, first), (j, 0, last)]
            if family != (two.family or two.operation):
                changes[two.id].append(first)
            for i, one in enumerate(here, 1):
                if i == j:
                    continue
                follows = self.model.new_bool_var("")
                arcs.append((i, j, follows))
                self.model.add(self.start[two.id] >= self.held[one.id]).only_enforce_if(follows)
                if (one.family or one.operation) != (two.family or two.operation):
                    changes[two.id].append(follows)
        self.model.add_circuit(arcs)
        for run in here:
            if run.id in self.set_up:
                self.model.add(self.set_up[run.id] == sum(changes[run.id]))

    def _carriers(self) -> None:
        for kind, count in self.problem.carriers.items():
            spans = [self.model.new_interval_var(self.start[load.runs[0].id], self._var(""),
                                                 self.end[load.runs[-1].id], load.id)
                     for load in self.problem.loads if load.carrier == kind]
            self.model.add_cumulative(spans, [1] * len(spans), count)

    def _crew(self) -> None:
        """Attended work within shifts, minute by minute: whoever is not in counts as busy."""
        spans = [span for span, _ in self.hands]
        demands = [need for _, need in self.hands]
        tz = self.problem.calendar.tz
        closed_since: int | None = None
        for minute in range(self.horizon + 1):
            at = (self.problem.now + timedelta(minutes=minute)).astimezone(tz)
            is_open = any(self._on(shift, at.weekday(), at.hour * 60 + at.minute)
                          for shift in self.problem.calendar.shifts)
            if not is_open and closed_since is None:
                closed_since = minute
            if closed_since is not None and (is_open or minute == self.horizon):
                spans.append(self.model.new_fixed_size_interval_var(closed_since, minute - closed_since, ""))
                demands.append(self.problem.hands)
                closed_since = None
        self.model.add_cumulative(spans, demands, self.problem.hands)

    @staticmethod
    def _on(shift: object, weekday: int, minute: int) -> bool:
        start = shift.start.hour * 60 + shift.start.minute
        end = (shift.end.hour * 60 + shift.end.minute) or 1440
        return shift.weekday == weekday and start <= minute < end and not any(
            a.hour * 60 + a.minute <= minute < b.hour * 60 + b.minute for a, b in shift.breaks)
