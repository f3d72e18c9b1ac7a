"""A run of a load at a station: begun, walked, its cycle, released."""

from floor.batch.event import Event, register_event, register_part


@register_part
class OfRun(Event):
    """What happened in a run, and in those that were in one cycle with it."""

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
    """What the cycle is called that may take several loads; 0 where it takes this load alone."""
    rework: str = ""
    exception: str = ""
    """Why it was begun while a handover was open."""
    unmet: str = ""
    """What was not met on arrival, where it was begun anyway."""
    lifted: tuple[int, ...] | None = None
    """Loads that made room for it at a station with several places."""


@register_event("run_put_back", "steps")
class RunPutBack(OfRun):
    load: int
    falls: int
    """Lines of its walk that are to be done again."""


@register_event("cautions_read", "steps", proves=False)
class CautionsRead(OfRun):
    line: str
    cautions: tuple[str, ...]


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
    """It had stopped, and begins again from its beginning."""
    resumed: bool = False
    """It had stopped, and goes on from there."""


@register_event("cycle_stopped", "steps", abnormal=True)
class CycleStopped(OfRun):
    why: str
    tool: int | None = None
    note: str = ""
    ago: float = 0.0
    """Seconds before it was entered."""
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
