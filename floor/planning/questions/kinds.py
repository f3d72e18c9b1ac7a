"""Every kind of change a what-if takes, read from the words people write: ``saturday, 2 more pallets``."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence

from floor.entry import Moment
from floor.figures.overtime import InvalidHours
from floor.planning.questions.base import QuestionContext, WhatIfQuestion
from floor.planning.questions.batches import read_batch_first, read_load_scrapped
from floor.planning.questions.counts import read_how_many
from floor.planning.questions.cures import read_cure, read_named_cure
from floor.planning.questions.days import NotUnderstood
from floor.planning.questions.hours import read_every_day, read_hours, read_one_day, read_second_shift
from floor.planning.questions.parse_words import tidy_phrase
from floor.planning.questions.stations import read_station_down
from floor.planning.scenario import Scenario

MOST = 8
"""Changes in one table."""
WORDS = (
    ("saturday · every saturday · sat 5 dec 7-12", "an extra day, usual or given hours"),
    ("end 1 h later · start 30 min earlier", "every shift longer, or shorter"),
    ("second shift", "another one right after each shift"),
    ("2 more pallets · 1 pallet fewer", "of any carrier"),
    ("1 more person · 1 person less", "on every shift"),
    ("second router · 1 more place at oven", "a machine, or room for a load"),
    ("router down until wed 10:00", "only a day: until work starts then"),
    ("cure 6 h shorter · cure after 20 6 h longer", "also cures running now"),
    ("B0002 first", "before all other batches"),
    ("load 3 scrapped · 12 more pieces", "made again; extra pieces started"),
)
"""(what can be written, what it means)."""
EXAMPLE = "saturday, 2 more pallets"


KINDS: tuple[Callable[[QuestionContext, str], WhatIfQuestion | None], ...] = (
    read_cure,
    read_hours,
    read_named_cure,
    read_second_shift,
    read_station_down,
    read_batch_first,
    read_load_scrapped,
    read_every_day,
    read_one_day,
    read_how_many,
)
"""One reader per kind of change; each returns None for other kinds."""


def read_questions(text: str, case: Scenario, now: Moment) -> tuple[WhatIfQuestion, ...]:
    """Read the changes, in the order written.

    Raises:
        NotUnderstood: names what cannot be read or done, and what to write.
    """
    phrases = [one for part in re.split(r"[,;\n]|\band\b|&", text) if (one := part.strip(" ?.!"))]
    if not phrases:
        raise NotUnderstood(f'nothing is asked yet. Write for example "{EXAMPLE}"')
    if len(phrases) > MOST:
        raise NotUnderstood(f"{len(phrases)} changes are too many for one table. Ask about {MOST} at most")
    asking = QuestionContext(case, now)
    found: list[WhatIfQuestion] = []
    for phrase in phrases:
        try:
            wish = _read(asking, tidy_phrase(phrase))
            apply_questions(case, [wish])
        except (NotUnderstood, InvalidHours) as wrong:
            raise NotUnderstood(f'"{phrase[:40]}": {wrong}.') from None
        if not wish.once or wish.text not in [one.text for one in found]:
            found.append(wish)
    try:
        apply_questions(case, found)
    except (NotUnderstood, InvalidHours) as wrong:
        raise NotUnderstood(f"all of it together: {wrong}.") from None
    return tuple(found)


def apply_questions(case: Scenario, wishes: Sequence[WhatIfQuestion]) -> Scenario:
    """The scenario with these changes.

    Raises:
        NoHours: they leave a shift without hours.
        NotUnderstood: they leave no carrier for the work, or a negative cure.
    """
    for wish in sorted(wishes, key=lambda one: one.rank):
        case = wish.supposed(case)
    return case


def _read(asking: QuestionContext, text: str) -> WhatIfQuestion:
    for kind in KINDS:
        wish = kind(asking, text)
        if wish is not None:
            return wish
    raise NotUnderstood(f"not understood. Write for example {', '.join(_examples())}")


def _examples() -> Iterator[str]:
    for words, _ in WORDS[:6]:
        yield f'"{words.split(" · ")[0]}"'
