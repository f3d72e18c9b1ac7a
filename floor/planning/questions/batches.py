"""Questions about a batch: going first, a load made again.

A load scrapped and made again falls short as often as before.
"""

from __future__ import annotations

import re
from dataclasses import replace

from floor.planning.planned_loads import BatchChange
from floor.planning.questions.base import QuestionContext, WhatIfQuestion, find_batch, find_only_batch, format_of_batch
from floor.planning.questions.days import NotUnderstood


def read_batch_first(asking: QuestionContext, text: str) -> WhatIfQuestion | None:
    """``B0002 first``."""
    found = re.fullmatch(r"(?:batch |order )?(.+?) (?:goes |comes )?first", text)
    if found is None:
        return None
    if len(asking.case.batches) == 1:
        raise NotUnderstood("there is only one order, so it is first already")
    batch = find_batch(asking, found[1])
    return WhatIfQuestion(f"{batch.id} first", lambda case: replace(case, first=(*case.first, batch.id)), once=True)


def read_load_scrapped(asking: QuestionContext, text: str) -> WhatIfQuestion | None:
    """``load 3 scrapped``."""
    found = re.fullmatch(r"(scrap )?load (\d+)(?: of (\S+))?(?: is)?( scrapped| lost| scrap)?", text)
    if found is None or not (found[1] or found[4]):
        return None
    batch = find_batch(asking, found[3]) if found[3] else find_only_batch(asking, f"load {found[2]} of {{}} scrapped")
    load = next((one for one in batch.list_live_loads() if one.number == int(found[2])), None)
    if load is None:
        under_way = [str(one.number) for one in batch.list_live_loads()]
        there = f"Under way: {', '.join(under_way)}" if under_way else "None is under way"
        raise NotUnderstood(f"there is no load {found[2]} under way. {there}")
    number, count = load.number, len(batch.present(load))
    return WhatIfQuestion(
        f"Load {number}{format_of_batch(asking, batch)} ({batch.format_carrier(load)}) scrapped and made again",
        lambda case: case.changed(batch.id, BatchChange(frozenset({number}), count)),
        -1,
        once=True,
    )
