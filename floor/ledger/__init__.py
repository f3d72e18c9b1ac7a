"""The record on disk: durable appends, several terminals, a chain of hashes.

What is not needed before the first screen has a module of its own, imported where it is used:
`floor.ledger.verify`, `floor.ledger.bundle`, `floor.ledger.backup`.
"""

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
from floor.ledger.journal import Book, Turn
from floor.ledger.journal_folder import Shelf
from floor.ledger.repair import Condition

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
