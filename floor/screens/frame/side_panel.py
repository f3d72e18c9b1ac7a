"""Beside a list, where there is room: what the line under the cursor is about, so that it need not be opened."""

from __future__ import annotations

from textual.content import Content

from floor.batch.counting.blind_count import find_blind_subjects, hides_total
from floor.batch.counting.losses import count_losses
from floor.batch.load import Load
from floor.batch.state import Batch
from floor.batch.walk.lines import Walk
from floor.batch.walk.load_clocks import list_load_clocks
from floor.batch.walk.station_walk import build_walk
from floor.batch.worklist.due_task import DueTask
from floor.entry import Moment
from floor.papers.traveler import preview_walk
from floor.screens.widgets.lines import draw_rows_from_current
from floor.text import format_clock, format_count, wrap_text

Rows = list[Content]


def draw_due_panel(batch: Batch, due: DueTask, walked: Walk | None, now: Moment, width: int, height: int) -> Content:
    """The load with its clocks and the lines of its walk from where it stands; of the rest, what is known of it.

    Of what is still to be counted at a handover no figure is shown.

    Args:
        walked: of the load that it is about; None where it is about none.
    """
    rows: Rows = []
    hidden = find_blind_subjects(batch)
    load = batch.loads.get(due.load) if due.load else None
    if load is not None and walked is not None:
        to_count = f"load {load.number}" in hidden
        rows += _load(batch, load, now, width, to_count)
        if to_count:
            return Content("\n").join(rows[:height])
        rows += [Content(""), *draw_rows_from_current(walked, width, max(height - len(rows) - 1, 3))]
    elif due.go == "hold" and not hides_total(batch, "hold", hidden):
        rows += [_title("On hold")]
        for piece, place in batch.held().items():
            rows += _said(f"piece {piece}, op {place.op}: {place.reason}", "  - ", width)
    else:
        rows += [_title(f"Batch {batch.id}"), *_said(due.sentence, "", width)]
    return Content("\n").join(rows[:height])


def find_walk(batch: Batch, load: Load, now: Moment, who: str) -> Walk | None:
    """The walk of a load that is under way, or as it would start now; None where it is through."""
    if load.at is None:
        return None
    begun = build_walk(batch, batch.runs[load.run], now, who) if load.run is not None else None
    return begun or preview_walk(batch, load, load.at, now)


def _load(batch: Batch, load: Load, now: Moment, width: int, to_count: bool) -> Rows:
    assert load.at is not None
    operation = batch.operation(load.at)
    at = [batch.runs[load.run].station] if load.run is not None else batch.list_stations_for(load.at)
    station = " or ".join(batch.checklist.station(one).name for one in at)
    title = f"{batch.format_carrier(load)}: op {load.at} {operation.title}"
    rows = [_title(text) for text in wrap_text(title, width=width)]
    pieces, about = len(batch.present(load)), len(batch.find_next_pieces(load))
    apart = "in rework" if load.detours and load.detours[-1].rework else "to make up what they missed on hold"
    rework = f", {about} {apart}" if load.detours else ""
    state = "not started"
    if load.run is not None:
        run = batch.runs[load.run]
        state = f"started {format_clock(run.begun, now.at)} {run.began_by}"
    sitting = f", {said}" if (said := batch.format_sitting_pieces(load)) else ""
    many = "to be counted at the handover" if to_count else f"{format_count(pieces, 'piece')}{rework}{sitting}"
    rows += _said(f"load {load.number}, {many} · {station} · {state}", "", width)
    for one in list_load_clocks(batch, load, now):
        rows += _said(one.sentence, "◔ ", width)
    for waiver in batch.list_open_waivers(load):
        rows += _said(f"waived: op {waiver.op} {waiver.title}: {waiver.reason}", "W ", width)
    return rows


def draw_loss_panel(batch: Batch, width: int, height: int) -> Content:
    """What was lost so far, the most frequent first: how many, where it was found, why, and in which places."""
    found: dict[tuple[str, str, int, int | None], dict[str, int]] = {}
    for loss, many in count_losses(batch).items():
        places = found.setdefault((loss.to, loss.reason, loss.found, loss.caused), {})
        places[loss.position] = places.get(loss.position, 0) + many
    rows: Rows = [_title("Scrap, rework and hold so far")] if found else []
    for (to, code, op, caused), places in sorted(found.items(), key=lambda pair: (-sum(pair[1].values()), pair[0][2])):
        reason = batch.operation(op).reason(code)
        named = " ".join(sorted(place for place in places if place))
        text = f"{reason.text if reason else code}, found at op {op}"
        text += f", caused at op {caused}" if caused and caused != op else ""
        text += f"; places {named}" if named else ""
        rows += _said(text, f"{sum(places.values()):>4} {to:<7} ", width)
    return Content("\n").join(rows[:height])


def _title(text: str) -> Content:
    return Content.assemble((text, "bold"))


def _said(text: str, first: str, width: int) -> Rows:
    return [Content.assemble((line, "$secondary")) for line in wrap_text(text, first, width=width)]
