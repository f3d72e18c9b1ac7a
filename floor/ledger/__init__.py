"""The record on disk: durable appends, several terminals, a chain of hashes.

What is not needed before the first screen has a module of its own, imported where it is used:
`floor.ledger.verify`, `floor.ledger.bundle`, `floor.ledger.backup`.
"""

from floor.ledger.errors import (
    BackupFailed,
    BundleRefused,
    Busy,
    InvalidName,
    LedgerError,
    NameTaken,
    NewerFormat,
    NoSuchJournal,
    NothingMissing,
    NotStorable,
    ReadOnly,
    Replaced,
    Unreadable,
    WriteFailed,
)
from floor.ledger.files import REAL_FILES, Files
from floor.ledger.journal import Journal, JournalWriter
from floor.ledger.journal_folder import JournalFolder
from floor.ledger.repair import JournalCondition

__all__ = [
    "REAL_FILES",
    "BackupFailed",
    "InvalidName",
    "Journal",
    "BundleRefused",
    "Busy",
    "JournalCondition",
    "Files",
    "LedgerError",
    "NameTaken",
    "NewerFormat",
    "NoSuchJournal",
    "NotStorable",
    "NothingMissing",
    "ReadOnly",
    "Replaced",
    "JournalFolder",
    "JournalWriter",
    "Unreadable",
    "WriteFailed",
]
