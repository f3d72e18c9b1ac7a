"""What the kinds of entries share: each is a frozen class, read from an entry's plain data and written to it."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, ClassVar, Literal, TypeVar, dataclass_transform

from floor.checklist.frozen import freeze, thaw
from floor.entry import Draft, Entry

Group = Literal["batch", "steps", "gates", "counts", "handover", "notes and corrections", "shop"]
"""Kinds of entries as a person looks for them; ``shop`` is the shop's own record."""


def alias_field(name: str) -> Any:
    """A field that is called otherwise in the record, where its name would be a word of Python's."""
    return field(metadata={"name": name})


class Event:
    """What an entry says has happened. Every kind is a class of its own, made by `event`.

    A field without a default is always written; one with a default only where it has another value, so that a field can
    be added to a kind without touching the records there are.
    """

    __slots__ = ()

    KIND: ClassVar[str]
    """As it stands in the record."""
    GROUP: ClassVar[Group]
    LOCKED: ClassVar[bool]
    """Whether it can never be struck out."""
    ABNORMAL: ClassVar[bool]
    """Whether it is told at a handover, whatever else is in it."""
    PROVES: ClassVar[bool]
    """Whether anything done later may rest on it."""

    @property
    def runs(self) -> tuple[int, ...]:
        """The runs that it is about: that from which it was entered, and those in one cycle with it."""
        run = getattr(self, "run", None)
        return (run, *getattr(self, "along", ())) if run else ()

    @property
    def first_run(self) -> int:
        """The run from which it was entered; 0 where it is about none."""
        return next(iter(self.runs), 0)


KINDS: dict[str, type[Event]] = {}
"""Every kind of entry there is, of batches and of the shop."""

E = TypeVar("E", bound=Event)
P = TypeVar("P")


@dataclass_transform(kw_only_default=True, frozen_default=True, field_specifiers=(field, alias_field))
def register_event(
    kind: str, group: Group, *, locked: bool = False, abnormal: bool = False, proves: bool = True
) -> Callable[[type[E]], type[E]]:
    """Make a class a kind of entry; what is said of it here holds for every entry of it."""

    def made(cls: type[E]) -> type[E]:
        whole = dataclass(frozen=True, slots=True, kw_only=True)(cls)
        whole.KIND, whole.GROUP = kind, group
        whole.LOCKED, whole.ABNORMAL, whole.PROVES = locked, abnormal, proves
        assert kind not in KINDS, f"{kind} is there twice"
        KINDS[kind] = whole
        return whole

    return made


@dataclass_transform(kw_only_default=True, frozen_default=True, field_specifiers=(field, alias_field))
def register_part(cls: type[P]) -> type[P]:
    """Make a class a part of an event, which stands in it as a table."""
    return dataclass(frozen=True, slots=True, kw_only=True)(cls)


class UnknownKind(ValueError):
    """An entry of a kind that this version of Floor does not know."""


def read_event(entry: Entry | Draft) -> Event:
    """What an entry says. What a newer version added to its kind is passed over.

    Raises:
        ValueError: its data are damaged, or it is an `UnknownKind`.
    """
    kind = KINDS.get(entry.kind)
    if kind is None:
        raise UnknownKind("this version of Floor does not know such an entry")
    return thaw(kind, entry.body)


def read_if_kind(entry: Entry | Draft, kind: type[E]) -> E | None:
    """What an entry of this kind says; None of another kind. Raises as `read` does."""
    return thaw(kind, entry.body) if entry.kind == kind.KIND else None


def iter_events(entries: Iterable[Entry], *kinds: type[E]) -> Iterator[tuple[Entry, E]]:
    """The entries of these kinds with what they say; the others, often thousands, are not read.

    Raises:
        ValueError: as `read`.
    """
    wanted = {kind.KIND: kind for kind in kinds}
    for entry in entries:
        kind = wanted.get(entry.kind)
        if kind is not None:
            yield entry, thaw(kind, entry.body)


def read_run_numbers(body: Mapping[str, Any]) -> tuple[int, ...]:
    """`Event.runs` of an entry's plain data, for whoever goes through a whole record: to read each takes far longer."""
    run = body.get("run")
    return (run, *body.get("along", ())) if run else ()


def make_drafts(said: Event) -> list[Draft]:
    """The entry that says this, before it has a place in the record; a list, as commands answer with several."""
    return [Draft(said.KIND, freeze(said))]
