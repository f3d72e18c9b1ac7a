"""What a batch taught, in words: each lesson with what it stands on, offered as lines of the checklist's file."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from itertools import groupby

from floor.batch.quality.lesson_figures import FEWEST
from floor.batch.quality.lesson_kinds import (
    ChoiceLesson,
    Lesson,
    Lessons,
    LifeLesson,
    SpareLesson,
    TimeLesson,
    TimePart,
    WhyNot,
    YieldLesson,
)
from floor.batch.quality.run_times import PLAUSIBLE
from floor.batch.quality.yield_lessons import FEWEST_LOADS, apply_yields
from floor.batch.state import Batch
from floor.checklist.expected_yields import compute_start_quantities
from floor.checklist.model import Checklist
from floor.checklist.patching import ChecklistText, Unpatchable, format_value
from floor.checklist.units import Measure
from floor.figures.errors import Impossible
from floor.figures.quality.intervals import Interval
from floor.figures.quality.missing import Missing
from floor.figures.quality.spread import Spread
from floor.papers.key_figures import format_percent
from floor.text import format_count, format_span, wrap_text

SURE = 0.95
SURE_SAID = "95 %"
PLAUSIBLE_SAID = f"{PLAUSIBLE[0]:g} to {PLAUSIBLE[1]:g}"
PARTS: dict[TimePart, str] = {
    TimePart.SETUP: "set-up",
    TimePart.BEFORE: "by hand before the cycle",
    TimePart.CYCLE: "cycle",
    TimePart.AFTER: "by hand after the cycle",
    TimePart.WORK: "hand work",
}
NOUNS: dict[TimePart, str] = {TimePart.SETUP: "set-up", TimePart.CYCLE: "cycle"}
FILE_ALONE = "By the file alone: the next order counts earlier batches too, see their page"
WHY_OTHER = "the file has other work there now"


def name_subject(batch: Batch, one: Lesson) -> str:
    """``op 20 Coat``, ``T7 Reamer``."""
    if isinstance(one, LifeLesson):
        card = batch.checklist.tool(one.tool)
        return f"T{one.tool} {card.name if card is not None else ''}"
    return f"op {one.op} {batch.operation(one.op).title}"


def name_lesson(batch: Batch, one: Lesson) -> str:
    """``op 20 Coat, hand work``."""
    match one:
        case TimeLesson():
            what = PARTS[one.part]
        case YieldLesson():
            what = "yield"
        case LifeLesson():
            what = "life"
        case ChoiceLesson():
            what = f"trial {one.trial}"
    return f"{name_subject(batch, one)}, {what}"


def describe_lesson(one: Lesson) -> str:
    """What was learned and what it stands on; where it is not offered, why not."""
    match one:
        case TimeLesson():
            return f"{PARTS[one.part]}: {_say_time(one)}"
        case YieldLesson():
            return f"yield: {_say_yield(one)}"
        case LifeLesson():
            return f"life: {_say_life(one)}"
        case ChoiceLesson():
            return f"trial {one.trial}: {_say_choice(one)}"


def list_offer_lines(batch: Batch, found: Lessons, text: ChecklistText | None, width: int) -> list[str]:
    """Each lesson that is offered, numbered, with the lines of the file that it changes.

    Args:
        text: the file; without it the values stand alone.
    """
    lines: list[str] = []
    for number, one in enumerate(found.offered, 1):
        lines += wrap_text(f"{name_subject(batch, one)}, {describe_lesson(one)}", f"{number:>2}  ", "    ", width)
        lines += [*list_change_lines(one, text, width, "    "), ""]
    return lines


def list_change_lines(one: Lesson, text: ChecklistText | None, width: int, indent: str = "") -> list[str]:
    """``line 358``, the old line and the new one; ``after line 358``, the new ones."""
    lines = []
    if text is None:
        for change in one.changes:
            said = f"{change.field}: {format_value(change.before)} to {format_value(change.after)}"
            lines += wrap_text(said, indent, f"{indent}  ", width)
        return lines
    try:
        changed = text.list_line_changes(one.changes)
    except Unpatchable as error:
        return wrap_text(f"cannot be taken: {error}", indent, f"{indent}  ", width)
    for place in changed:
        lines.append(f"{indent}{'line' if place.before else 'after line'} {place.line}")
        for sign, rows in (("-", place.before), ("+", place.after)):
            lines += [line for row in rows for line in wrap_text(row, f"{indent}{sign} ", None, width)]
    return lines


def list_kept_lines(batch: Batch, found: Lessons, width: int) -> list[str]:
    """What is not offered, and why, by operation and tool."""
    lines: list[str] = []
    for subject, those in groupby(found.kept, key=lambda one: name_subject(batch, one)):
        lines += wrap_text(subject, "", "  ", width)
        lines += [line for one in those for line in wrap_text(describe_lesson(one), "  · ", "      ", width)]
    return lines or ["Nothing else is on record yet"]


def list_spare_lines(batch: Batch, found: Lessons, stated: Checklist, width: int) -> list[str]:
    """Whether the spare pieces were enough, and how many the next order would start by the file alone."""
    lines = wrap_text(_say_spares(found.spares), "", "  ", width)
    tests = {op: pieces for op, pieces in batch.tests.items() if op in stated.route}
    try:
        (now,) = compute_start_quantities(stated, batch.order, (SURE,), tests)
        (then,) = compute_start_quantities(apply_yields(stated, found.offered), batch.order, (SURE,), tests)
    except Impossible as error:
        return [*lines, *wrap_text(f"Pieces to start next time: n/a, because {error}", "", "  ", width)]
    said = f"For {batch.order} good ones, {SURE_SAID} sure, start {now.pieces} by the yields of the checklist"
    said += f", {then.pieces} with those below" if then.pieces != now.pieces else ""
    return [*lines, *wrap_text(f"{said}. {FILE_ALONE}", "", "  ", width)]


def list_report_lines(
    batch: Batch, found: Lessons, stated: Checklist, text: ChecklistText | None, taken: Mapping[str, str], width: int
) -> list[str]:
    """All of it: what is offered, what is not, what was taken.

    Args:
        stated: the checklist that the lessons were set against.
        text: its file; None where that cannot be used.
        taken: field → what was taken into it, by whom.
    """
    return [
        *list_spare_lines(batch, found, stated, width),
        "",
        *(list_offer_lines(batch, found, text, width) or [say_no_offer(taken), ""]),
        "Not offered",
        *list_kept_lines(batch, found, width),
        *list_taken_lines(taken, width),
    ]


def say_no_offer(taken: Mapping[str, str]) -> str:
    return "Nothing else to offer" if taken else "Nothing to offer yet"


def list_taken_lines(taken: Mapping[str, str], width: int) -> list[str]:
    said = [line for name, how in taken.items() for line in wrap_text(f"{name}: {how}", "✓ ", "    ", width)]
    return ["", "Taken before", *said] if said else []


def _say_time(one: TimeLesson) -> str:
    took = f"{format_span(one.took.median)}{_say_spread(one.took, format_span)}"
    match one.why_not:
        case WhyNot.NOT_STATED:
            return f"n/a, because the checklist states no time for it; took {took}"
        case WhyNot.OTHER_WORK:
            return f"n/a, because {WHY_OTHER}; took {took}"
        case WhyNot.ODD:
            lie = f"{one.odd} of {one.odd + (one.ratio.count if one.ratio else 0)} {'lies' if one.odd == 1 else 'lie'}"
            return f"n/a, because {lie} outside {PLAUSIBLE_SAID} x stated: entered later, it seems"
    assert one.ratio is not None, "some were set against what is stated"
    odd = f"; {one.odd} left out, outside {PLAUSIBLE_SAID} x" if one.odd else ""
    over = f"{format_span(abs(one.over))} {'over' if one.over > 0 else 'under'} in all"
    said = f"{one.ratio.median:.2f} x stated{_say_spread(one.ratio, _say_ratio)}, {over}"
    if one.why_not is WhyNot.FEW:
        few = _say_few(one.ratio.count, f"timed {NOUNS.get(one.part, 'load')}", FEWEST)
        return f"{few}; {said}{odd}"
    return f"as stated; {said}{odd}" if one.why_not is WhyNot.AS_STATED else f"{said}{odd}"


def _say_yield(one: YieldLesson) -> str:
    share = one.share
    worth = f", counts as {share.worth:.0f}, because loads vary" if round(share.worth) < share.pieces else ""
    counted = f"{share.good} of {share.pieces} good without rework, {format_percent(share.share)}"
    counted += f"{_say_sure(share.interval)}{worth}"
    stated = f"checklist {format_percent(one.stated)}, counts as {format_count(round(one.weight), 'piece')}"
    match one.why_not:
        case WhyNot.FEW:
            return f"{_say_few(one.loads, 'counted load', FEWEST_LOADS)}; {counted}; {stated}"
        case WhyNot.OTHER_WORK:
            return f"n/a, because {WHY_OTHER}; {counted}"
        case WhyNot.TAKEN:
            return f"taken before, and its pieces count once; {counted}"
        case WhyNot.SHARES:
            return f"n/a, because with the shares of rework it would add up to more than 1; {counted}; {stated}"
        case WhyNot.AS_STATED:
            return f"as stated; {counted}; {stated}"
    return f"{counted}; {stated}"


def _say_life(one: LifeLesson) -> str:
    stated = f"stated {one.stated.text}" if one.stated is not None else ""

    def say(used: float) -> str:
        return _say_used(one.stated, used)

    after = f"changed after {say(one.used.median)}{_say_spread(one.used, say)}"
    match one.why_not:
        case WhyNot.FEW:
            return f"{_say_few(one.used.count, 'tool change', FEWEST)}; {after}; {stated}"
        case WhyNot.OTHER_WORK:
            return f"n/a, because the file has another tool there now; {after}"
        case WhyNot.USED_UP:
            return f"as stated: all {one.used.count} were used up, so nobody knows how much longer it lasts; {stated}"
        case WhyNot.AS_STATED:
            return f"as stated; {after}, {one.used_up} used up; {stated}"
    return f"{after}, {one.used_up} used up; {stated}"


def _say_choice(one: ChoiceLesson) -> str:
    chosen = f"{one.text}, chosen by {one.by}: {one.reason}"
    match one.why_not:
        case WhyNot.OTHER_WORK:
            return f"n/a, because {WHY_OTHER}; {chosen}"
        case WhyNot.AS_STATED:
            return f"is in the file; {chosen}"
    return chosen


def _say_few(many: int, noun: str, needed: int) -> str:
    return f"n/a, because {format_count(many, noun)} {'is' if many == 1 else 'are'} too few: it takes {needed}"


def _say_used(stated: Measure | None, used: float) -> str:
    return format_count(round(used), "piece") if stated is not None and stated.in_pieces else format_span(used)


def _say_spread(spread: Spread, say: Callable[[float], str]) -> str:
    """`` (median of 12, middle half 1.10 to 1.31, 95 % sure 1.08 to 1.30)``; nothing of a single value."""
    if spread.count == 1:
        return ""
    said = f"median of {spread.count}, middle half {say(spread.lower)} to {say(spread.upper)}"
    if not isinstance(spread.interval, Missing):
        said += f", {SURE_SAID} sure {say(spread.interval.low)} to {say(spread.interval.high)}"
    return f" ({said})"


def _say_ratio(ratio: float) -> str:
    return f"{ratio:.2f}"


def _say_sure(interval: Interval | Missing) -> str:
    if isinstance(interval, Missing):
        return ""
    return f" ({SURE_SAID} sure {100 * interval.low:.1f} to {format_percent(interval.high)})"


def _say_spares(one: SpareLesson) -> str:
    spare = one.started - one.ordered
    tried = f", {one.tried} used up in trials" if one.tried else ""
    said = f"Started {one.started} for {one.ordered}: {spare} spare, {one.lost} lost{tried}"
    if one.unfinished and one.filled:
        return f"{said}, {one.finished} good, {one.unfinished} still in process: enough, the order is filled"
    if one.unfinished:
        return f"{said}, {one.unfinished} still in process: too early to tell if that is enough"
    over = one.finished - one.ordered
    return f"{said}, {one.finished} good: " + (f"enough, {over} over" if over >= 0 else f"{-over} too few")
