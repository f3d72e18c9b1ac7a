"""Record errors, each with a sentence that says what is wrong, where, and what to do."""

from __future__ import annotations


class LedgerError(Exception):
    """Base class; ``str(error)`` is a sentence for the person at the terminal."""


class InvalidName(LedgerError):
    """Not a valid journal name."""


class NameTaken(LedgerError):
    """A journal of this name exists."""


class NoSuchJournal(LedgerError):
    """No journal of this name exists."""


class NotStorable(LedgerError):
    """An entry plain JSON cannot hold, or too large a group. Nothing was written."""


class WriteFailed(LedgerError):
    """The disk refused. The journal is as it was before, unless the sentence says otherwise."""


class Unreadable(LedgerError):
    """Something with a journal's name cannot be read: another user's, or not a file."""


class ReadOnly(LedgerError):
    """The journal can be read but not written."""


class Busy(LedgerError):
    """Another terminal has held the journal too long."""


class Replaced(LedgerError):
    """The file of an open journal was swapped or moved away while open."""


class NewerFormat(LedgerError):
    """The record was written by a later version of Floor."""


class BundleRefused(LedgerError):
    """A bundle was refused. ``seq`` is the first entry where two copies differ, if that is the reason."""

    def __init__(self, sentence: str, seq: int | None = None) -> None:
        super().__init__(sentence)
        self.seq = seq


class NothingMissing(LedgerError):
    """A journal to recover that is not known to lack anything, or of which no copy has more."""


class BackupFailed(LedgerError):
    """A copy could not be made, verified or restored. What was there before is untouched."""
