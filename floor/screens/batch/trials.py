"""Which coolant, which insert, which feed? The trials of a batch, a page for each, and what can be done with one."""

from __future__ import annotations

from functools import partial

from textual.binding import Binding

from floor.batch.state import Batch
from floor.batch.trial import Trial
from floor.screens.batch.process_pages import Page, ProcessScreen
from floor.screens.batch.trial_forms import ask_act, plan_trial
from floor.screens.frame.key_line import TAKE_BACK
from floor.screens.frame.take_back import take_back


class TrialScreen(ProcessScreen):
    """Question 10: what do we do differently next time? A page for each trial, the latest first."""

    GUIDE = (
        "A trial compares settings on a few pieces: `a` plans one.",
        "`Enter` uses pieces, enters results, takes pieces back, or chooses.",
        "Marked is what is shown; below, what it would take to show the rest.",
        "`→` shows earlier trials. Pieces in trials are neither good nor scrap.",
    )
    BINDINGS = [
        Binding("enter", "act", "Open", id="open", tooltip="results, pieces or the choice of this trial"),
        Binding("a", "plan_trial", "Add", id="add", tooltip="plan a trial"),
        TAKE_BACK,
    ]
    SUBJECT = "trials"

    def make_pages(self, batch: Batch) -> list[Page]:
        from floor.papers.trials import NO_TRIAL, list_trial_lines

        now = self.session.now().at

        def draw(trial: Trial) -> Page:
            return lambda width, height: list_trial_lines(batch, trial, now, width)

        return [draw(trial) for trial in self._list_trials()] or [lambda width, height: [NO_TRIAL]]

    def _list_trials(self) -> list[Trial]:
        return list(self.current_batch.trials.values())[::-1]

    def action_act(self) -> None:
        trials = self._list_trials()
        if trials:
            ask_act(self, self.batch_id, trials[min(self.at, len(trials) - 1)].number)
        else:
            self.action_plan_trial()

    def action_plan_trial(self) -> None:
        plan_trial(self, self.batch_id, partial(self._show, 0))

    def _show(self, page: int) -> None:
        self.at = page
        self.update_all()

    def action_take_back(self) -> None:
        self.run_signed_in(lambda: take_back(self, self.batch_id))
