"""The plan as text, JSON and CSV, for the command line and the plan screen."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any

from floor.entry import Moment, format_time
from floor.figures.schedule import FinishBands, PlannedRun, Saving
from floor.papers.catalog import PaperOffer
from floor.papers.page import Column, Paper, format_table
from floor.papers.record_export import escape_formula
from floor.planning.batch_forecast import Outlook, describe_outlook
from floor.planning.finish import compute_finish, find_last_finish
from floor.planning.plan import ShopPlan, list_left_out_loads
from floor.planning.plan_text import (
    describe_filled_orders,
    describe_finish,
    describe_troubles,
    describe_unknown_finish,
    format_attendance,
    list_attendance,
)
from floor.planning.problem import ASSUMED
from floor.planning.whatif import describe_saving, find_bottleneck
from floor.text import format_count
from floor.wall import format_local

FORMAT = 2
"""Raised if a field changes meaning or goes away; new fields do not raise it."""

COLUMNS = (
    "batch",
    "op",
    "operation",
    "station",
    "carrier",
    "load_name",
    "pieces",
    "start",
    "end",
    "station_free",
    "attended_minutes",
    "may_wait_minutes",
)


def list_plan_offers(
    shop_plan: ShopPlan,
    now: Moment,
    spread: FinishBands | None = None,
    savings: Sequence[Saving] | None = None,
    outlooks: Mapping[str, tuple[Outlook, int]] | None = None,
) -> list[PaperOffer]:
    """The papers of the plan for all its batches; arguments as for `write_plan_text`."""
    batches = sorted(shop_plan.plan.finish)

    def written(write: Callable[..., str]) -> Callable[[], str]:
        return lambda: write(shop_plan, now, batches, spread=spread, savings=savings, outlooks=outlooks)

    return [
        PaperOffer("The plan to read", "plan", written(write_plan_text)),
        PaperOffer(
            "Its runs as a table for a spreadsheet (CSV)", "plan", lambda: write_plan_csv(shop_plan, batches), "csv"
        ),
        PaperOffer("The plan, machine-readable (JSON)", "plan", written(write_plan_json), "json"),
    ]


def write_plan_text(
    shop_plan: ShopPlan,
    now: Moment,
    batches: Sequence[str],
    *,
    spread: FinishBands | None = None,
    savings: Sequence[Saving] | None = None,
    outlooks: Mapping[str, tuple[Outlook, int]] | None = None,
) -> str:
    """The plan of these batches for people, in 80 columns.

    Args:
        outlooks: by batch, each with the number of its first operation.
    """
    paper = Paper([f"Plan of {format_local(now.at, '%a %d %b %Y %H:%M')}"])
    for said in describe_filled_orders(shop_plan, batches):
        paper.say(said, "! ")
    for trouble in describe_troubles(shop_plan):
        paper.say(trouble, "✕ ")
    for batch in batches:
        paper.say(describe_finish(shop_plan, batch, spread.batches.get(batch) if spread else None, why=False), "")
        if outlooks and batch in outlooks:
            paper.say(describe_outlook(batch, *outlooks[batch]), "")
    _add_bottleneck(paper, shop_plan, savings)
    _add_runs(paper, shop_plan, batches)
    _add_attendance(paper, shop_plan, batches)
    _add_assumptions(paper, shop_plan, batches, spread)
    return paper.text()


def _add_bottleneck(paper: Paper, shop_plan: ShopPlan, savings: Sequence[Saving] | None) -> None:
    paper.title("Bottleneck")
    short = find_bottleneck(shop_plan, savings)
    paper.say(short.words if short is not None else "Not worked out yet when this was written.")
    for saving in (savings or ())[:6]:
        paper.say(describe_saving(saving))


def _add_runs(paper: Paper, shop_plan: ShopPlan, batches: Sequence[str]) -> None:
    paper.title("Runs")
    rows = [
        (
            format_local(run.start, "%a %d %H:%M"),
            format_local(run.end, "%a %d %H:%M"),
            run.operation,
            run.station or "",
            shop_plan.carrier(run) or run.load,
            shop_plan.work(run).pieces,
        )
        for run in _of(shop_plan, batches)
    ]
    columns = [
        Column("start", 12),
        Column("end", 12),
        Column("operation"),
        Column("station", 11),
        Column("load", 10),
        Column("pcs", 4, True),
    ]
    paper.add(format_table(columns, rows) if rows else ["  No run is planned."])


def _add_attendance(paper: Paper, shop_plan: ShopPlan, batches: Sequence[str]) -> None:
    paper.title("Who is needed when")
    needed = list_attendance(shop_plan)
    several = any(len(attendance.people) > 1 or max(attendance.people) > 1 for attendance in needed)
    lines = [
        format_attendance(attendance, shop_plan, several) for attendance in needed if attendance.run.batch in batches
    ]
    for line in lines or ["Nobody."]:
        paper.say(line)


def _add_assumptions(paper: Paper, shop_plan: ShopPlan, batches: Sequence[str], spread: FinishBands | None) -> None:
    paper.title("What this rests on")
    paper.say(ASSUMED)
    if spread is not None and shop_plan.whole:
        paper.say(f"The band of the finish holds 8 in 10 of {spread.samples} draws of times and yields.")
    for batch, count in shop_plan.asked.undecided.items():
        if batch in batches:
            are = "is" if count == 1 else "are"
            paper.say(
                f"{format_count(count, 'piece')} of {batch} {are} planned to the end of the run under way only: "
                "not needed for the order."
            )
    if shop_plan.asked.held:
        are = "is" if shop_plan.asked.held == 1 else "are"
        held = format_count(shop_plan.asked.held, "piece")
        paper.say(f"{held} on hold {are} in neither plan nor chance: nobody has decided yet.")


def _of(shop_plan: ShopPlan, batches: Sequence[str]) -> Iterable[PlannedRun]:
    return (run for run in shop_plan.runs if run.batch in batches)


def write_plan_json(
    shop_plan: ShopPlan,
    now: Moment,
    batches: Sequence[str],
    *,
    spread: FinishBands | None = None,
    savings: Sequence[Saving] | None = None,
    outlooks: Mapping[str, tuple[Outlook, int]] | None = None,
    what_if: Sequence[Mapping[str, Any]] | None = None,
) -> str:
    """The plan with stable field names; times are UTC.

    Args:
        what_if: the rows of a what-if, if asked for.
    """
    short = find_bottleneck(shop_plan, savings)
    body: dict[str, Any] = {
        "format": FORMAT,
        "at": format_time(now.at),
        "finish": _time(find_last_finish(shop_plan, spread.end if spread else None)),
        "draws": spread.samples if spread and shop_plan.whole else None,
        "no_plan_before": format_time(shop_plan.plan.bound),
        "batches": [_batch(shop_plan, batch, spread, (outlooks or {}).get(batch)) for batch in batches],
        "bottleneck": None if short is None else {"kind": short.kind, "name": short.name, "words": short.words},
        "one_more_saves_hours": None
        if savings is None or not shop_plan.whole
        else [
            {"kind": one.kind, "name": one.name, "hours": round(one.hours, 2), "working_hours": round(one.working, 2)}
            for one in savings
        ],
        "use": [
            {"kind": use.kind, "name": use.name, "busy_hours": round(use.busy, 2), "share": round(use.share, 4)}
            for use in shop_plan.plan.use
        ],
        "runs": [_run(shop_plan, run) for run in _of(shop_plan, batches)],
        "obstacles": [
            {"where": one.where, "wrong": one.wrong, "remedy": one.remedy, "load": one.load}
            for one in shop_plan.obstacles
        ],
        "pressing": [{"where": one.where, "wrong": one.wrong, "remedy": one.remedy} for one in shop_plan.pressing],
        "loads_left_out": list(list_left_out_loads(shop_plan)),
        "pieces_on_hold": shop_plan.asked.held,
        **({} if what_if is None else {"what_if": what_if}),
    }
    return json.dumps(body, indent=2, ensure_ascii=False)


def _batch(
    shop_plan: ShopPlan, batch: str, spread: FinishBands | None, outlook: tuple[Outlook, int] | None
) -> dict[str, Any]:
    found = compute_finish(shop_plan, batch, spread.batches.get(batch) if spread else None)
    due, band, late = found.due, found.band, found.late_hours
    body: dict[str, Any] = {
        "id": batch,
        "finish": _time(found.at),
        "finish_at_best": _time(found.drawn),
        "finish_unknown_because": describe_unknown_finish(shop_plan, batch) if found.at is None else None,
        "due": _time(due),
        "due_day": found.due_day.isoformat() if found.due_day else None,
        "late_hours": None if late is None else round(late, 2),
        "late_working_days": found.late_days,
        "finish_10_percent": format_time(band.early) if band else None,
        "finish_90_percent": format_time(band.late) if band else None,
        "order_filled": batch in shop_plan.asked.filled,
        "not_needed": shop_plan.asked.undecided.get(batch, 0),
    }
    if outlook is not None:
        expected, more = outlook[0].forecast, outlook[0].top_up
        body["order"] = expected.ordered
        body["filled_probability"] = round(expected.probability, 6)
        body["expected_good"] = round(expected.expected, 2)
        body["expected_shortage"] = round(expected.shortage, 2)
        body["start_more"] = (
            {
                "pieces": more.pieces,
                "at_op": outlook[1],
                "probability": round(more.probability, 6),
                "hours": round(more.hours, 2),
            }
            if more
            else None
        )
    return body


def _time(at: datetime | None) -> str | None:
    return None if at is None else format_time(at)


def _run(shop_plan: ShopPlan, run: PlannedRun) -> dict[str, Any]:
    work = shop_plan.work(run)
    return {
        "batch": run.batch,
        "op": work.op,
        "operation": run.operation,
        "station": run.station,
        "carrier": shop_plan.carrier(run) or None,
        "load": work.load,
        "load_name": run.load,
        "pieces": work.pieces,
        "start": format_time(run.start),
        "end": format_time(run.end),
        "station_free": format_time(run.held_until),
        "may_wait_minutes": round(run.slack, 1),
        "stretches": [
            {
                "kind": str(part.kind),
                "start": format_time(part.start),
                "end": format_time(part.end),
                "people": list(part.people),
            }
            for part in run.stretches
        ],
    }


def write_plan_csv(shop_plan: ShopPlan, batches: Sequence[str]) -> str:
    """One row per run, quoted as in RFC 4180; times are the shop's, with offset."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    for run in _of(shop_plan, batches):
        work = shop_plan.work(run)
        attended = sum((part.end - part.start).total_seconds() for part in run.attended) / 60
        writer.writerow(
            escape_formula("" if value is None else value)
            for value in (
                run.batch,
                work.op,
                run.operation,
                run.station,
                shop_plan.carrier(run),
                run.load,
                work.pieces,
                _iso(run.start),
                _iso(run.end),
                _iso(run.held_until),
                round(attended, 1),
                round(run.slack, 1),
            )
        )
    return out.getvalue()


def _iso(at: datetime) -> str:
    return at.isoformat(timespec="seconds")
