"""What is asked about a batch: its cures, its place before the others, a load made again."""

from __future__ import annotations

import re
from dataclasses import replace

from floor.planning.cases import Case
from floor.planning.curing import cures
from floor.planning.loads import Change
from floor.planning.wishes.base import Asking, Wish, batch_of, of_batch, only_batch, span_said
from floor.planning.wishes.days import NotUnderstood
from floor.planning.wishes.words import listed, take_duration


def read_cure(asking: Asking, text: str) -> Wish | None:
    """``cure 6 h shorter``, ``cure after 20 of B0007 12 h longer``."""
    rest, minutes = take_duration(text)
    found = re.fullmatch(r"(?:curing|cures?|cured)(?: after(?: op)? (\d+))?(?: of (\S+))? (longer|shorter|more|less)",
                         rest)  # fmt: skip
    if found is None:
        if re.match(r"(curing|cures?)\b", rest) and (minutes is not None or re.search("longer|shorter", rest)):
            raise NotUnderstood("by how much, longer or shorter? Write it like cure after 20 6 h shorter")
        return None
    if minutes is None:
        raise NotUnderstood("by how much? Write it like cure 6 h shorter")
    batches = [batch_of(asking, found[2])] if found[2] else list(asking.case.batches)
    known = [(batch, cure) for batch in batches for cure in cures(batch.checklist, 0)]
    ops = sorted({cure.op for _, cure in known})
    if not ops:
        raise NotUnderstood("nothing cures here, so there is no cure to change")
    op = int(found[1]) if found[1] else ops[0]
    if op not in ops or (found[1] is None and len(ops) > 1):
        all_ = dict.fromkeys(f"after {cure.op} {batch.operation(cure.op).title}" for batch, cure in known)
        raise NotUnderstood(f"which cure? There is one {listed(all_)}. "
                            f"Write it like cure after {ops[0]} 6 h shorter")
    those = [(batch, cure) for batch, cure in known if cure.op == op]
    by = minutes if found[3] in ("longer", "more") else -minutes
    shortest = min(cure.minutes for _, cure in those)
    if shortest + by < 0:
        raise NotUnderstood(f"the cure after {op} lasts {span_said(shortest)}, so it can be at most that much shorter")

    def longer(case: Case) -> Case:
        for batch, _ in those:
            case = case.changed(batch.id, Change(longer={op: by}))
        return case

    title = those[0][0].operation(op).title
    of = of_batch(asking, those[0][0]) if found[2] else ""
    return Wish(f"Cure after {op} {title}{of} {span_said(minutes)} {'longer' if by > 0 else 'shorter'}", longer,
                -1 if by > 0 else 1)  # fmt: skip


def read_first(asking: Asking, text: str) -> Wish | None:
    """``B0002 first``."""
    found = re.fullmatch(r"(?:batch |order )?(.+?) (?:goes |comes )?first", text)
    if found is None:
        return None
    batch = batch_of(asking, found[1])
    if len(asking.case.batches) == 1:
        raise NotUnderstood(f"{batch.id} is the only batch, so it is first already")
    return Wish(f"{batch.id} first", lambda case: replace(case, first=(*case.first, batch.id)))


def read_scrapped(asking: Asking, text: str) -> Wish | None:
    """``load 3 scrapped``."""
    found = re.fullmatch(r"(scrap )?load (\d+)(?: of (\S+))?(?: is)?( scrapped| lost| scrap)?", text)
    if found is None or not (found[1] or found[4]):
        return None
    batch = batch_of(asking, found[3]) if found[3] else only_batch(asking, f"load {found[2]} of {{}} scrapped")
    load = next((one for one in batch.live_loads() if one.number == int(found[2])), None)
    if load is None:
        under_way = [str(one.number) for one in batch.live_loads()]
        there = f"Under way: {', '.join(under_way)}" if under_way else "None is under way"
        raise NotUnderstood(f"there is no load {found[2]} under way. {there}")
    number, count = load.number, len(batch.present(load))
    return Wish(f"Load {number}{of_batch(asking, batch)} ({batch.carrier_name(load)}) scrapped and made again",
                lambda case: case.changed(batch.id, Change(frozenset({number}), count)), -1)  # fmt: skip
