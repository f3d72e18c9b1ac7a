"""The close-out report: what was made and at what yield, losses with place and reason, who decided, which lots."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Mapping, Sequence
from statistics import median
from typing import TYPE_CHECKING, get_args

from floor.batch.corrections.unproved_work import find_suspect_pieces, find_unproved_work
from floor.batch.counting.conformance import find_where, say_why_used
from floor.batch.counting.follow_up import list_follow_ups
from floor.batch.counting.losses import Loss, count_losses, say_lost_as
from floor.batch.counting.op_yields import OpOutcome, count_produced_first, list_op_outcomes
from floor.batch.counting.scrap import say_open_scrap
from floor.batch.counting.surplus import format_surplus
from floor.batch.describe import describe, list_late_proofs
from floor.batch.events import Disposed, Event, OutSettled, UnprovedSettled, iter_events, read_event
from floor.batch.gates.gauges import list_gauge_uses
from floor.batch.gates.judge_readings import say_out
from floor.batch.gates.soak_outcome import describe_over_temperature, describe_unread_end, read_outcome
from floor.batch.gates.suspect_gauges import describe_suspect_gauge
from floor.batch.handover.measures import measure_handovers
from floor.batch.lifecycle.half_done import format_placed_pieces
from floor.batch.load import Where, format_heap
from floor.batch.quality.time_elements import BatchElements, TimeElements, compute_time_elements, is_identified
from floor.batch.search.recorded_lots import find_lots_struck_out, list_lots_by_papers
from floor.batch.state import Batch
from floor.checklist.gates import Soaked
from floor.entry import Entry, Moment
from floor.figures.calendar import Calendar
from floor.figures.key_figures import (
    FALL_OFF,
    FIRST_PASS,
    QUALITY,
    REWORK,
    SCRAP,
    THROUGHPUT,
    TIME_FIGURES,
    Input,
    Unknown,
    compute_key_figure,
    compute_rolled_throughput_yield,
)
from floor.papers.key_figures import (
    NOT_KNOWN,
    format_key_figure,
    format_percent,
    list_formula_lines,
    list_scope_lines,
)
from floor.papers.page import Column, Paper, begin_paper, format_person, format_stamp, format_table
from floor.papers.trials import list_all_trial_lines
from floor.text import WIDTH, format_count, name_pieces

if TYPE_CHECKING:
    from floor.batch.quality.costs import CostRates

INDENT = "  "
CHART_ROWS = 18
"""Rows of a chart on paper, with what is said of it."""


def write_close_out(
    batch: Batch,
    now: Moment,
    head_hash: str,
    names: Mapping[str, str] | None = None,
    calendar: Calendar | None = None,
    rates: CostRates | None = None,
) -> str:
    """The report of a batch, closed or as it stands.

    Args:
        names: initials → name, as far as known.
        calendar: the shop's hours, for the key figures about time; left out if they cannot be read.
        rates: what the shop pays; without them, or without its hours, there is no cost.
    """
    paper = begin_paper("CLOSE-OUT REPORT", batch, now, head_hash)
    closed = f"Closed {format_stamp(batch.closed, now)}" if batch.closed else "NOT CLOSED: the batch as it stands"
    paper.say(
        f"Opened {format_stamp(batch.opened, now)} by {format_person(batch.opened_by, names or {})}. {closed}.", ""
    )
    _waivers(paper, batch, now)
    _out_of_limits(paper, batch, now)
    _used_as_is(paper, batch, now)
    _otherwise(paper, batch, now)
    _followed_up(paper, batch, now)
    _quantities(paper, batch)
    _late(paper, batch, now)
    _operations(paper, batch, now)
    if calendar is not None:
        elements = compute_time_elements(batch, calendar, now.at)
        _time_figures(paper, batch, now, calendar, elements.whole)
        if rates is not None:
            _cost(paper, batch, elements, rates)
        _lessons(paper, batch, calendar)
    _losses(paper, batch)
    _process(paper, batch, calendar)
    _trials(paper, batch, now)
    _lots(paper, batch, now)
    _gauges(paper, batch)
    _differences(paper, batch, now)
    _handovers(paper, batch)
    _people(paper, batch, names or {})
    return paper.text()


def _waivers(paper: Paper, batch: Batch, now: Moment) -> None:
    paper.title("Waived gates")
    for waiver in batch.waivers.values():
        second = f", {waiver.second} signed too" if waiver.second else ""
        closed = f"closed: {waiver.said_closed}" if waiver.closed else "OPEN"
        paper.say(
            f"op {waiver.op} {waiver.title}: waived {format_stamp(waiver.at, now)} by {waiver.by}{second}: "
            f"{waiver.reason}; "
            f"{name_pieces(waiver.pieces)}; {closed}",
            "  ! ",
        )
    if not batch.waivers:
        paper.say("none")


def _out_of_limits(paper: Paper, batch: Batch, now: Moment) -> None:
    """Every value out of limits, the decision on it, and those struck out as typed wrong."""
    from floor.batch.search.matching import (  # here, because the first screen asks nothing
        list_soak_entries,
        read_out_of_limits,
    )

    paper.title("Read out of limits")
    live = {seq: f"{say_out(batch, one)}{'; OPEN' if one.open else ''}" for seq, one in batch.out.items()}
    live |= {entry.seq: said for entry in list_soak_entries(batch) if (said := _say_soak_fault(batch, entry, now))}
    soaks = [entry for entry in list_soak_entries(batch) if entry.seq in live]
    found = sorted([*read_out_of_limits(batch), *soaks], key=lambda entry: entry.seq)
    for entry in found:
        run = batch.runs.get(entry.body["run"])
        if run is None:  # of a run struck out with it
            continue
        text = live.get(entry.seq, "")
        if entry.seq in batch.struck:
            strike = batch.entries[batch.struck[entry.seq] - 1]
            text = f"{describe(batch, entry)}: {strike.body['reason']} ({strike.by})"
        paper.say(f"op {run.op}, load {run.load}, {entry.by} {format_stamp(entry.done, now)}: {text}", "  ! ")
    if not found:
        paper.say("none")


def _say_soak_fault(batch: Batch, entry: Entry, now: Moment) -> str:
    """How far a soak was above its limit, and who let it pass, or that nobody read its end; empty where all is well."""
    run = batch.runs.get(entry.body["run"])
    gate = batch.find_operation(run).gate(entry.body["line"]) if run is not None else None
    outcome = read_outcome(entry.body["values"])
    if run is None or not isinstance(gate, Soaked) or outcome is None:
        return ""
    over = describe_over_temperature(gate, outcome, now)
    if over:
        waived = [one for one in batch.waivers.values() if (one.run, one.line) == (run.number, entry.body["line"])]
        decided = "; ".join(f"waived by {one.by}: {one.reason}" for one in waived) or "not accepted"
        return f"{gate.title()}: {over}; {decided}"
    stands = any(proof.seq == entry.seq for proof in batch.proofs.values())
    unread = describe_unread_end(gate, outcome, run.ended, now) if stands else ""
    return f"{gate.title()}: {unread}" if unread else ""


def _used_as_is(paper: Paper, batch: Batch, now: Moment) -> None:
    """The pieces a lead released as is, and why."""
    from floor.batch.search.matching import list_use_as_is_entries  # here, because the first screen asks nothing

    paper.title("Used as is")
    found = list_use_as_is_entries(batch)
    for entry in found:
        event, stamp = read_event(entry), f"by {entry.by} {format_stamp(entry.time, now)}"
        if isinstance(event, Disposed):
            said = f"{find_where(event) or name_pieces(event.pieces)}; {stamp}: {say_why_used(event)}"
        else:
            said = f"{name_pieces(_find_pieces_used(batch, event))}: {describe(batch, entry)}; {stamp}"
        paper.say(said, "  ! ")
    if not found:
        paper.say("none")


def _find_pieces_used(batch: Batch, event: Event) -> Collection[int]:
    """The pieces that a decision on a reading, or on a proof struck out, let go on."""
    match event:
        case OutSettled():
            return batch.out[event.out].among
        case UnprovedSettled():
            unproved = find_unproved_work(batch)[event.strike]
            return {
                piece for run in unproved.runs - unproved.held for piece in find_suspect_pieces(batch, batch.runs[run])
            }
    return ()


def _otherwise(paper: Paper, batch: Batch, now: Moment) -> None:
    """The pieces a lead had repaired, regraded or returned; nothing where there are none."""
    found = [
        (entry, event)
        for entry, event in iter_events(batch.entries, Disposed)
        if event.decision in ("repair", "regrade", "return to supplier") and entry.seq not in batch.struck
    ]
    if found:
        paper.title("Repaired, regraded, returned")
    for entry, event in found:
        named = f"{name_pieces(event.pieces)}; " if find_where(event) else ""
        paper.say(f"{named}{describe(batch, entry)}; by {entry.by} {format_stamp(entry.time, now)}", "  ! ")


def _followed_up(paper: Paper, batch: Batch, now: Moment) -> None:
    """Causes found, what the customer was told, scrap marked or destroyed; nothing where there is none."""
    found = list_follow_ups(batch)
    if found:
        paper.title("Causes found, customer told, scrap marked or destroyed")
    for entry, _ in found:
        paper.say(f"{describe(batch, entry)}; by {entry.by} {format_stamp(entry.time, now)}", "  - ")


def _quantities(paper: Paper, batch: Batch) -> None:
    paper.title("Quantities")
    words: dict[str, str] = {"load": "on loads", "trial": "in trials"}
    parts = [f"{batch.total(where)} {words.get(where, where)}" for where in get_args(Where) if batch.total(where)]
    paper.say(f"{batch.started} started = {' + '.join(parts)}")
    finished = batch.total("finished")
    short = batch.order - finished
    over = f"{-short} over" if short < 0 else "as ordered" if not short else f"{short} short"
    paper.say(f"Order {batch.order}: {finished} finished, {over}")
    if scrap := say_open_scrap(batch):
        paper.say(scrap, "  ! ")
    if format_surplus(batch):
        paper.say(f"Surplus: {format_surplus(batch)}")
    gone = Counter((p.where, p.op, p.reason) for p in batch.places.values() if p.where in ("spare", "stopped"))
    for (where, op, reason), many in sorted(gone.items()):
        how = "kept as spares" if where == "spare" else "stopped"
        paper.say(f"{format_count(many, 'piece')} {how} before op {op}: {reason}", "  - ")


def _late(paper: Paper, batch: Batch, now: Moment) -> None:
    """What was entered half done, and so was not counted here."""
    late = batch.late
    if late is None:
        return
    paper.title("Entered late")
    paper.say(f"{late.head(now.at)}. What was done before is known only as far as it was entered:")
    for row in late.rows:
        paper.say(format_placed_pieces(batch.checklist, row, now.at), "  - ")
    for said in list_late_proofs(batch, now.at):
        paper.say(said, "  - ")


def _operations(paper: Paper, batch: Batch, now: Moment) -> None:
    made = list_op_outcomes(batch)
    paper.title("Quantities at each operation (each piece once)")
    titles = ("produced", "good", "scrap", "rework", "hold")
    columns = [Column("op", 4, True), Column("operation"), *(Column(title, 8, True) for title in titles)]
    rows = [(o.op, batch.operation(o.op).title, o.produced, o.good, o.scrap, o.rework, o.hold) for o in made]
    paper.add(format_table(columns, rows))
    _key_figures(paper, batch, now, made)
    paper.title("When and where")
    for op in batch.checklist.ops:
        runs = [run for run in batch.runs.values() if run.op == op and not run.put_back]
        if runs:
            ends = [run.released for run in runs if run.released]
            until = format_stamp(max(ends), now) if ends else "under way"
            stations = sorted({batch.checklist.station(run.station).name for run in runs})
            paper.say(
                f"op {op} {batch.operation(op).title}: {format_count(len(runs), 'run')} at {', '.join(stations)}, "
                f"{format_stamp(min(run.begun for run in runs), now)} to {until}",
                "  - ",
            )


def _key_figures(paper: Paper, batch: Batch, now: Moment, made: list[OpOutcome]) -> None:
    """The ratios by the standard's names, each with the checklist's plan."""
    paper.title("Key figures (ISO 22400-2)")
    titles = ("quality ratio", "scrap ratio", "rework ratio", "first pass", "planned", "fall off")
    rows = []
    first = count_produced_first(batch)
    for one in made:
        amounts = {**one.amounts, Input.PQ_FIRST: first}
        planned = format_percent(batch.operation(one.op).expected_yield)
        once = format_key_figure(FIRST_PASS, amounts, estimate=not is_identified(batch, one.op))
        if batch.operation(one.op).rework_only:
            once = planned = NOT_KNOWN
        ratios = [format_key_figure(figure, amounts) for figure in (QUALITY, SCRAP, REWORK)]
        rows.append((one.op, *ratios, once, planned, format_key_figure(FALL_OFF, amounts)))
    widths = (13, 11, 12, 10, 8, 8)
    columns = [Column(title, width, True) for title, width in zip(titles, widths, strict=True)]
    paper.add(format_table([Column("op", 4, True), *columns], rows))
    paper.say(
        "quality ratio GQ/PQ, scrap ratio SQ/PQ, rework ratio RQ/PQ, first pass yield GP/IP; "
        f"{'pieces regraded or returned are neither scrap nor good; ' * any(one.otherwise for one in made)}"
        "~ is an estimate: pieces were not told apart; planned is the checklist's yield; "
        "fall off ratio SQ/PQ, with PQ of the first operation"
    )
    route = [one for one in made if one.op in batch.checklist.route]  # a rework-only operation has no first pass
    rolled = compute_rolled_throughput_yield([(one.first_pass, one.produced) for one in route])
    paper.say(f"rolled throughput yield {format_percent(rolled)} (our addition: product of the first pass yields)")
    seconds = max(((batch.closed or now.at) - batch.opened).total_seconds(), 0.0)  # a clock may have been set back
    finished, lost = batch.total("finished"), batch.count_lost()
    rate = compute_key_figure(THROUGHPUT, {Input.PQ_ENDED: finished + lost, Input.AOET: seconds})
    said = NOT_KNOWN if isinstance(rate, Unknown) else f"{3600 * rate:.2f} pieces an hour"
    made_up_of = f"{lost} {say_lost_as(batch)} and " * (lost > 0) + f"{finished} finished"
    paper.say(f"throughput rate PQ/AOET {said}: {made_up_of} in {seconds / 3600:.1f} h from opening, nights included")


def _time_figures(paper: Paper, batch: Batch, now: Moment, calendar: Calendar, whole: TimeElements) -> None:
    """Of the whole batch, with formulas and inputs."""
    paper.title("Key figures about time (ISO 22400-2)")
    width = WIDTH - len(INDENT)
    lines = list_scope_lines(whole, calendar, "The whole batch", now.at, width)
    paper.add(INDENT + line for line in [*lines, *list_formula_lines(whole, width, TIME_FIGURES)])


def _cost(paper: Paper, batch: Batch, elements: BatchElements, rates: CostRates) -> None:
    from floor.batch.quality.costs import compute_costs  # here, because the first screen asks nothing
    from floor.papers.costs import list_cost_lines

    paper.title("Cost")
    spent = list_cost_lines(batch, compute_costs(batch, elements, rates), WIDTH - len(INDENT))
    paper.add(f"{INDENT}{line}".rstrip() for line in spent)


def _lessons(paper: Paper, batch: Batch, calendar: Calendar) -> None:
    """What the next quote can use, against the checklist that the batch was opened with."""
    from floor.batch.quality.lessons import study_lessons  # here, because the first screen asks nothing
    from floor.papers.lessons import list_kept_lines, list_offer_lines, list_spare_lines

    width = WIDTH - len(INDENT)
    found = study_lessons(batch, calendar)
    paper.title("Lessons for the next quote")
    paper.add(INDENT + line for line in [*list_spare_lines(batch, found, batch.checklist, width), ""])
    offers = list_offer_lines(batch, found, None, width) or ["Nothing differs from the checklist by more than luck", ""]
    paper.add(f"{INDENT}{line}".rstrip() for line in [*offers, "Not offered"])
    paper.add(INDENT + line for line in list_kept_lines(batch, found, width))


def _process(paper: Paper, batch: Batch, calendar: Calendar | None) -> None:
    """Where the losses come from, way by way, and a chart of each characteristic that tells something."""
    from floor.batch.quality.drifts import find_drifts, list_wear  # here, because the first screen asks nothing
    from floor.batch.quality.loss_patterns import study_losses
    from floor.batch.quality.measured_values import list_measured_values
    from floor.papers.drifts import list_wear_lines
    from floor.papers.losses import list_cause_lines, list_path_lines, list_reason_lines, list_verdict_lines
    from floor.papers.measured_values import list_again_lines, list_value_lines, study_values
    from floor.papers.sampling import list_plan_lines, list_plans

    width = WIDTH - len(INDENT)

    def add(*pages: Sequence[str]) -> None:
        paper.add(f"{INDENT}{line}".rstrip() for page in pages if page for line in ["", *page])

    losses = study_losses(batch, calendar)
    paper.title("Where the losses come from")
    paper.add(INDENT + line for line in list_verdict_lines(batch, losses, width))
    add(list_reason_lines(batch, width), list_cause_lines(batch, width))
    add(*(list_path_lines(batch, losses, path, width, CHART_ROWS) for path in losses.outcomes))
    studies = [study_values(shape, values) for shape, values in list_measured_values(batch).items()]
    telling = [one for one in studies if one.is_telling]
    paper.title(f"Measured values out of limits or out of control: {len(telling)} of {len(studies)}")
    if not telling:
        paper.say("none")
    add(*(list_value_lines(batch, one, width, CHART_ROWS) for one in telling))
    paper.add(f"{INDENT}{line}" for line in list_again_lines(studies, width))
    drifting = {one.shape for one in find_drifts(batch)}
    add(*(list_wear_lines(one, width, CHART_ROWS) for one in list_wear(batch) if one.shape in drifting))
    plans = list_plans(batch)
    if plans:
        paper.title("Sampling plans")
        add(*(list_plan_lines(batch, plan, width) for plan in plans))


def _trials(paper: Paper, batch: Batch, now: Moment) -> None:
    """What was tried, what that told, what was chosen; a trial without a choice too."""
    if batch.trials:
        paper.title("Trials")
        paper.add(f"{INDENT}{line}".rstrip() for line in list_all_trial_lines(batch, now.at, WIDTH - len(INDENT)))


def _losses(paper: Paper, batch: Batch) -> None:
    found = count_losses(batch)
    for to, title in (("scrap", "Scrap"), ("rework", "Rework"), ("hold", "Put on hold")):
        mine = Counter({loss: many for loss, many in found.items() if loss.to == to})
        paper.title(f"{title}: {mine.total()}")
        if not mine:
            paper.say("none")
            continue
        reasons = _gather(mine, lambda loss: (_reason(batch, loss), _op(loss.found), _op(_find_cause(batch, loss))))
        columns = [Column("reason"), Column("found at", 10), Column("caused at", 10), Column("pieces", 6, True)]
        paper.add(format_table(columns, [(*key, many) for key, many in reasons]))
        places = _gather(mine, lambda loss: (loss.position or "not known",))
        paper.say("by position: " + ", ".join(f"{place} {many}" for (place,), many in places))


def _gather(found: Counter[Loss], by: Callable[[Loss], tuple[str, ...]]) -> Sequence[tuple[tuple[str, ...], int]]:
    """Losses grouped by key, most frequent first."""
    tally: Counter[tuple[str, ...]] = Counter()
    for loss, many in found.items():
        tally[by(loss)] += many
    return sorted(tally.items(), key=lambda pair: (-pair[1], pair[0]))


def _reason(batch: Batch, loss: Loss) -> str:
    operation = batch.checklist.ops.get(loss.found)
    code = operation.reason(loss.reason) if operation else None
    return code.text if code else loss.reason


def _find_cause(batch: Batch, loss: Loss) -> int | None:
    """What the first operation finds, it caused; else as far as the checklist says."""
    return loss.caused or (loss.found if loss.found == batch.checklist.route[0] else None)


def _op(op: int | None) -> str:
    return f"op {op}" if op else "not stated"


def _lots(paper: Paper, batch: Batch, now: Moment) -> None:
    paper.title("Material lots")
    used: dict[tuple[str, str], set[int]] = {}
    missing: dict[tuple[str, str], set[int]] = {}
    struck = find_lots_struck_out(batch)
    for run in batch.runs.values():
        for what, lot in run.lots.items():
            if (run.number, what) not in struck:
                used.setdefault((what, lot), set()).update(run.pieces)
    for _, what, lot, through in list_lots_by_papers(batch):
        if through:
            used.setdefault((what, lot), set()).update(through)
    for (number, what), said in struck.items():
        missing.setdefault((what, said), set()).update(batch.runs[number].pieces)
    for (what, lot), pieces in used.items():
        known = batch.lots.get(what)
        until = f", use by {known.use_by}" if known and known.lot == lot and known.use_by else ""
        paper.say(f"{what}: lot {lot}, in {format_count(len(pieces), 'piece')}{until}", "  - ")
    for (what, said), pieces in missing.items():
        paper.say(f"{what}: {said}, in {format_count(len(pieces), 'piece')}", "  ! ")
    for one in batch.corrected_lots.values():
        paper.say(f"{one.what}: lot {one.lot} {one} (entry {one.seq})", "  - ")
    if not used and not missing:
        paper.say("none recorded")


def _gauges(paper: Paper, batch: Batch) -> None:
    """Each gauge by its serial number, its calibration as it was then, and how many checks it made."""
    used = Counter(map(str, list_gauge_uses(batch)))
    if not used:
        return
    paper.title("Gauges")
    for gauge, many in used.items():
        paper.say(f"{gauge}: {format_count(many, 'check')}", "  - ")
    for one in batch.suspect_gauges.values():
        paper.say(f"{describe_suspect_gauge(batch, one)}; {one.settled or 'OPEN'}", "  ! ")


def _differences(paper: Paper, batch: Batch, now: Moment) -> None:
    if not batch.differences:
        return
    paper.title("Counts that disagreed at a handover")
    for one in batch.differences.values():
        paper.say(
            f"{format_heap(one.subject)}: counted {one.found}, recorded {one.expected} "
            f"({one.by} {format_stamp(one.at, now)}); {one.resolved or 'OPEN'}",
            "  - ",
        )


def _handovers(paper: Paper, batch: Batch) -> None:
    """How long each took and what it found; what was wrong all the same came to light in the shift after it."""
    found = measure_handovers(batch)
    if not found:
        return
    paper.title("Handovers")
    for one in found:
        asked = [format_count(one.counted, "place") + " counted", format_count(one.disputed, "count") + " disputed"]
        asked += [format_count(one.read_back, "line") + " read back", format_count(one.questions, "question")]
        later = f"{format_count(one.struck, 'earlier entry')} struck out in the next shift"
        took = f"{one.minutes:.0f} min from reading the page to the signature"
        paper.say(f"{one.giver} to {one.taker}, entry {one.seq}: {took}; {', '.join(asked)}; {later}", "  - ")
    usual = median(one.minutes for one in found)
    disputed, struck = sum(one.disputed for one in found), sum(one.struck for one in found)
    paper.say(f"In all {len(found)}: median {usual:.0f} min; {disputed} disputed; {struck} struck out afterwards")


def _people(paper: Paper, batch: Batch, names: Mapping[str, str]) -> None:
    """Who entered what, so every figure above has its people."""
    paper.title("People")
    work: dict[str, list[int]] = {}
    for run in batch.runs.values():
        for initials in {run.by, run.started_by, run.count.by if run.count else "", run.released_by} - {""}:
            ops = work.setdefault(initials, [])
            if run.op not in ops:
                ops.append(run.op)
    entered = Counter(entry.by for entry in batch.entries)
    for initials, many in sorted(entered.items()):
        ops = sorted(work.get(initials, ()))
        at = f"op {', '.join(map(str, ops))}" if ops else "no run"
        paper.say(f"{format_person(initials, names)}: {at}; {many} entries", "  - ")
    struck = len(batch.struck)
    paper.say(f"{len(batch.entries)} entries in all, {struck} struck out and still readable in the record")
