"""What can go wrong with the record, each with a sentence that says what is wrong, where, and what to do."""

from __future__ import annotations


class LedgerError(Exception):
    """The base of all of these; ``str(error)`` is a sentence for the person at the terminal."""


class InvalidName(LedgerError):
    """A name that no journal may have."""


class NameTaken(LedgerError):
    """There is a journal of this name already."""


class NoSuchJournal(LedgerError):
    """There is no journal of this name."""


class NotStorable(LedgerError):
    """An entry that plain JSON cannot hold, or a group too large to be one. Nothing was written."""


class WriteFailed(LedgerError):
    """The disk refused. The journal is as it was before, unless the sentence says otherwise."""


class Unreadable(LedgerError):
    """Something stands under a journal's name that cannot be read: not this user's, or no file."""


class ReadOnly(LedgerError):
    """The journal can be read but not be written to."""


class Busy(LedgerError):
    """Another terminal has held the journal for longer than anybody should."""


class Replaced(LedgerError):
    """The file of an open journal was changed for another one, or moved away, under our feet."""


class NewerFormat(LedgerError):
    """The record was written by a later version of Floor."""


class BundleRefused(LedgerError):
    """A bundle that is not taken in. ``seq`` is the first entry in which two copies part, where that is the reason."""

    def __init__(self, sentence: str, seq: int | None = None) -> None:
        super().__init__(sentence)
        self.seq = seq


class NothingMissing(LedgerError):
    """A journal that was to be brought back and is not known to lack anything, or of which no copy has more."""


class BackupFailed(LedgerError):
    """A copy that could not be made, verified or brought back. What was there before is untouched."""
