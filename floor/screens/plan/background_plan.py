"""The plan in the background: the newest one is kept on view while the next is made.

What the plan is made from is taken between two keys; the work itself is done in a thread, and nothing of it is
imported before the first screen stands. A plan that cannot be made is said, and stops nothing.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import field
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any, NamedTuple, TypeVar

from floor.batch.state import Batch
from floor.batch.worklist.due_task import DueTask
from floor.dataclass import dataclass
from floor.entry import Moment
from floor.screens.frame.run_in_thread import run_in_thread
from floor.text import format_count, format_share

if TYPE_CHECKING:
    from floor.figures.schedule import FinishBands, Saving
    from floor.planning.batch_forecast import ForecastInputs, Outlook
    from floor.planning.plan import ShopPlan
    from floor.planning.problem import Crew
    from floor.planning.snapshot import Snapshot
    from floor.shop.settings import Settings
    from floor.shop.shop import Shop

REPLAN_MINUTES = 5
LONGEST_WAIT = 30
"""A plan older than the first is made again although nothing was entered, the next after twice as long, up to this: at
a fixed interval, a plan screen left open took a third of a core."""
SETTLE = 2.0
"""Seconds without an entry before a plan is made: while somebody confirms line after line it waits."""
DRAWN, PLANNED, LOOKED, IMPROVED = 0.1, 0.2, 0.35, 0.8
"""Shares of the work done when the plan stands, its spread, the outlooks, and the plan that was searched for longer."""
SAMPLES = 60
"""Draws for the band of the finish, where the plan is not large."""


class Usable(NamedTuple):
    """Pieces that could fill an order, and those of them that the outlook leaves out."""

    pieces: int
    held: int


Key = tuple[tuple[str, int], ...]
T = TypeVar("T")


@dataclass(slots=True)
class Planner:
    """The newest plan of a shop and what belongs to it."""

    shop_plan: ShopPlan | None = None
    spread: FinishBands | None = None
    outlooks: dict[str, Outlook] = field(default_factory=dict)
    first_op: Mapping[str, int] = field(default_factory=dict)
    facts: dict[str, tuple[ForecastInputs, float]] = field(default_factory=dict)
    """What the outlook of each batch was worked out from."""
    usable: dict[str, Usable] = field(default_factory=dict)
    """Pieces of each batch that could fill its order then."""
    trouble: str = ""
    """Why there is no newer plan."""
    effort: int = 0
    """Of the plan that is searched for longer; 0 is the planner's own."""
    settings: Settings | None = None
    """As the newest plan has them; those read first where there is none."""
    asked_for_hours: bool = False
    """Whether the settings were read without a plan: they are not at every key."""
    made_of: Key = ()
    """What had been entered when the plan was made."""
    made_at: datetime | None = None
    good_for: int = REPLAN_MINUTES
    """Minutes after which it is made again although nothing was entered."""
    searched: bool = False
    """Whether the longer search for a plan of what was entered is over."""
    saved: tuple[Saving, ...] | None = None
    saved_of: object = None
    savings_searched: bool = False
    """Whether the longer search for what one more of each saves is over, too."""
    busy: bool = False
    share: float = 0.0
    """How far the plan is that is being made."""
    doing: str = ""
    """What of it is being made."""
    overtaken: bool = False
    """Whether the last plan was given up because the state changed: the next one is then made to its end, or steady
    work would put it off forever."""
    turn: int = 0
    """Raised by each new start: what started before stops."""
    armed: dict[str, bool] = field(default_factory=dict)
    """By batch: whether the next fall below the level is news."""
    news: list[str] = field(default_factory=list)
    """Said once by the next who looks."""

    def is_fresh(self, shop: Shop, now: Moment) -> bool:
        """Whether nothing was entered since it was made, and not too long ago."""
        if self.made_of != _key(shop) or self.made_at is None:
            return False
        return timedelta(0) <= now.at - self.made_at < timedelta(minutes=self.good_for)

    def count_entries_since(self, shop: Shop) -> dict[str, int]:
        """Batches of which something was entered since the plan was made → how many entries."""
        known = dict(self.made_of)
        return {batch.id: since for batch in shop.batches if (since := batch.seq - known.get(batch.id, 0))}

    @property
    def basis(self) -> tuple[Key, Settings | None]:
        """What the plan hangs on, but for the time."""
        return self.made_of, self.settings

    @property
    def savings(self) -> tuple[Saving, ...] | None:
        """What one more of each saves, by any plan of what was entered; None until it is worked out."""
        return self.saved if self.saved_of == self.basis else None

    def keep_savings(self, found: tuple[Saving, ...]) -> None:
        self.saved, self.saved_of, self.savings_searched = found, self.basis, False

    @property
    def progress(self) -> str:
        """``planning 43 %, best so far Tue 01 Dec 12:29``; the empty string where no plan is being made."""
        if not self.busy:
            return ""
        return f"planning {format_share(self.share)}" + (f", {self.doing}" if self.doing else "")

    @property
    def is_first_awaited(self) -> bool:
        """Whether the first plan is being made: until then nobody knows what closes while nobody is in."""
        return self.busy and self.shop_plan is None

    @property
    def crew(self) -> Crew:
        """Who is in, by the settings that were read last."""
        from floor.planning.make_plan import find_crew

        assert self.settings is not None, "a plan was made, so the settings are read"
        return find_crew(self.settings)

    def hours(self, shop: Shop, now: datetime) -> Settings | None:
        """The shop's settings: the plan's, else read once; None where they are wrong until a plan reads them."""
        if self.settings is None and not self.asked_for_hours:
            from floor.shop.load_settings import load_settings
            from floor.shop.settings import SettingsError

            self.asked_for_hours = True
            with suppress(SettingsError):
                self.settings = load_settings(shop.folder, now)
        return self.settings

    async def renew(self, shop: Shop, now: Moment) -> None:
        """The plan with its band, then the outlook; then a plan searched for longer, which takes its place if better.

        Better is what finishes sooner as stated, with the band: a plan that is shorter as drawn may not be.
        """
        self.turn += 1
        turn = self.turn
        try:
            await self._renew(shop, now, turn)
        except asyncio.CancelledError:
            self.turn += 1
            raise
        except Exception as error:  # whatever it is, work must go on without a plan
            self.trouble = _sentence(error)
            self._note(_key(shop), now, False)

    async def _renew(self, shop: Shop, now: Moment, turn: int) -> None:
        await run_in_thread(_import)
        from floor.figures.schedule import FIRST, LARGE, QUICK, THOROUGH, THOROUGH_LARGE
        from floor.planning.finish import list_stated_finishes, score_likely_finishes
        from floor.planning.make_plan import draw_finishes, prepare_plan
        from floor.shop.load_settings import load_settings

        settings = await run_in_thread(load_settings, shop.folder, now.at)
        if self.shop_plan is None:
            self.settings = settings
        key, hold = _key(shop), self.shop_plan is not None  # nothing was promised before the first plan
        again = self.searched and (key, settings) == self.basis

        def stop() -> bool:
            """Whether somebody started again, or entered something since."""
            try:
                return turn != self.turn or (not self.overtaken and key != _key(shop))
            except KeyError:  # a batch was closed this very moment: this is asked in the thread that plans
                return True

        def tell(share: float, doing: str) -> None:
            self.share, self.doing = share, doing

        async def made(work: Callable[..., T], *given: Any, **named: Any) -> T:
            found = await run_in_thread(work, *given, should_stop=stop, **named)
            if stop():
                raise _Overtaken
            return found

        tell(0.0, "")
        service = prepare_plan(shop.batches, now, settings)
        taken, usable = service.taken, _count_all_usable(shop)
        try:
            large = taken.runs > LARGE
            coarse = large and not again
            first = await made(
                service.make_plan,
                effort=FIRST if coarse else QUICK,
                previous=self.shop_plan,
                hold=hold,
                progress=lambda share, doing: tell(DRAWN * share, doing),
            )
            # The band of a large shop takes long: its first plan stands beside the band that was drawn last, if any.
            drawn = (
                self.spread
                if coarse
                else await made(
                    draw_finishes,
                    first,
                    SAMPLES,
                    tell=lambda share: tell(DRAWN + (PLANNED - DRAWN) * share, "spread of the finish"),
                )
            )
            self.shop_plan, self.spread = first, drawn
            self.settings, self.trouble, self.first_op = settings, "", taken.first_op
            self._note(key, now, again)
            await self._look_out(taken, usable, settings.fill_level, stop, tell)
            if again:  # it was searched for longer, and no one has done anything since
                return
            longer = self.effort or (THOROUGH_LARGE if large else THOROUGH)
            better = await made(
                service.make_plan,
                like=first,
                effort=longer,
                previous=first,
                hold=hold,
                progress=lambda share, doing: tell(LOOKED + (IMPROVED - LOOKED) * share, doing),
            )
            found = await made(
                draw_finishes,
                better,
                SAMPLES,
                tell=lambda share: tell(IMPROVED + (1 - IMPROVED) * share, "spread of the finish"),
            )
            promised = list_stated_finishes(first, drawn) if hold else {}
            bands = (found, drawn) if found is not None and drawn is not None else (None, None)  # like with like
            if large or score_likely_finishes(better, bands[0], promised) < score_likely_finishes(
                first, bands[1], promised
            ):
                self.shop_plan, self.spread = better, found
            self.overtaken, self.searched = False, True
        except _Overtaken:
            self.overtaken = turn == self.turn

    def _note(self, key: Key, now: Moment, again: bool) -> None:
        """Note what a plan was made from, and when; where that was the same as before, the next one can wait longer."""
        self.good_for = min(2 * self.good_for, LONGEST_WAIT) if again else REPLAN_MINUTES
        self.made_of, self.made_at, self.searched = key, now.at, again

    async def _look_out(
        self,
        taken: Snapshot,
        usable: Mapping[str, Usable],
        level: float,
        stop: Callable[[], bool],
        tell: Callable[[float, str], None],
    ) -> None:
        """The outlook of each batch whose counts have changed: with thousands of pieces it takes long.

        Args:
            usable: pieces of each batch that could fill its order when this was taken.
        """
        from floor.planning.batch_forecast import compute_outlook

        for n, (batch, known) in enumerate(taken.facts.items()):
            tell(PLANNED + (LOOKED - PLANNED) * n / len(taken.facts), f"chance to fill {batch}")
            if self.facts.get(batch) != (known, level):
                found = await run_in_thread(compute_outlook, known, level)
                if stop():
                    raise _Overtaken
                self.outlooks[batch], self.facts[batch] = found, (known, level)
            self.usable[batch] = usable[batch]
        self._notice({batch: self.outlooks[batch] for batch in taken.facts}, level)

    def _notice(self, looked: Mapping[str, Outlook], level: float) -> None:
        """News where the chance to fill an order has fallen below the level: once for each fall."""
        from floor.figures.top_up import decide_warning
        from floor.planning.batch_forecast import describe_outlook

        for batch, found in looked.items():
            saying = decide_warning(self.armed.get(batch, True), found.forecast.probability, level)
            self.armed[batch] = saying.armed
            if saying.say:
                self.news.append(describe_outlook(batch, found, self.first_op[batch]))


class _Overtaken(Exception):
    """What is being made is of a state that is no longer."""


def _import() -> None:
    import floor.figures.schedule
    import floor.planning.dispatch_list
    import floor.planning.make_plan
    import floor.shop.settings  # noqa: F401


def _key(shop: Shop) -> Key:
    return tuple((batch.id, batch.seq) for batch in shop.batches)


def _count_usable(batch: Batch) -> Usable:
    return Usable(batch.count_usable(), batch.total("hold"))


def _count_all_usable(shop: Shop) -> dict[str, Usable]:
    return {batch.id: _count_usable(batch) for batch in shop.batches}


def _sentence(error: Exception) -> str:
    from floor.shop.settings import SettingsError

    if isinstance(error, SettingsError):  # its folder would leave no room for the mistakes
        mistakes = format_count(len(error.faults), "mistake")
        said = f"{mistakes} in {error.file.name}: {'; '.join(error.faults)}. {error.mend}"
    else:
        said = str(error) or type(error).__name__
    return f"There is no plan: {said}"


def sort_by_plan(planner: Planner, dues: list[DueTask], now: datetime) -> tuple[list[DueTask], dict[str, str]]:
    """What is due in the order of the plan, and by when each must be started; as it was where there is no plan."""
    if planner.shop_plan is None:
        return dues, {}
    from floor.planning.dispatch_list import rank_dues

    advised = rank_dues(dues, planner.shop_plan, now)
    return [one.due for one in advised], {one.due.key: one.said(now) for one in advised}


def _is_past(batch: Batch, shop_plan: ShopPlan, run: str) -> bool:
    """Whether a planned run is through since, or has stopped and no window closes on it."""
    work = shop_plan.asked.works[run]
    load = batch.loads.get(work.load) if work.load is not None else None
    now = batch.runs.get(load.run) if load is not None and load.run is not None else None
    if now is None or now.op != work.op or now.count is not None:
        return True
    has_window = any(one.run == run and one.clock for one in shop_plan.asked.closing)
    return not has_window and not now.running


def list_deadline_troubles(planner: Planner, batch: Batch) -> list[str]:
    """What the plan cannot keep of a batch: windows that close, and cycles that end, while nobody is in."""
    shop_plan = planner.shop_plan
    if shop_plan is None:
        return []
    from floor.planning.plan_text import describe_missed_deadlines

    return describe_missed_deadlines(shop_plan, batch.id, lambda run: _is_past(batch, shop_plan, run))


def list_plan_troubles(planner: Planner, batch: Batch) -> list[str]:
    """Pieces of a batch that the plan does not bring on."""
    missing = planner.shop_plan.unplanned.get(batch.id) if planner.shop_plan is not None else None
    return [f"{missing.short} (g: why)"] if missing else []


def format_batch_outlook(planner: Planner, batch: Batch) -> str:
    """One line about a batch: whether its order is filled, when it is through, what to start now; empty unknown."""
    shop_plan, found = planner.shop_plan, planner.outlooks.get(batch.id)
    if shop_plan is None or batch.id not in shop_plan.plan.finish:
        return planner.trouble
    from floor.planning.plan_text import format_outlook_line

    usable = _count_usable(batch)
    stale = planner.usable.get(batch.id, usable) != usable
    if stale:  # pieces were lost or held since: the chance of before would contradict what is still usable
        found = None
    band = planner.spread.batches.get(batch.id) if planner.spread else None
    said = format_outlook_line(shop_plan, batch.id, found, band, planner.first_op.get(batch.id, 0))
    return f"Chance to fill: being worked out · {said}" if stale else said
