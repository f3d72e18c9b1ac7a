"""A gauge withdrawn because its readings are suspect: which checks used it, and a lead's decision on them.

Batches that are closed or away are told nothing. A gauge recorded for a whole batch and withdrawn as lost stays good
there until it is due.
"""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime

from floor.batch import events
from floor.batch.command import Context, Refused, refuse_closed_batch, require_reason
from floor.batch.events import make_drafts
from floor.batch.gates.gauges import GaugeUse, list_gauge_uses, list_gauges_of_runs, names_serial
from floor.batch.gates.measured_pieces import find_measured_pieces
from floor.batch.gauge import fold_serial
from floor.batch.open_items import SuspectGauge
from floor.batch.proof import LotKey
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.dataclass import dataclass
from floor.entry import Draft
from floor.text import format_count


def list_checks_with(batch: Batch, serial: str, since: datetime | None) -> tuple[int, ...]:
    """The entry of each check that used a gauge since its last good check, in order; of a half-done batch one for all.
    All of them if no good check is known.

    One recorded for the whole batch was used for as long as it is the current one, whenever it was recorded.
    """
    uses = list_gauge_uses(batch, lambda entry: names_serial(entry, serial))
    found = [use for use in uses if fold_serial(use.serial) == fold_serial(serial)]
    return tuple(dict.fromkeys(use.seq for use in found if since is None or use.at >= since or _is_current(batch, use)))


def _is_current(batch: Batch, use: GaugeUse) -> bool:
    lot = batch.lots.get(use.key.what) if isinstance(use.key, LotKey) else None
    return lot is not None and lot.seq == use.seq


def list_suspect_gauges_of(batch: Batch, runs: Collection[Run]) -> list[SuspectGauge]:
    """The suspect gauges that measured the pieces of these runs, decided or not: in a check of theirs, at their set-up,
    or as the gauge recorded for them all."""
    if not batch.suspect_gauges:  # nearly always: what measured them need not be looked up
        return []
    used = {use.seq for uses in list_gauges_of_runs(batch, runs).values() for use in uses}
    lots = {fold_serial(lot) for run in runs for lot in run.lots.values()}
    return [
        one for one in batch.suspect_gauges.values() if used.intersection(one.checks) or fold_serial(one.serial) in lots
    ]


@dataclass(frozen=True, slots=True)
class ReportSuspectGauge:
    """Told to every open batch that was measured with it, by the shop's register."""

    serial: str
    gauge: str
    reason: str
    since: datetime | None
    """Its last good check; None if none is known."""

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        refuse_closed_batch(batch)
        # Told again after a kill, or with an earlier date: what waits for a decision already is not asked about twice.
        waits = {
            seq for one in batch.suspect_gauges.values() if _is_open_report(one, self.serial) for seq in one.checks
        }
        checks = tuple(seq for seq in list_checks_with(batch, self.serial, self.since) if seq not in waits)
        if not checks:
            return []
        return make_drafts(
            events.GaugeSuspected(serial=self.serial, gauge=self.gauge, reason=self.reason, checks=checks)
        )


def _is_open_report(one: SuspectGauge, serial: str) -> bool:
    return not one.settled and fold_serial(one.serial) == fold_serial(serial)


@dataclass(frozen=True, slots=True)
class SettleSuspectGauge:
    """A lead says what became of what was measured with it."""

    report: int
    why: str

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        refuse_closed_batch(batch)
        one = batch.suspect_gauges.get(self.report)
        if one is None or one.settled:
            raise Refused("unknown", "that gauge is not waiting for a decision", "choose one from the list")
        context.need_lead("deciding on a suspect gauge")
        return make_drafts(
            events.SuspectGaugeSettled(report=self.report, reason=require_reason(self.why, "this decision"))
        )


def describe_suspect_gauge(batch: Batch, one: SuspectGauge) -> str:
    """``gauge DM-04 suspect (dropped, AA): 3 checks here used it``."""
    checks = format_count(sum(seq not in batch.struck for seq in one.checks), "check")
    return f"gauge {one.serial} suspect ({one.reason}, {one.by}): {checks} here used it"


def find_measured_with(batch: Batch, one: SuspectGauge) -> dict[int, list[int]]:
    """Load → the pieces on its carrier now, held or scrapped ones too, that the record says were measured with it."""
    checks = [seq for seq in one.checks if seq not in batch.struck]
    measured = {piece for seq in checks for piece in find_measured_pieces(batch, seq)}
    found = {
        load.number: [piece for piece in (*batch.present(load), *batch.sitting(load)) if piece in measured]
        for load in batch.list_live_loads()
    }
    return {load: pieces for load, pieces in found.items() if pieces}
