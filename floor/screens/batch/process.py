"""Is the process drifting, and where do the losses come from? A page for each question, asked of the record."""

from __future__ import annotations

from functools import cache, partial
from typing import TYPE_CHECKING

from floor.batch.counting.losses import say_lost_as
from floor.screens.batch.lessons import LessonsScreen
from floor.screens.batch.process_pages import Page, ProcessScreen, SpanScreen
from floor.screens.batch.trials import TrialScreen
from floor.screens.forms.dialogs import Choice, ChoiceDialog
from floor.screens.frame.run_in_thread import run_in_thread
from floor.screens.frame.screen import FloorScreen
from floor.text import capitalize_first, format_count, wrap_text

if TYPE_CHECKING:
    from floor.batch.quality.batch_facts import EarlierBatches
    from floor.batch.state import Batch
    from floor.figures.calendar import Calendar
    from floor.papers.sampling import PlanInUse
    from floor.shop.earlier_batches import Asked

FEWEST_REASONS = 4
TESTED = "Statistical tests cover the whole batch: a time picked by hand gives more false alarms"


class MeasuredScreen(SpanScreen):
    """Question 7: is the process drifting? A page for each characteristic."""

    GUIDE = (
        "A point is a value, or the mean of a load, in the order measured.",
        "Marked: values out of limits, and runs that chance rarely makes.",
        "`←` and `→` show the other characteristics, then each by the pieces its",
        "tools have cut, then the sampling plans. `/`: only since a time.",
    )
    SUBJECT = "measured values"

    def make_pages(self, batch: Batch) -> list[Page]:
        """Characteristics of the pieces first, and what tells something before what does not."""
        from floor.batch.quality.drifts import list_wear
        from floor.batch.quality.measured_values import list_measured_values, narrow_values
        from floor.papers.drifts import describe_drift, list_wear_lines
        from floor.papers.measured_values import NOTHING, NOTHING_SINCE, ValueStudy, list_value_lines, study_values
        from floor.papers.sampling import list_plans

        drifts = {one.shape: describe_drift(one) for one in self.session.find_drifts(batch)}

        def draw(study: ValueStudy) -> Page:
            told = drifts.get(study.shape, "")
            return lambda width, height: list_value_lines(batch, study, width, height, told)

        every = list_measured_values(batch)
        found = [study_values(shape, values) for shape, values in narrow_values(every, self.since).items()]
        found.sort(key=lambda one: (not one.shape.of_piece, one.shape not in drifts, not one.is_telling))
        nothing = NOTHING if not every or self.since is None else NOTHING_SINCE
        pages = [draw(study) for study in found] or [lambda width, height: [nothing]]
        worn: list[Page] = [partial(list_wear_lines, wear) for wear in list_wear(batch)]
        plans = [_draw_plan(batch, plan) for plan in list_plans(batch)]
        return [*pages, *(self.since_the_start(page) for page in [*worn, *plans])]


def _draw_plan(batch: Batch, plan: PlanInUse) -> Page:
    from floor.papers.sampling import list_plan_lines

    return lambda width, height: list_plan_lines(batch, plan, width)


class LossScreen(SpanScreen):
    """Question 7: does the scrap come from one place, tool, carrier or lot? The verdict, then a page for each way."""

    GUIDE = (
        "First what is sure, then the reasons; `→` shows each operation.",
        "Marked: what chance rarely makes, after all that was tried.",
        "A name needs at least 6 losses. People are never listed.",
        "`/`: only runs whose walk started since a time, and what they lost.",
    )
    SUBJECT = "losses"

    def make_pages(self, batch: Batch) -> list[Page]:
        from floor.batch.quality.loss_causes import LossPath
        from floor.batch.quality.loss_patterns import study_losses
        from floor.papers.losses import list_cause_lines, list_path_lines, list_reason_lines, list_verdict_lines

        study, since = study_losses(batch, self._read_calendar()), self.since
        lost = study.narrow(since)
        tested = [TESTED] if since is not None else []

        def overview(width: int, height: int) -> list[str]:
            verdict = [*tested, *list_verdict_lines(batch, study, width)]
            causes = list_cause_lines(batch, width, since)
            most = max(height - len(verdict) - len(causes) - 4, FEWEST_REASONS)
            return [*verdict, "", *list_reason_lines(batch, width, most, since), "", *causes]

        def draw(path: LossPath) -> Page:
            return lambda width, height: [*list_path_lines(batch, lost, path, width, height - len(tested)), *tested]

        return [overview, *(draw(path) for path in lost.outcomes)]

    def _read_calendar(self) -> Calendar | None:
        """The shop's shifts; None if its settings cannot be read, which other pages say."""
        from floor.shop.load_settings import load_settings
        from floor.shop.settings import SettingsError

        try:
            return load_settings(self.session.shop.folder, self.session.now().at).calendar
        except SettingsError:
            return None


class KeyFiguresScreen(SpanScreen):
    """Question 8: how well were machines and time used, and against the plan? The batch, its operations, its stations;
    formulas and inputs on the page after each.
    """

    GUIDE = (
        "Key figures as ISO 22400-2 names them; `→` shows formulas and inputs.",
        "Then planned against actual times, the cost, each station and shift.",
        "`/`: only runs whose walk started since a time.",
        "Where something was not recorded, there is a reason and no number.",
    )
    SUBJECT = "key figures"

    def make_pages(self, batch: Batch) -> list[Page]:
        from floor.batch.quality.costs import BatchCosts, compute_costs
        from floor.batch.quality.time_elements import TimeElements, compute_time_elements
        from floor.papers.costs import list_cost_lines
        from floor.papers.key_figures import list_figure_lines, list_formula_lines, list_scope_lines, list_time_lines
        from floor.planning.pace import RunTime, list_run_times
        from floor.shop.load_settings import load_settings
        from floor.shop.settings import SettingsError

        now = self.session.now().at
        try:
            settings = load_settings(self.session.shop.folder, now)
        except SettingsError as error:
            why = str(error)
            return [lambda width, height: wrap_text(why, "", "  ", width)]
        calendar, rates = settings.calendar, settings.costs
        since = self.since
        study = compute_time_elements(batch, calendar, now, since)

        @cache
        def times() -> list[RunTime]:
            return list_run_times(batch, calendar, since)

        @cache
        def costs() -> BatchCosts | None:
            return compute_costs(batch, study if since is None else compute_time_elements(batch, calendar, now), rates)

        def figures(elements: TimeElements, what: str) -> Page:
            return lambda width, height: [
                *list_scope_lines(elements, calendar, what, now, width),
                "",
                *list_figure_lines(elements, width),
            ]

        def formulas(elements: TimeElements, what: str) -> Page:
            return lambda width, height: [f"{what}: formulas and inputs", "", *list_formula_lines(elements, width)]

        stations = {batch.checklist.station(id).name: one for id, one in study.stations.items()}
        ended = batch.total("finished") + batch.count_lost()
        name = "The whole batch" if since is None else "All stations"
        so_far = f" ({ended} of {batch.started} pieces finished or {say_lost_as(batch)})" if since is None else ""
        pages = [figures(study.whole, f"{name}{so_far}"), formulas(study.whole, name)]
        pages.append(lambda width, height: list_time_lines(batch, times(), width))
        pages.append(self.since_the_start(lambda width, height: list_cost_lines(batch, costs(), width)))
        for what, elements in [*stations.items(), *((capitalize_first(it), one) for it, one in study.shifts.items())]:
            pages += [figures(elements, what), formulas(elements, what)]
        return pages


class EarlierScreen(ProcessScreen):
    """Question 5, asked again: how sure is the start quantity now? Earlier batches of the part beside this one, read
    beside the keys.
    """

    GUIDE = (
        "How sure the start quantity is, alone and with earlier batches.",
        "`→` shows yields, times, and other parts at the same stations.",
        "An open batch keeps the plan it was opened with.",
    )
    SUBJECT = "earlier batches"

    _read: EarlierBatches | None = None
    _answers = 0
    """How often something was read, or could not be."""
    _asked = -1
    """How many batches were closed when it was asked for."""
    _wrong = ""

    def find_known(self, batch: Batch) -> object:
        """Another batch may be closed, or a lesson be taken, meanwhile."""
        shop = self.session.shop
        return batch.seq, self._answers, len(shop.closed()), len(shop.people.lessons)

    def make_pages(self, batch: Batch) -> list[Page]:
        from floor.papers.earlier_batches import (
            list_batch_lines,
            list_other_lines,
            list_sure_lines,
            list_time_lines,
            list_yield_lines,
            make_report,
        )
        from floor.shop.earlier_batches import ask_of_batch
        from floor.shop.load_settings import load_settings
        from floor.shop.settings import SettingsError

        shop, now = self.session.shop, self.session.now().at
        try:
            settings = load_settings(shop.folder, now)
        except SettingsError as error:
            why = str(error)
            return [lambda width, height: wrap_text(why, "", "  ", width)]
        asked = ask_of_batch(shop, batch, settings.calendar)
        self._have_asked(asked)
        if self._read is None:
            said = self._wrong or f"Reading {format_count(len(shop.closed()), 'closed batch')} …"
            return [lambda width, height: wrap_text(said, "", "  ", width)]
        report = make_report(batch, asked, self._read, now, settings.fill_level, settings.half_life_days)

        @cache  # the pieces to start are worked out for it
        def sure(width: int, height: int) -> list[str]:
            return [*list_sure_lines(report, width), "", *list_batch_lines(report, width)]

        return [
            sure,
            lambda width, height: list_yield_lines(report, width),
            lambda width, height: list_time_lines(report, width),
            lambda width, height: list_other_lines(report, width),
        ]

    def _have_asked(self, asked: Asked) -> None:
        """Have the others read, once for what there is."""
        if len(asked.names) != self._asked:
            self._asked = len(asked.names)
            self.run_worker(self._have_read(asked), exclusive=True)

    async def _have_read(self, asked: Asked) -> None:
        from floor.shop.earlier_batches import read_earlier

        try:
            self._read = await run_in_thread(read_earlier, asked, lambda: not self.is_attached)
        except Exception as error:  # whatever it is, the other pages stand without it
            self._wrong = f"Earlier batches cannot be read: {error}"
        self._answers += 1
        self.update_all()


def choose_view(screen: FloorScreen, batch: str) -> None:
    """What of a batch is to be seen."""
    kinds: dict[str, type[ProcessScreen]] = {
        "losses": LossScreen,
        "measured": MeasuredScreen,
        "figures": KeyFiguresScreen,
        "lessons": LessonsScreen,
        "trials": TrialScreen,
        "earlier": EarlierScreen,
    }
    words = {
        "losses": "losses: where scrap and rework come from",
        "measured": "measured values, as control charts",
        "figures": "key figures: time, effectiveness, planned against actual",
        "lessons": "lessons: what the next quote can use, for the checklist",
        "trials": "trials: which setting is better",
        "earlier": "earlier batches: how sure the start quantity is now",
    }

    def chosen(key: str | None) -> None:
        if key is not None:
            screen.floor.go(kinds[key](screen.session, batch))

    screen.floor.push_screen(ChoiceDialog("View", [Choice(key, words[key]) for key in kinds]), chosen)
