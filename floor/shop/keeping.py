"""Keeping the record safe and moving a batch: backups, bundles."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from floor.batch.commands.base import Refused
from floor.batch.commands.moving import GoOver, TakeIn
from floor.ledger.backup import KEEP, backup, copies
from floor.ledger.bundle import read_bundle, receive, write_bundle
from floor.shop.shop import COPIES, SHOP_BOOK, Shop


def backup_folder(shop: Shop) -> Path:
    return shop.folder / COPIES


def backup_due(shop: Shop, now: datetime) -> bool:
    """Whether no copy was made yet on this day of the shop's clock."""
    folder = backup_folder(shop)
    if not folder.is_dir():
        return True
    made = [path.stat().st_mtime for path in copies(folder)]
    return not made or datetime.fromtimestamp(max(made), now.tzinfo).date() != now.date()


def make_backup(shop: Shop, target: Path | None = None, keep: int = KEEP) -> Path:
    """One verified copy of the record, by default into the shop's own backup folder.

    Raises:
        LedgerError: with what is wrong and what was kept.
    """
    return backup(shop.shelf, target or backup_folder(shop), shop.now().at, keep=keep)


def send_over(shop: Shop, id: str, path: Path, to: str, by: str) -> None:
    """Mark a batch as gone over and write its bundle; one that is marked already is only written again.

    Raises:
        Refused, LedgerError: the sentence says what was done and what was not.
    """
    if path.exists():
        raise Refused("input", f"there is a file {path} already", "choose another name; nothing was written")
    if not shop.batch(id).gone:
        shop.do(id, GoOver(to), by)
    write_bundle(shop.shelf.open(id), path)


def take_in(shop: Shop, path: Path, by: str) -> str:
    """Take a bundle in and make the batch alive here; its name.

    Raises:
        Refused, LedgerError: nothing was taken in.
    """
    name, entries = read_bundle(path)
    if name == SHOP_BOOK or entries[0].kind != "batch_opened":
        raise Refused("input", f"{path} is the record of no batch", "choose a bundle of a batch")
    if entries[-1].kind != "gone_over":
        raise Refused("input", f"{path} was not sent over with floor bundle", "send it from the machine it is alive on")
    receive(shop.shelf, path)
    shop.reload(name)
    shop.do(name, TakeIn(f"from {entries[-1].by}"), by)
    return name
