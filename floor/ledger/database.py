"""A book as a TinyDB database, by TinyDB's own extension points: a storage, and a table that writes as the book does.

Queries are TinyDB's. What would change or take away an entry is refused, because the record is only added to.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import TYPE_CHECKING, Any, NoReturn

from tinydb import TinyDB
from tinydb.storages import Storage
from tinydb.table import Table

from floor.entry import Draft, Entry, Moment
from floor.ledger.chain import plain
from floor.ledger.errors import ReadOnly
from floor.ledger.layout import FORMAT

if TYPE_CHECKING:
    from floor.ledger.book import Book

TABLE = "entries"


class BookStorage(Storage):
    """TinyDB's view of a book's file: the tables ``entries`` (one document for each entry) and ``floor``."""

    def __init__(self, book: Book) -> None:
        self.book = book
        self._documents: dict[str, dict[str, Any]] = {}

    def read(self) -> dict[str, dict[str, Any]]:
        entries = self.book.entries
        for entry in entries[len(self._documents):]:
            self._documents[str(entry.seq)] = document(entry)
        return {"floor": {"1": {"book": self.book.name, "format": FORMAT}}, TABLE: self._documents}

    def write(self, data: object) -> NoReturn:
        raise ReadOnly("An entry of the record is never changed or taken away. Strike it out by a later entry.")


class EntryTable(Table):
    """The table of entries. Inserting is appending: the documents of one call are one group, on disk on return."""

    def __init__(self, storage: Storage, name: str, cache_size: int = 0, persist_empty: bool = False) -> None:
        # No cache: the book grows by other ways than this table, so an answer kept could be stale.
        super().__init__(storage, name, cache_size, persist_empty)

    def append(self, drafts: Iterable[Draft], moment: Moment, by: str) -> list[Entry]:
        """Append to the book, in a turn of its own."""
        storage = self.storage
        if not isinstance(storage, BookStorage) or self.name != TABLE:
            raise ReadOnly(f"The record is added to in the table {TABLE!r} only.")
        with storage.book.turn() as turn:
            return turn.append(list(drafts), moment, by)

    def insert(self, document: Mapping[str, Any]) -> NoReturn:
        raise ReadOnly("An entry has a time and a person: use append(drafts, moment, by) on this table.")

    def insert_multiple(self, documents: Iterable[Mapping[str, Any]]) -> NoReturn:
        raise ReadOnly("An entry has a time and a person: use append(drafts, moment, by) on this table.")

    def _update_table(self, updater: Callable[[dict[int, Mapping[str, Any]]], None]) -> NoReturn:
        raise ReadOnly("An entry of the record is never changed or taken away. Strike it out by a later entry.")


class BookDatabase(TinyDB):
    """A TinyDB whose default table is that of the entries."""

    table_class = EntryTable
    default_table_name = TABLE


def open_database(book: Book) -> BookDatabase:
    """The book as a database; it sees every entry that the book knows of, at once."""
    return BookDatabase(book, storage=BookStorage)


def document(entry: Entry) -> dict[str, Any]:
    """An entry as it is on disk."""
    return plain(entry) | {"hash": entry.hash}
