"""Commands for what happened at a station: proofs voided, another set-up, tools worn elsewhere."""

from __future__ import annotations

from floor.batch import events
from floor.batch.command import (
    Context,
    Refused,
    refuse_closed_batch,
    require_load,
)
from floor.batch.events import make_drafts
from floor.batch.gates.check_values import is_same_text
from floor.batch.gates.lapse_causes import DISTURBANCES
from floor.batch.state import Batch
from floor.checklist.gate_base import Disturbance
from floor.dataclass import dataclass
from floor.entry import Draft
from floor.text import sanitize


@dataclass(frozen=True, slots=True)
class Disturb:
    """Report an event at a station that voids what was proved there."""

    station: str
    what: Disturbance
    load: int | None = None
    tool: int | None = None
    note: str = ""
    told: str = ""
    """If another batch reported it: that entry as `Batch.format_citation` writes it."""
    offset: str = ""
    """For a reset zero: the work offset; empty for all."""

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        refuse_closed_batch(batch)
        if self.what not in DISTURBANCES:
            raise Refused("input", f'"{sanitize(self.what, 40)}" is not known', f"one of: {', '.join(DISTURBANCES)}")
        if not any(station.id == self.station for station in batch.checklist.stations):
            raise Refused("unknown", f"there is no station {sanitize(self.station, 40)}", "choose one from the list")
        if self.what == "lifted":
            require_load(batch, self.load or 0)
        if self.what == "tool changed":
            self._need_card(batch)
        offset = sanitize(self.offset, 40) if self.what == "rezeroed" else ""
        known = batch.checklist.station(self.station).offsets
        if offset and not any(is_same_text(offset, one) for one in known):
            raise Refused("unknown", f"{offset} is not a work offset of {self.station}", f"one of: {', '.join(known)}")
        # Kept so that it counts again if this is struck out; the other batches do not keep it.
        tool = (self.station, self.tool or 0)
        worn = context.elsewhere.worn.get(tool, 0.0) if self.what == "tool changed" else 0.0
        return make_drafts(
            events.Disturbed(
                station=self.station,
                what=self.what,
                load=self.load,
                tool=self.tool,
                offset=offset,
                note=sanitize(self.note),
                worn=worn,
                told=self.told,
            )
        )

    def _need_card(self, batch: Batch) -> None:
        """The tool that was changed has a card, unless none at the station has."""
        named = self.tool is not None or batch.checklist.tools_at(self.station)
        if named and batch.checklist.tool(self.tool or 0) is None:
            raise Refused("unknown", f"tool {self.tool} has no card in the checklist", "choose one from the list")


@dataclass(frozen=True, slots=True)
class TakeDown:
    """Another batch set the station up: what was proved there for this one is void."""

    station: str
    other: str

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        return make_drafts(events.SetupTakenDown(station=self.station, other=self.other))


@dataclass(frozen=True, slots=True)
class WearTools:
    """Another batch used tools that this one has loaded: the wear of each now.

    It is the total, not the increment, so reporting it twice does no harm.
    """

    station: str
    tools: tuple[tuple[int, float], ...]
    other: str

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        known = {tool: state.used for (station, tool), state in batch.tools.items() if station == self.station}
        told = tuple((tool, used) for tool, used in self.tools if tool in known and known[tool] < used)
        return make_drafts(events.ToolWorn(station=self.station, tools=told, other=self.other)) if told else []
