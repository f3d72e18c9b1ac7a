"""``floor lessons``: what a batch taught, and lines of it taken into the checklist's file by a lead."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from floor.cli.acts import ask_agreement, run_act_in_shop, sign_in
from floor.cli.base import CommandError, Exit, print_error, print_text
from floor.text import WIDTH

if TYPE_CHECKING:
    from floor.batch.quality.lesson_kinds import Lesson
    from floor.batch.state import Batch
    from floor.shop import Shop
    from floor.shop.lessons import LessonReport

    Commands = argparse._SubParsersAction[argparse.ArgumentParser]

ALL = "all"


def add_lessons_command(commands: Commands, shop: argparse.ArgumentParser) -> None:
    from floor.cli.help import LESSONS

    lessons = commands.add_parser(
        "lessons",
        parents=[shop],
        help="print what a batch taught, and take lines of it into the checklist's file",
        epilog=LESSONS,
        description="What a batch, open or closed, taught in numbers that the next quote can use.",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    lessons.add_argument("batch", metavar="BATCH")
    lessons.add_argument("--take", nargs="+", default=[], metavar="N", help="take these, by their number, or all")
    lessons.add_argument("--by", default="", metavar="INITIALS", help="the lead who takes them")
    lessons.add_argument("--yes", action="store_true", help="take them unasked; a PIN is still asked for")
    lessons.set_defaults(run=_lessons)


def _lessons(args: argparse.Namespace) -> int:
    from floor.shop.lessons import study_batch
    from floor.shop.settings import SettingsError

    if args.take and not args.by:
        print_error("a lead takes a lesson; name the lead with --by INITIALS")
        return Exit.USAGE

    def act(shop: Shop) -> str:
        batch = shop.batch(args.batch)
        try:
            report = study_batch(shop, batch)
        except SettingsError as error:
            raise CommandError(str(error), Exit.WRONG) from error
        if args.take:
            return _take(shop, batch, report, args)
        _print(batch, report)
        return ""

    return run_act_in_shop(args, act)


def _print(batch: Batch, report: LessonReport) -> None:
    from floor.papers.lessons import list_report_lines

    lines = list_report_lines(batch, report.lessons, report.stated, report.text, report.taken, WIDTH)
    print_text("\n".join([f"Lessons of {batch.id} for {report.name}{report.note}", *lines]))
    if report.text is None:
        print_error(report.wrong)


def _take(shop: Shop, batch: Batch, report: LessonReport, args: argparse.Namespace) -> str:
    """Show the lines, ask, write them."""
    from floor.papers.lessons import list_change_lines, name_lesson

    if report.text is None:
        raise CommandError(report.wrong, Exit.WRONG)
    wanted = _choose(report.lessons.offered, args.take)
    for one in wanted:
        print_text("\n".join([name_lesson(batch, one), *list_change_lines(one, report.text, WIDTH, "  ")]))
    by = sign_in(shop, args.by)
    if not args.yes and not ask_agreement(f"Take {len(wanted)} into {report.name}? Type yes: "):
        return "Nothing was taken."
    file = shop.take_lessons(batch.id, [change for one in wanted for change in one.changes], by)
    return f"Taken into {file.path}, on record as {by}'s. Open batches keep the checklist they were opened with."


def _choose(offered: tuple[Lesson, ...], numbers: list[str]) -> list[Lesson]:
    if not offered:
        raise CommandError("nothing is offered; floor lessons says why", Exit.WRONG)
    if numbers == [ALL]:
        return list(offered)
    if ALL in numbers:
        raise CommandError(f"give {ALL} alone, or the numbers without it", Exit.USAGE)
    wrong = [one for one in numbers if not (one.isascii() and one.isdigit() and 0 < int(one) <= len(offered))]
    if wrong:
        raise CommandError(f"there is no {wrong[0]}; 1 to {len(offered)} are offered, or all", Exit.USAGE)
    return [offered[number - 1] for number in sorted({int(one) for one in numbers})]
