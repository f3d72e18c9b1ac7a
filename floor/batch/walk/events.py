"""Events of a run: started, walked, its cycle, released."""

from floor.batch.event_base import Event, register_event, register_part


@register_part
class OfRun(Event):
    """What happened in a run, and in runs sharing its cycle."""

    run: int
    op: int


@register_event("run_begun", "steps")
class RunBegun(OfRun):
    load: int
    station: str
    setup: int
    new_setup: bool
    pieces: tuple[int, ...]
    cycle: int = 0
    """Number of a cycle that may take several loads; 0 if it takes this load alone."""
    rework: str = ""
    exception: str = ""
    """Why it was started while a handover was open."""
    ahead: bool = False
    """Whether its turn has not come: operations before it follow later."""
    ahead_why: str = ""
    """A lead's reason for that, where the list does not allow any order."""
    instead: str = ""
    """A lead's reason for a station that the checklist does not name for it."""
    unmet: str = ""
    """Arrival gates that were not met when it was started anyway."""
    lifted: tuple[int, ...] | None = None
    """Loads that made room for it at a station with several places."""
    read: tuple[int, ...] = ()
    """Notes left on the load, which whoever started it has read."""


@register_event("run_put_back", "steps")
class RunPutBack(OfRun):
    load: int
    falls: int
    """Lines of its walk that must be done again."""


@register_event("cautions_read", "steps", proves=False)
class CautionsRead(OfRun):
    line: str
    cautions: tuple[str, ...]


@register_event("steps_checked", "steps", proves=False)
class StepsChecked(OfRun):
    """The steps done before an interruption were checked again."""

    lines: tuple[str, ...]


@register_event("step_done", "steps")
class StepDone(OfRun):
    line: str
    note: str = ""
    along: tuple[int, ...] = ()


@register_event("step_skipped", "steps", abnormal=True)
class StepSkipped(OfRun):
    line: str
    reason: str
    along: tuple[int, ...] = ()


@register_event("cycle_started", "steps")
class CycleStarted(OfRun):
    along: tuple[int, ...] = ()
    anew: bool = False
    """Whether it restarts after a stop."""
    resumed: bool = False
    """Whether it continues after a stop."""


@register_event("cycle_stopped", "steps", abnormal=True)
class CycleStopped(OfRun):
    why: str
    tool: int | None = None
    note: str = ""
    ago: float = 0.0
    """Seconds between the stop and its entry."""
    along: tuple[int, ...] = ()


@register_event("cycle_ended", "steps")
class CycleEnded(OfRun):
    along: tuple[int, ...] = ()


@register_event("released", "steps")
class Released(OfRun):
    load: int


@register_event("paused", "steps", proves=False)
class Paused(OfRun):
    reason: str
