"""The bottleneck, in words: by what the plan waits for and, once known, by what one more of each would save."""

from collections.abc import Sequence
from dataclasses import replace

from floor.figures.schedule.model import Bottleneck, PhaseKind, Plan, PlannedRun, ResourceUse, Saving, SchedulingProblem

BUSY = 0.5
"""Least share in use for a resource to be named because of waits; below, it is free half the time."""

_WORTH = 0.25
"""Working hours that one more must save to be a bottleneck."""

_LIKE = 0.9
"""Savings within this share of the largest count as equal; of these the resource most in use is named."""


def find_bottleneck_by_savings(problem: SchedulingProblem, plan: Plan, savings: Sequence[Saving]) -> Bottleneck:
    """The resource of which one more saves most; the chain of work itself if none does.

    Args:
        savings: as from `compute_savings_of_one_more`. If empty (not known yet), or from another plan that uses other
            resources, the plan's own bottleneck stands.
    """
    if not savings:
        return plan.bottleneck
    most = max(saving.working for saving in savings)
    if most < _WORTH:
        found = find_critical_load(plan.runs)
        return replace(found, words=f"{found.words} One more of anything saves next to nothing.")
    share = {(use.kind, use.name): use.share for use in plan.use}
    alike = [saving for saving in savings if saving.working >= _LIKE * most]
    best = max(alike, key=lambda saving: share.get((saving.kind, saving.name), 0.0))
    if best.kind == "calendar":
        return Bottleneck(
            "calendar",
            "shifts",
            "Shift hours: critical work waits for the next shift. One more "
            f"hour on each shift would save {best.working:.1f} working hours.",
        )
    use = next((use for use in plan.use if (use.kind, use.name) == (best.kind, best.name)), None)
    if use is None:
        return plan.bottleneck
    words = describe_use(problem, plan.runs, use)
    return Bottleneck(use.kind, use.name, f"{words} One more would save {best.working:.1f} working hours.")


def find_bottleneck_by_waits(
    problem: SchedulingProblem,
    runs: Sequence[PlannedRun],
    use: Sequence[ResourceUse],
    waited: dict[tuple[str, str], float],
) -> Bottleneck:
    """Of the resources critical runs wait for, the one most in use, if it is in use enough.

    Args:
        waited: hours waited for each (kind, name), negligible ones left out; ("calendar", "calendar") means until
            somebody is in.
    """
    short = [item for item in use if (item.kind, item.name) in waited and item.share >= BUSY]
    if short:
        most = max(short, key=lambda item: item.share)
        return Bottleneck(most.kind, most.name, f"{describe_use(problem, runs, most)} The finish date depends on it.")
    if ("calendar", "calendar") in waited:
        return Bottleneck(
            "calendar",
            "shifts",
            "Shift hours: nothing is short of places, but critical work waits "
            f"{waited['calendar', 'calendar']:.1f} h by the clock for the next shift.",
        )
    return find_critical_load(runs)


def describe_use(problem: SchedulingProblem, runs: Sequence[PlannedRun], use: ResourceUse) -> str:
    """How much of a resource the plan uses, in a sentence."""
    if use.kind == "station":
        count = sum(run.station == use.name for run in runs)
        return f"{use.name}: in use {100 * use.share:.0f} % of the time to the finish, by {count} runs."
    if use.kind == "hands":
        return f"Operators are busy {100 * use.share:.0f} % of the shift time until the finish."
    those = [run for run in runs if run.carrier == use.name]
    loads = len({run.load for run in those})
    return (
        f"{use.name}: {problem.carriers[use.name]} in the shop, "
        f"in use {100 * use.share:.0f} % of the time to the finish; "
        f"a load ties one up for {use.busy / loads:.1f} h{_alone(those, loads)}."
    )


def find_critical_load(runs: Sequence[PlannedRun]) -> Bottleneck:
    """The bottleneck is the route: the load that ends last, by its own work and cure."""
    if not runs:
        return Bottleneck("route", "", "Nothing is left to do.")
    load = max(runs, key=lambda run: run.end.timestamp()).load
    of = _alone([run for run in runs if run.load == load])
    return Bottleneck(
        "route",
        load,
        f"The work itself: the chain of load {load} sets the date{of}. Only shorter work "
        "or a shorter cure would finish it sooner.",
    )


def _alone(runs: Sequence[PlannedRun], loads: int = 1) -> str:
    """The part of it that more operators cannot shorten, per load: ``, 24.0 h of it curing, 4.3 h running alone``."""
    cured, cycles = (
        sum(
            part.end.timestamp() - part.start.timestamp() for run in runs for part in run.stretches if part.kind is kind
        )
        / 3600
        / loads
        for kind in (PhaseKind.CURE, PhaseKind.UNATTENDED)
    )
    some = [(hours, what) for hours, what in ((cured, "curing"), (cycles, "running alone")) if hours >= 0.05]
    return "".join(f", {hours:.1f} h {'' if n else 'of it '}{what}" for n, (hours, what) in enumerate(some))
