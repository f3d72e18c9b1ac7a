"""What the batch taught, offered to the checklist's file line by line; a lead takes a line, and that is on record."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

from textual.binding import Binding

from floor.batch.command import Refused
from floor.ledger import LedgerError
from floor.screens.batch.process_pages import Page, ProcessScreen
from floor.screens.forms.dialogs import COLUMNS, Choice, ChoiceDialog, ConfirmDialog
from floor.text import wrap_text

if TYPE_CHECKING:
    from floor.batch.quality.lesson_kinds import Lesson
    from floor.batch.state import Batch
    from floor.shop.lessons import LessonReport

WHAT = "taking a lesson into a checklist"


class LessonsScreen(ProcessScreen):
    """Question 10: what do we do differently next time? What is offered with its lines, then what is not and why."""

    GUIDE = (
        "Each number is an offer: the file's line, and the new one below it.",
        "Its digit asks a lead, `y` takes it; `Enter` lists all of them.",
        "`→` shows what is not offered, and why. Open batches do not change.",
    )
    BINDINGS = [
        Binding("enter", "choose", "Take", id="take_lesson", tooltip="choose a line for the checklist's file (a lead)"),
        *(
            Binding(f"{n}", f"take({n})", "Take", show=False, tooltip="take this line into the checklist's file")
            for n in range(1, 10)
        ),
    ]
    SUBJECT = "lessons"

    _report: LessonReport | None = None

    def find_known(self, batch: Batch) -> object:
        """The file may be edited at any moment, and a lesson be taken at another terminal."""
        from floor.shop.lessons import find_file_state

        shop = self.session.shop
        return batch.seq, len(shop.people.lessons.get(batch.entries[0].hash, ())), find_file_state(shop.folder, batch)

    def make_pages(self, batch: Batch) -> list[Page]:
        from floor.papers.lessons import (
            list_kept_lines,
            list_offer_lines,
            list_spare_lines,
            list_taken_lines,
            say_no_offer,
        )
        from floor.shop.lessons import study_batch
        from floor.shop.settings import SettingsError

        try:
            report = self._report = study_batch(self.session.shop, batch)
        except SettingsError as error:
            self._report, why = None, str(error)
            return [lambda width, height: wrap_text(why, "", "  ", width)]
        found, text = report.lessons, report.text

        @cache  # the pieces to start are worked out for it
        def offers(width: int, height: int) -> list[str]:
            return [
                *wrap_text(
                    report.wrong or f"For {report.name}{report.note}", "✕ " if report.wrong else "", "  ", width
                ),
                *list_spare_lines(batch, found, report.stated, width),
                "",
                *(list_offer_lines(batch, found, text, width) or [f"{say_no_offer(report.taken)}: → says why"]),
            ]

        def kept(width: int, height: int) -> list[str]:
            return ["Not offered", *list_kept_lines(batch, found, width), *list_taken_lines(report.taken, width)]

        return [offers, kept]

    def action_choose(self) -> None:
        """All of them: of more than nine the digits are not enough."""
        from floor.papers.lessons import name_lesson

        offered = self._list_offered()
        if offered:
            names = [Choice(str(n), name_lesson(self.current_batch, one)) for n, one in enumerate(offered, 1)]
            self.floor.push_screen(
                ChoiceDialog("Take which line?", names), lambda key: self.action_take(int(key)) if key else None
            )

    def action_take(self, number: int) -> None:
        offered = self._list_offered()
        if offered and number > len(offered):
            self.say(f"There is no {number}: 1 to {len(offered)} are offered", wrong=True)
        elif offered:
            self.run_as_lead(WHAT, lambda: self._ask(offered[number - 1]))

    def _list_offered(self) -> tuple[Lesson, ...]:
        """What can be taken; nothing, and why, where there is none."""
        self.update_all()
        report = self._report
        if report is None or report.wrong:
            self.say(report.wrong if report is not None else "The shop's settings have errors", wrong=True)
        elif not report.lessons.offered:
            self.say("Nothing to take: → says why", wrong=True)
        else:
            return report.lessons.offered
        return ()

    def _ask(self, one: Lesson) -> None:
        from floor.papers.lessons import list_change_lines, name_lesson

        report = self._report
        assert report is not None, "it was offered"
        name = name_lesson(self.current_batch, one)
        lines = [f"{name}, in {report.name}:", "", *list_change_lines(one, report.text, COLUMNS)]
        asked = "Take it? The next batch opens with it; open ones keep theirs. It is on record with your name."
        dialog = ConfirmDialog("\n".join([*lines, "", asked]), does="take it")
        self.ask(dialog, lambda yes: self._take(one) if yes else None)

    def _take(self, one: Lesson) -> None:
        try:
            file = self.session.shop.take_lessons(self.batch_id, one.changes, self.session.who)
        except Refused as refused:
            self.say_refused(refused)
        except LedgerError as error:
            if not self.floor.reopen_if_replaced():
                self.floor.trouble(str(error))
        else:
            self.say(f"Taken into {file.name}, on record")
        self.update_all()
