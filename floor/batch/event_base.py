"""Shared by all kinds of entries: each is a frozen class, read from an entry's plain data and written to it."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import field
from typing import Any, ClassVar, Literal, TypeVar, dataclass_transform

from floor.checklist.frozen import freeze_checklist, thaw_checklist
from floor.dataclass import dataclass
from floor.entry import Draft, Entry

Group = Literal["batch", "steps", "gates", "counts", "handover", "trials", "notes and corrections", "shop"]
"""Groups under which people look for entries; ``shop`` is the shop's own record."""


def alias_field(name: str) -> Any:
    """A field with another name in the record, because that name is a Python keyword."""
    return field(metadata={"name": name})


class Event:
    """What an entry says has happened. Every kind is a class, registered by `register_event`.

    A field without a default is always written, one with a default only if it differs. So a field can be added to a
    kind without touching existing records.
    """

    __slots__ = ()

    KIND: ClassVar[str]
    """Its name in the record."""
    GROUP: ClassVar[Group]
    LOCKED: ClassVar[bool]
    """Whether it can never be struck out."""
    ABNORMAL: ClassVar[bool]
    """Whether it is always reported at a handover."""
    PROVES: ClassVar[bool]
    """Whether later work may rely on it."""

    @property
    def runs(self) -> tuple[int, ...]:
        """The runs it is about: the one it was entered from, and those in the same cycle."""
        run = getattr(self, "run", None)
        return (run, *getattr(self, "along", ())) if run else ()

    @property
    def first_run(self) -> int:
        """The run it was entered from; 0 if none."""
        return next(iter(self.runs), 0)


KINDS: dict[str, type[Event]] = {}
"""Name in the record → class, for all kinds of entries of batches and of the shop."""

E = TypeVar("E", bound=Event)
P = TypeVar("P")


@dataclass_transform(kw_only_default=True, frozen_default=True, field_specifiers=(field, alias_field))
def register_part(cls: type[P]) -> type[P]:
    """Register a class as a part of an event, stored in it as a table."""
    return dataclass(frozen=True, slots=True, kw_only=True)(cls)


@dataclass_transform(kw_only_default=True, frozen_default=True, field_specifiers=(field, alias_field))
def register_event(
    kind: str, group: Group, *, locked: bool = False, abnormal: bool = False, proves: bool = True
) -> Callable[[type[E]], type[E]]:
    """Register a class as a kind of entry; the arguments hold for every entry of that kind."""

    def made(cls: type[E]) -> type[E]:
        whole = register_part(cls)
        whole.KIND, whole.GROUP = kind, group
        whole.LOCKED, whole.ABNORMAL, whole.PROVES = locked, abnormal, proves
        assert kind not in KINDS, f"{kind} is there twice"
        KINDS[kind] = whole
        return whole

    return made


@dataclass(frozen=True, slots=True)
class NewerEvent(Event):
    """An entry of a kind that only a newer version of Floor knows; never written here.

    What it did to the batch is unknown, so the fold refuses it unless it was struck out.
    """

    GROUP: ClassVar[Group] = "notes and corrections"
    LOCKED: ClassVar[bool] = True
    ABNORMAL: ClassVar[bool] = False
    PROVES: ClassVar[bool] = False

    kind: str
    """Its name in the record."""


def read_event(entry: Entry | Draft) -> Event:
    """Read an entry as an event. Fields that a newer version added are ignored.

    Raises:
        ValueError: its data are damaged.
    """
    kind = KINDS.get(entry.kind)
    return NewerEvent(entry.kind) if kind is None else thaw_checklist(kind, entry.body)


def read_if_kind(entry: Entry | Draft, kind: type[E]) -> E | None:
    """Read an entry of this kind; None if it is of another. Raises as `read_event` does."""
    return thaw_checklist(kind, entry.body) if entry.kind == kind.KIND else None


def iter_events(entries: Iterable[Entry], *kinds: type[E]) -> Iterator[tuple[Entry, E]]:
    """Entries of these kinds with their events; the others, often thousands, are not read.

    Raises:
        ValueError: as `read`.
    """
    wanted = {kind.KIND: kind for kind in kinds}
    for entry in entries:
        kind = wanted.get(entry.kind)
        if kind is not None:
            yield entry, thaw_checklist(kind, entry.body)


def read_run_numbers(body: Mapping[str, Any]) -> tuple[int, ...]:
    """`Event.runs` straight from an entry's plain data: reading every entry of a whole record takes far longer."""
    run = body.get("run")
    return (run, *body.get("along", ())) if run else ()


def make_drafts(said: Event) -> list[Draft]:
    """The draft of this event, as a list, because commands return several."""
    return [Draft(said.KIND, freeze_checklist(said))]
