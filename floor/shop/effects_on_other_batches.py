"""The effects of a command on other batches and on the shop's own record."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from floor.batch import events
from floor.batch.command import Command, Context
from floor.batch.corrections.commands import StrikeOut, StrikeTold
from floor.batch.corrections.from_paper import TranscribeAct
from floor.batch.corrections.unproved_work import find_root_entry
from floor.batch.counting.commands import HoldBack
from floor.batch.counting.decide_surplus import TakeOutSurplus
from floor.batch.events import (
    Disturbed,
    EnteredLate,
    Event,
    Proved,
    RunBegun,
    SetupTakenDown,
    StruckOut,
    SurplusTakenOut,
    iter_events,
    make_drafts,
    read_event,
    read_if_kind,
)
from floor.batch.fold import fold
from floor.batch.gates.check_values import is_same_text
from floor.batch.gates.commands import Prove
from floor.batch.gates.decide_out_of_limits import DecideBefore, DecideOut, SettleOut
from floor.batch.gates.offset_history import list_last_probed
from floor.batch.gates.offset_users import is_offset_set_anew
from floor.batch.gates.open_lot import OpenLot
from floor.batch.gates.tool_life import compute_tool_wear, compute_wasted_tool_life
from floor.batch.lifecycle.commands import CloseBatch, FormLoad, OpenBatch, SetPiecesAside
from floor.batch.lifecycle.enter_half_done import EnterLate
from floor.batch.lifecycle.transfer import TakeInBatch, TransferBatch
from floor.batch.moving.commands import MovePieces
from floor.batch.proof import OffsetKey, ProbedLast, ProbedPlace, ToolKey
from floor.batch.state import Batch
from floor.batch.stations.commands import Disturb, TakeDown, WearTools
from floor.batch.stations.conditions import ClearCondition, ReportCondition
from floor.batch.stations.out_of_service import ReturnToService, TakeOutOfService
from floor.batch.walk.commands import BeginRun, EndCycle, StartCycle
from floor.batch.walk.shared_cycles import find_emptied_runs
from floor.batch.walk.stop_cycle import StopCycle
from floor.checklist.gates import Probed
from floor.entry import Draft, Entry
from floor.shop.events import CarrierLeft, ToolChanged, ToolsLeft
from floor.shop.shop_record import ShopRecord

StationNews = TakeOutOfService | ReturnToService | ReportCondition | ClearCondition
"""What a person says of a station: every batch there is told, and the shop's own record keeps it for later ones."""
Worn = dict[tuple[str, int], float]


def is_shop_wide(command: Command | OpenBatch, batch: Batch | None = None) -> bool:
    """Whether a command may take a station or carrier, or tells other batches: only one at a time across all
    batches.

    Args:
        batch: that it is given on, as last seen here.
    """
    if isinstance(command, OpenBatch):
        return True  # from here on it is told what others are
    command = _bare(command)
    if isinstance(command, Prove):
        # It takes over a tool's wear, sets an offset another batch may have probed, or uses a gauge of the shop, which
        # nobody may withdraw meanwhile: a suspect one would be reported to this batch before the check is in it.
        named = any(name in ("tool", "offset", "lot") or name.split()[0] == "gauge" for name in command.values)
        return named or (batch is not None and _may_set_zero(batch, command))
    if isinstance(command, StartCycle):
        return command.anew
    return isinstance(
        command,
        BeginRun
        | FormLoad
        | OpenLot
        | MovePieces
        | StrikeOut
        | Disturb
        | StopCycle
        | EndCycle
        | CloseBatch
        | TransferBatch
        | EnterLate
        | TakeInBatch
        | StationNews
        | SetPiecesAside
        | HoldBack
        | TakeOutSurplus
        | DecideOut
        | DecideBefore
        | SettleOut,
    )


def _may_set_zero(batch: Batch, command: Prove) -> bool:
    """Whether it is a probing; a run that was begun at another terminal is looked up in its turn."""
    run = batch.runs.get(command.run)
    return run is None or isinstance(dict(batch.find_operation(run).numbered_steps).get(command.line), Probed)


def find_effects(batch: Batch, command: Command, drafts: Sequence[Draft], worn: Worn) -> list[Command]:
    """Entries to write in other batches before a command on this one.

    Args:
        worn: wear of each tool, as far as the others know.
    """
    command = _bare(command)
    said = [read_event(one) for one in drafts]
    cited = [batch.format_citation(batch.seq + 1 + place) for place in range(len(drafts))]
    if isinstance(command, StationNews):
        return [command]
    match command:
        case EnterLate():
            return find_setup_effects(drafts, batch.id)
        case BeginRun():
            return _setups_taken_down(batch, said)
        case Disturb() if command.what != "lifted":
            return [replace(command, note=f"entered on {batch.id}", told=cited[0])]
        case Prove():
            return _zeros_set(batch, command, said, cited[0])
        case StopCycle():
            disturbs = zip(command.list_disturbances(batch.runs[command.run]), cited[1:], strict=True)
            return [replace(one, note=f"entered on {batch.id}", told=cite) for one, cite in disturbs]
        case EndCycle() | StartCycle():
            return _worn_by_cycle(batch, command, said[-1].runs)  # cautions read with the end come first
        case SetPiecesAside() | HoldBack() | TakeOutSurplus() | DecideOut() | DecideBefore() | SettleOut():
            return _worn_by_emptied_runs(batch, said)
        case StrikeOut() if find_root_entry(batch, command.seq).kind == Disturbed.KIND:
            return [*_strikes_told(batch, command, said, cited[0]), *_worn_unchanged(batch, command, worn)]
    return []


def _strikes_told(batch: Batch, command: StrikeOut, said: Sequence[Event], cite: str) -> list[Command]:
    struck = batch.format_citation(command.seq)
    return [StrikeTold(struck, strike.reason, batch.id, cite) for strike in said if isinstance(strike, StruckOut)]


def _setups_taken_down(batch: Batch, said: Sequence[Event]) -> list[Command]:
    return [TakeDown(one.station, batch.id) for one in said if isinstance(one, RunBegun) and one.new_setup]


def _zeros_set(batch: Batch, command: Prove, said: Sequence[Event], cite: str) -> list[Command]:
    """A zero set by probing, for the others that use it.

    One that all carriers share is told of only where more than one can be on the machine: elsewhere the set-up of the
    others was taken down before.
    """
    station, note = batch.runs[command.run].station, f"probed for {batch.id}"
    shared = batch.checklist.station(station).runs_at_once > 1
    return [
        Disturb(station, "rezeroed", note=note, offset=one.values.get("offset", one.key.offset), told=cite)
        for one in said
        if isinstance(one, Proved) and isinstance(one.key, OffsetKey) and (shared or "offset" in one.values)
    ]


def _worn_by_cycle(batch: Batch, command: EndCycle | StartCycle, runs: Sequence[int]) -> list[Command]:
    """Tool wear to report after a cycle of these runs; for a restarted one, the wear of the wasted cut."""
    if isinstance(command, StartCycle) and not command.anew:
        return []
    compute = compute_tool_wear if isinstance(command, EndCycle) else compute_wasted_tool_life
    figures: Worn = {}
    for run in map(batch.runs.__getitem__, runs):
        for tool, used in compute(batch, run).items():
            key = (run.station, tool)
            figures[key] = figures.get(key, get_tool_wear(batch, *key)) + used
    return _worn(batch, figures)


def _worn_by_emptied_runs(batch: Batch, said: Sequence[Event]) -> list[Command]:
    """Tool wear to report for stopped cycles that lost their last pieces with these entries."""
    gone = [piece for one in said if isinstance(one, events.SetAside | SurplusTakenOut) for piece in one.pieces]
    return _worn(
        batch,
        {
            (run.station, tool): get_tool_wear(batch, run.station, tool) + used
            for run in find_emptied_runs(batch, gone)
            for tool, used in compute_wasted_tool_life(batch, run).items()
        },
    )


def _worn_unchanged(batch: Batch, command: StrikeOut, worn: Worn) -> list[Command]:
    if batch.entries[command.seq - 1].kind == Disturbed.KIND:
        # The tool was not changed after all, so its wear is what it was plus what it cut since.
        without = fold(batch.entries, (command.seq,), batch.checklist)
        figures = {key: state.used for key, state in without.tools.items() if state.used > get_tool_wear(batch, *key)}
        for key, used in restore_tool_wear(batch, command, worn).items():
            figures[key] = max(used, figures.get(key, 0.0))
        return _worn(batch, figures)
    return []


def find_setup_effects(drafts: Sequence[Draft], id: str) -> list[Command]:
    """What to tell other batches about a batch entered half done: where it is set up."""
    late = (read_if_kind(one, EnteredLate) for one in drafts)
    return [TakeDown(setup.station, id) for one in late if one is not None for setup in one.setups]


def draft_effects(batch: Batch, news: Sequence[Command], context: Context) -> list[Draft]:
    """What another batch writes of the news that matter to it.

    Raises:
        Refused: it cannot take them, so the command must not go on either.
    """
    drafts: list[Draft] = []
    for one in news:
        if has_effect_on(batch, one):
            drafts += (theirs := one.decide(batch, context))
            if isinstance(one, StrikeTold):  # anything that comes with it is about tools it has back by then
                struck = [one.seq for one in map(read_event, theirs) if isinstance(one, StruckOut)]
                batch = fold(batch.entries, struck, batch.checklist)
    return drafts


def _bare(command: Command) -> Command:
    return command.act if isinstance(command, TranscribeAct) else command


def has_effect_on(batch: Batch, news: Command) -> bool:
    """Whether an entry from another batch affects this one."""
    if batch.closed or batch.gone:
        return False
    if isinstance(news, TakeDown):
        return _worked_since_taken_down(batch, news.station)
    if isinstance(news, Disturb):
        if news.offset:
            return _probed(batch, news.station, news.offset)
        return _knows_tool(batch, news) and _worked(batch, news.station)
    if isinstance(news, StrikeTold):
        return bool(news.entries(batch))
    if isinstance(news, TakeOutOfService | ReportCondition):
        return any(station.id == news.station for station in batch.checklist.stations)
    if isinstance(news, ReturnToService):
        return news.station in batch.outages
    if isinstance(news, ClearCondition):
        return _stands(batch, news)
    if isinstance(news, WearTools):
        return any(get_tool_wear(batch, news.station, tool, used) < used for tool, used in news.tools)
    return True


def _stands(batch: Batch, news: ClearCondition) -> bool:
    return any((key.station, key.what) == (news.station, news.what) for key in batch.conditions)


def _knows_tool(batch: Batch, news: Disturb) -> bool:
    """Whether news is no tool change, or of a tool this batch has too: of none with a card, where it has none there."""
    if news.what != "tool changed":
        return True
    return not batch.checklist.tools_at(news.station) if news.tool is None else bool(batch.checklist.tool(news.tool))


def _worked(batch: Batch, station: str) -> bool:
    """Whether it ever started a run there, struck out or not: its proofs may count again later."""
    return any(_works(entry, station) for entry in batch.entries)


def _probed(batch: Batch, station: str, offset: str) -> bool:
    """Whether it ever probed with this offset there, struck out or not."""
    if any(is_offset_set_anew(batch, key, station, offset) for key in batch.proofs if isinstance(key, OffsetKey)):
        return True
    return any(
        isinstance(key := proved.key, OffsetKey)
        and (run := batch.runs.get(proved.run)) is not None
        and run.station == station
        and is_same_text(str(proved.values.get("offset", key.offset)), offset)
        for _, proved in iter_events(batch.entries, Proved)
    )


def _worked_since_taken_down(batch: Batch, station: str) -> bool:
    """Whether it started a run there since its set-up was last taken down (never undone)."""
    for entry in reversed(batch.entries):
        if _works(entry, station):
            return True
        down = read_if_kind(entry, SetupTakenDown)
        if down is not None and down.station == station:
            return False
    return False


def _works(entry: Entry, station: str) -> bool:
    """Whether an entry starts a run there, or reports one started before the batch was entered."""
    begun = read_if_kind(entry, RunBegun)
    return entry.kind == EnteredLate.KIND or (begun is not None and begun.station == station)


def get_tool_wear(batch: Batch, station: str, tool: int, otherwise: float = 0.0) -> float:
    """Wear of a tool as this batch knows it."""
    state = batch.tools.get((station, tool))
    return state.used if state is not None else otherwise


def merge_tool_wear(others: Iterable[Batch], people: ShopRecord) -> Worn:
    """Wear of each tool as anybody else knows it; if two differ, the higher: errors never make a tool too fresh."""
    found = dict(people.worn)
    for batch in others:
        for key, state in batch.tools.items():
            found[key] = max(state.used, found.get(key, 0.0))
    return found


def restore_tool_wear(batch: Batch, command: StrikeOut, worn: Worn) -> Worn:
    """Wear of a tool not changed after all: what the others knew then, plus what was cut since."""
    said = read_if_kind(batch.entries[command.seq - 1], Disturbed)
    if said is None or not said.worn:
        return {}
    key = (said.station, said.tool or 0)
    return {key: said.worn + max(get_tool_wear(batch, *key), worn.get(key, 0.0))}


def _loaded(batch: Batch, seq: int) -> Worn:
    """Wear of the tool an entry says was loaded."""
    said = read_if_kind(batch.entries[seq - 1], Proved)
    if said is None or not isinstance(said.key, ToolKey):
        return {}
    tool = (said.key.station, said.key.tool)
    return {tool: batch.tools[tool].used} if tool in batch.tools else {}


def draft_shop_entries(
    batch: Batch, command: Command, drafts: Sequence[Draft], people: ShopRecord, worn: Worn
) -> list[Draft]:
    """Entries for the shop's own record: what later batches have to know.

    A station out of service or back, a guard off and the like; when a batch leaves, the wear of its tools, which stay,
    and what was probed last of carriers that repeat; the wear of a tool not changed after all; and of one whose loading
    is struck out, which its batch no longer fully knows.
    """
    if isinstance(command, StrikeOut):
        figures = restore_tool_wear(batch, command, worn) | _loaded(batch, command.seq)
        again = tuple((*key, used) for key, used in figures.items() if used > people.worn.get(key, 0.0))
        return make_drafts(ToolsLeft(batch=batch.id, tools=again)) if again else []
    if isinstance(command, StationNews):
        return list(drafts)
    if not isinstance(command, CloseBatch | TransferBatch):
        return []
    tools = tuple(
        (*key, state.used) for key, state in sorted(batch.tools.items()) if state.used > people.worn.get(key, 0.0)
    )
    worn_tools = make_drafts(ToolsLeft(batch=batch.id, tools=tools)) if tools else []
    return worn_tools + [draft for one in list_last_probed(batch).items() for draft in _draft_carrier_left(batch, *one)]


def _draft_carrier_left(batch: Batch, place: ProbedPlace, last: ProbedLast) -> list[Draft]:
    fields = place.place._asdict() | last._asdict()
    return make_drafts(CarrierLeft(batch=batch.id, part=place.part, **fields))


def draft_tool_changes(drafts: Sequence[Draft], people: ShopRecord) -> list[Draft]:
    """Entries for the shop's own record after a tool change: the old tool's wear no longer matters."""
    said = (read_if_kind(one, Disturbed) for one in drafts)
    changed = [(one.station, one.tool or 0) for one in said if one is not None and one.what == "tool changed"]
    known = [ToolChanged(station=at, tool=tool) for at, tool in changed if (at, tool) in people.worn]
    return [entry for change in known for entry in make_drafts(change)]


def _worn(batch: Batch, figures: Worn) -> list[Command]:
    stations = sorted({station for station, _ in figures})
    return [
        WearTools(station, tuple((tool, used) for (at, tool), used in figures.items() if at == station), batch.id)
        for station in stations
    ]
