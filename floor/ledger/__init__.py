"""The record on disk: durable appends, several terminals, a chain of hashes."""

from floor.ledger.book import Book, Condition, Turn
from floor.ledger.errors import (
    BackupFailed,
    BadName,
    BundleRefused,
    Busy,
    LedgerError,
    NameTaken,
    NewerFormat,
    NoSuchBook,
    NotStorable,
    ReadOnly,
    Replaced,
    WriteFailed,
)
from floor.ledger.files import REAL_FILES, Files
from floor.ledger.shelf import Shelf

__all__ = [
    "REAL_FILES", "BackupFailed", "BadName", "Book", "BundleRefused", "Busy", "Condition", "Files", "LedgerError",
    "NameTaken", "NewerFormat", "NoSuchBook", "NotStorable", "ReadOnly", "Replaced", "Shelf", "Turn", "WriteFailed",
]
