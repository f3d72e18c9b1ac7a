"""Questions about longer or shorter cures: after an operation, or by a timer's name."""

from __future__ import annotations

import re
from collections.abc import Sequence

from floor.batch.state import Batch
from floor.planning.curing import Cure, list_cures
from floor.planning.planned_loads import BatchChange
from floor.planning.questions.base import QuestionContext, WhatIfQuestion, find_batch, format_minutes, format_of_batch
from floor.planning.questions.days import NotUnderstood
from floor.planning.questions.parse_words import format_name_list, read_name, split_off_duration
from floor.planning.scenario import Scenario
from floor.text import capitalize_first

Known = tuple[Batch, Cure]
_WAY = r"(longer|shorter|more|less)"


def read_cure(asking: QuestionContext, text: str) -> WhatIfQuestion | None:
    """``cure 6 h shorter``, ``cure after 20 of B0007 12 h longer``."""
    rest, minutes = split_off_duration(text)
    found = re.fullmatch(rf"(?:curing|cures?|cured)(?: after(?: op)? (\d+))?(?: of (\S+))? {_WAY}", rest)
    if found is None:
        if re.match(r"(curing|cures?)\b", rest) and (minutes is not None or re.search("longer|shorter", rest)):
            raise NotUnderstood("by how much, longer or shorter? Write it like cure after 20 6 h shorter")
        return None
    if minutes is None:
        raise NotUnderstood("by how much? Write it like cure 6 h shorter")
    known = _known(asking, found[2])
    if not known:
        raise NotUnderstood("nothing cures here, so there is no cure to change")
    op = int(found[1]) if found[1] else None
    those = [(batch, cure) for batch, cure in known if op is None or cure.op == op]
    if len({(cure.op, cure.clock) for _, cure in those}) != 1:
        raise NotUnderstood(f"which cure? There is {_listed(those or known)}")
    return _changed(asking, those, minutes if found[3] in ("longer", "more") else -minutes, found[2])


def read_named_cure(asking: QuestionContext, text: str) -> WhatIfQuestion | None:
    """``gel 1 h shorter``, ``op 20 2 h longer``: a clock of the checklist, or an operation that starts one."""
    rest, minutes = split_off_duration(text)
    found = re.fullmatch(
        r"(?:the )?(?:clock )?(.+?)(?: cure| clock)?(?: of (\S+))? "
        r"(longer|shorter|more|less|earlier|later|sooner)",
        rest,
    )
    if found is None or minutes is None:
        return None
    known, name = _known(asking, found[2]), found[1]
    those = _find_by_name(known, name)
    if not those:
        there = f", or what cures here: {_listed(known)}" if known else ""
        raise NotUnderstood(
            f'there is no "{name}" here that can be {found[3]}. Ask about all shifts, like end 1 h later{there}'
        )
    if len({cure.clock for _, cure in those}) > 1:
        raise NotUnderstood(f"which of them? There is {_listed(those)}")
    if found[3] in ("earlier", "later", "sooner"):
        raise NotUnderstood(f"longer or shorter? Write it like {those[0][1].name} 1 h shorter")
    return _changed(asking, those, minutes if found[3] in ("longer", "more") else -minutes, found[2])


def _find_by_name(known: Sequence[Known], name: str) -> list[Known]:
    """The cures of a clock, else those that an operation starts."""
    clock = read_name(name, {cure.clock: cure.name for _, cure in known})
    if clock is not None:
        return [(batch, cure) for batch, cure in known if cure.clock == clock]
    titles = {str(cure.op): batch.operation(cure.op).title for batch, cure in known}
    op = read_name(name.removeprefix("op ").removeprefix("after "), titles)
    return [(batch, cure) for batch, cure in known if str(cure.op) == op]


def _known(asking: QuestionContext, batch: str | None) -> list[Known]:
    batches = [find_batch(asking, batch)] if batch else asking.case.batches
    return [(one, cure) for one in batches for cure in list_cures(one.checklist, 0)]


def _changed(asking: QuestionContext, those: Sequence[Known], by: float, of: str | None) -> WhatIfQuestion:
    def longer(case: Scenario) -> Scenario:
        for batch, cure in those:
            already = case.changes[batch.id].longer if batch.id in case.changes else {}
            _must_fit(batch, cure, by + already.get(cure.clock, 0.0))
            case = case.changed(batch.id, BatchChange(longer={cure.clock: by}))
        return case

    batch, cure = those[0]
    alone = sum(one.op == cure.op for one in list_cures(batch.checklist, 0)) == 1
    of = format_of_batch(asking, batch) if of else ""
    way = "longer" if by > 0 else "shorter"
    return WhatIfQuestion(
        f"{'Cure' if alone else capitalize_first(cure.name)} {_where(batch, cure)}{of} {format_minutes(abs(by))} {way}",
        longer,
        -1 if by > 0 else 1,
    )


def _must_fit(batch: Batch, cure: Cure, by: float) -> None:
    """Raises `NotUnderstood` if a cure cannot change by that much, or nothing would change."""
    what = f"{cure.name} {_where(batch, cure)}"
    if cure.minutes + by < 0:
        raise NotUnderstood(f"{what} lasts {format_minutes(cure.minutes)}; take off no more than that")
    if cure.latest is not None and cure.minutes + by > cure.latest:
        raise NotUnderstood(
            f"{what} opens after {format_minutes(cure.minutes)} and closes after {format_minutes(cure.latest)}, "
            f"so {format_minutes(cure.latest - cure.minutes)} longer at most"
        )
    if max(cure.minutes, cure.minutes + by) <= cure.cycle:
        raise NotUnderstood(
            f"{what} lasts {format_minutes(cure.minutes)} within a cycle that takes "
            f"{format_minutes(cure.cycle)} by itself, so this changes nothing"
        )


def _where(batch: Batch, cure: Cure) -> str:
    return f"{'in' if cure.waiting == {cure.op} else 'after'} {cure.op} {batch.operation(cure.op).title}"


def _listed(known: Sequence[Known]) -> str:
    names = dict.fromkeys(f"{cure.name} {_where(batch, cure)}" for batch, cure in known)
    like = next((cure for _, cure in known if cure.minutes > cure.cycle), known[0][1])
    return f"{format_name_list(names)}. Write it like {like.name} 1 h shorter"
