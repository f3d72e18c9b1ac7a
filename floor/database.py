"""The record as a TinyDB database, by TinyDB's own extension points: queried here, never changed.

An entry is a document of the table ``entries``, as on disk; queries are TinyDB's. Opening a shop needs no TinyDB, so
this module is imported only for queries.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import Any, NoReturn

from tinydb import TinyDB
from tinydb.queries import QueryLike
from tinydb.storages import Storage
from tinydb.table import Table

from floor.entry import Entry

TABLE = "entries"


class RecordIsReadOnly(Exception):
    """An attempt to change the record like an ordinary database."""

    def __init__(self) -> None:
        super().__init__("An entry of the record is never changed or taken away. Strike it out by a later entry.")


class EntriesByNumber(Mapping[str, Entry]):
    """Entries by their numbers, as TinyDB calls them. Nothing is copied."""

    def __init__(self, entries: Sequence[Entry]) -> None:
        self._entries = entries

    def __getitem__(self, number: str) -> Entry:
        try:
            return self._entries[range(1, len(self) + 1).index(int(number))]
        except ValueError:
            raise KeyError(number) from None

    def __iter__(self) -> Iterator[str]:
        return map(str, range(1, len(self) + 1))

    def __len__(self) -> int:
        return len(self._entries)

    def items(self) -> Any:
        """With numbers as they are: TinyDB accepts them too, and writing each as text would cost half a search."""
        return enumerate(self._entries, 1)


class EntryStorage(Storage):
    """TinyDB's view of entries read from the record."""

    def __init__(self, entries: Sequence[Entry]) -> None:
        self.entries = entries

    def read(self) -> dict[str, Any]:
        return {TABLE: EntriesByNumber(self.entries)}

    def write(self, data: object) -> NoReturn:
        raise RecordIsReadOnly


def _as_it_is(entry: Entry, number: int) -> Entry:
    return entry


class EntryTable(Table):
    """The table of entries. It returns the entries themselves: copying each would cost more than the search."""

    document_class = staticmethod(_as_it_is)  # type: ignore[assignment]

    def __init__(self, storage: Storage, name: str, cache_size: int = 0, persist_empty: bool = False) -> None:
        # No cache: a kept answer would be stale once the record grows.
        super().__init__(storage, name, cache_size, persist_empty)

    def insert(self, document: Mapping[str, Any]) -> NoReturn:
        raise RecordIsReadOnly

    def insert_multiple(self, documents: Iterable[Mapping[str, Any]]) -> NoReturn:
        raise RecordIsReadOnly

    def upsert(self, document: Mapping[str, Any], cond: QueryLike | None = None) -> NoReturn:
        raise RecordIsReadOnly

    def _update_table(self, updater: Callable[[dict[int, Mapping[str, Any]]], None]) -> NoReturn:
        raise RecordIsReadOnly


class EntryDatabase(TinyDB):
    """A TinyDB whose default table is the entries."""

    table_class = EntryTable
    default_table_name = TABLE


def open_database(entries: Sequence[Entry]) -> EntryDatabase:
    """Entries as a database; new ones show at once."""
    return EntryDatabase(entries, storage=EntryStorage)


def query_entries(entries: Sequence[Entry], query: QueryLike) -> list[Entry]:
    """The entries that match a TinyDB query, in order."""
    found: list[Any] = open_database(entries).search(query)
    return found
