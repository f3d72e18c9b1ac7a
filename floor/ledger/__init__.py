"""The record on disk: durable appends, several terminals, a chain of hashes.

What is not needed before the first screen has a module of its own, imported where it is used:
`floor.ledger.verify`, `floor.ledger.bundle`, `floor.ledger.backup`.
"""

from floor.ledger.book import Book, Turn
from floor.ledger.errors import (
    BackupFailed,
    BadName,
    BundleRefused,
    Busy,
    LedgerError,
    NameTaken,
    NewerFormat,
    NoSuchBook,
    NothingMissing,
    NotStorable,
    ReadOnly,
    Replaced,
    Unreadable,
    WriteFailed,
)
from floor.ledger.files import REAL_FILES, Files
from floor.ledger.opening import Condition
from floor.ledger.shelf import Shelf

__all__ = [
    "REAL_FILES",
    "BackupFailed",
    "BadName",
    "Book",
    "BundleRefused",
    "Busy",
    "Condition",
    "Files",
    "LedgerError",
    "NameTaken",
    "NewerFormat",
    "NoSuchBook",
    "NotStorable",
    "NothingMissing",
    "ReadOnly",
    "Replaced",
    "Shelf",
    "Turn",
    "Unreadable",
    "WriteFailed",
]
