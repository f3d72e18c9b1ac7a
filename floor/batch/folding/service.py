"""Stations out of service and back."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from floor.batch.folding.base import kind
from floor.batch.state import Batch
from floor.batch.unsettled import Outage
from floor.entry import Entry


@kind
def _out_of_service(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    batch.outages[body["station"]] = Outage.read(body, at)


@kind
def _back_in_service(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    batch.outages.pop(body["station"], None)
