"""The record on disk: durable appends, several terminals, a chain of hashes.

Modules not needed before the first screen are imported where they are used: `floor.ledger.verify`,
`floor.ledger.bundle`, `floor.ledger.backup`.
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
from floor.ledger.open_and_repair import JournalCondition

__all__ = [
    "backup",
    "BackupFailed",
    "bundle",
    "BundleRefused",
    "Busy",
    "compare_with_copies",
    "copies",
    "files",
    "Files",
    "high_water_mark",
    "InvalidName",
    "Journal",
    "journal_folder",
    "JournalCondition",
    "JournalFolder",
    "JournalWriter",
    "LedgerError",
    "NameTaken",
    "NewerFormat",
    "NoSuchJournal",
    "NothingMissing",
    "NotStorable",
    "ReadOnly",
    "REAL_FILES",
    "recover_from_copies",
    "Replaced",
    "Unreadable",
    "verify",
    "WriteFailed",
]
