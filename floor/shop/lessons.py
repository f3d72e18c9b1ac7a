"""Lessons of a batch taken into the checklist's file: read again, changed in place, checked whole, replaced at once.

A line taken or edited elsewhere is no longer offered. What is taken is on record before the file is replaced. An editor
that saves it in the instant between its last reading and its replacement loses that save.
"""

from __future__ import annotations

import os
import stat
from collections.abc import Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path

from floor.batch.command import Refused
from floor.batch.quality.lesson_kinds import Lessons
from floor.batch.quality.lessons import study_lessons
from floor.batch.state import Batch
from floor.checklist.loading import FileProblem, load_checklist, read_checklist
from floor.checklist.model import Checklist
from floor.checklist.patching import Change, ChecklistText, Field, Unpatchable, format_value
from floor.dataclass import dataclass
from floor.ledger.files import REAL_FILES, write_aside
from floor.shop.checklists import OWN, find_checklist_file
from floor.shop.events import LessonTaken
from floor.shop.load_settings import load_settings
from floor.shop.open_batches import OpenBatches
from floor.shop.shop_record import ShopRecord, fold_part_number
from floor.wall import format_local

BOM = "\ufeff"
SHUT = "change its permissions, or have its owner take the lesson; nothing was written"


@dataclass(frozen=True, slots=True)
class LessonFile:
    """The file that lessons of a batch go to, as it is now."""

    name: str
    """As the shop knows it: ``checklists/NAME``."""
    path: Path
    """Where it is, or will be."""
    source: Path
    """Where it is read: the same, or Floor's own checklist, of which the shop gets a copy with the first lesson."""
    text: str
    checklist: Checklist

    @property
    def is_new(self) -> bool:
        return self.path != self.source


def read_lesson_file(folder: Path, batch: Batch) -> LessonFile:
    """The file a batch was opened from; of a shipped checklist, the shop's copy.

    Raises:
        Refused: it is gone, cannot be read, has errors, or is of another part now.
    """
    own = folder / OWN / Path(batch.file).name
    source = find_checklist_file(folder, batch)
    if source is not None and source.parent != own.parent and own.is_file():
        source = own
    if source is None:
        remedy = "put it back there, and the lessons can be taken"
        raise Refused("unknown", f"the file {batch.file} is not there any more", remedy)
    name = f"{OWN}/{own.name}"
    loaded = load_checklist(source)
    if loaded.checklist is None:
        raise Refused(
            "input", f"the file {name} cannot be used: {_say(loaded.problems)}", "fix it; floor check lists all"
        )
    now, then = loaded.checklist.part.number, batch.checklist.part.number
    if fold_part_number(now) != fold_part_number(then):
        raise Refused(
            "input", f"the file {name} is of part {now} now, not {then}", "its lessons belong to another file"
        )
    return LessonFile(name, own, source, loaded.text, loaded.checklist)


def list_taken(people: ShopRecord, first: str, now: Checklist) -> frozenset[str]:
    """Fields of the file that hold a lesson of a batch; not one of which the file says again what it did before.

    Args:
        first: hash of the batch's first entry.
    """
    said = {f"op {op} expected_yield": format_value(one.expected_yield) for op, one in now.ops.items()}
    return frozenset(name for name, taken in people.lessons.get(first, {}).items() if said.get(name) != taken.before)


def list_yields_taken(people: ShopRecord, now: Checklist, file: str) -> dict[str, frozenset[int]]:
    """Hash of a batch's first entry → operations whose yield in this file holds its pieces."""
    found = {}
    for first, lessons in people.lessons.items():
        taken = list_taken(people, first, now)
        found[first] = frozenset(
            op
            for op in now.ops
            for name in [str(Field("operations", op, ("expected_yield",)))]
            if name in taken and Path(lessons[name].file).name == Path(file).name
        )
    return found


@dataclass(frozen=True, slots=True)
class LessonReport:
    """The lessons of a batch, and the file they go to."""

    lessons: Lessons
    stated: Checklist
    """As the file says now; the batch's own where it cannot be used."""
    name: str
    text: ChecklistText | None
    """Of the file; None where it cannot be used."""
    note: str
    """What of the file is not as it was, in clauses; empty if nothing."""
    wrong: str
    """Why it cannot be used, as sentences; empty if it can."""
    taken: Mapping[str, str]
    """Field → what was taken into it, by whom."""


def study_batch(shop: OpenBatches, batch: Batch) -> LessonReport:
    """The lessons of a batch against its file as it is now.

    Raises:
        SettingsError: the shop's hours cannot be read.
    """
    now = shop.now().at
    calendar = load_settings(shop.folder, now).calendar
    taken = {
        name: f"{one.before} to {one.after} in {one.file}, by {one.by} {format_local(one.at, '%Y-%m-%d %H:%M')}"
        for name, one in shop.people.lessons.get(batch.entries[0].hash, {}).items()
    }
    try:
        file = read_lesson_file(shop.folder, batch)
    except Refused as refused:
        found = study_lessons(batch, calendar)
        return LessonReport(found, batch.checklist, batch.file, None, "", str(refused), taken)
    found = study_lessons(
        batch, calendar, file.checklist, list_taken(shop.people, batch.entries[0].hash, file.checklist)
    )
    note = ", a copy of Floor's own, made when the first line is taken" if file.is_new else ""
    now_is, was = file.checklist.part.revision, batch.checklist.part.revision
    note += f", revision {now_is} now; the batch was made to {was}" if now_is != was else ""
    return LessonReport(found, file.checklist, file.name, ChecklistText(file.text), note, "", taken)


def find_file_state(folder: Path, batch: Batch) -> tuple[int, ...]:
    """What the file looks like: something else whenever it was saved."""
    own = folder / OWN / Path(batch.file).name
    state: tuple[int, ...] = ()
    for path in (own, find_checklist_file(folder, batch)):
        with suppress(OSError):
            found = path.stat() if path is not None else None
            state += (found.st_ino, found.st_size, found.st_mtime_ns) if found is not None else (0,)
    return state


@contextmanager
def prepare_patch(folder: Path, batch: Batch, changes: Sequence[Change]) -> Iterator[Patch]:
    """The file with these changes in it, written aside and checked, to be put in place.

    Raises:
        Refused: the file is gone, shut, says something else now, or would have errors; nothing was written.
    """
    file = read_lesson_file(folder, batch)
    target = file.path if file.is_new else file.path.resolve()  # a link stays one
    mode = _need_writable(file, target)
    raw, text = _read_again(file)
    head = BOM if text.startswith(BOM) else ""
    try:
        text = ChecklistText(text.removeprefix(head)).patch(changes)
    except Unpatchable as error:
        raise Refused("not now", f"in {file.name}, {error.wrong}", error.remedy) from error
    loaded = read_checklist(text.replace("\r\n", "\n"), file.name)
    if loaded.checklist is None:
        wrong = f"with this the file {file.name} could not be used: {_say(loaded.problems)}"
        raise Refused("input", wrong, "take other lines with it or leave it; nothing was written")
    with ExitStack() as until_placed:
        try:
            aside = until_placed.enter_context(write_aside(REAL_FILES, target, (head + text).encode(), mode))
        except OSError as error:
            raise Refused("not now", f"the file {file.name} cannot be written: {error.strerror}", SHUT) from error
        yield Patch(file, target, aside, raw)


@dataclass(frozen=True, slots=True)
class Patch:
    """A changed file beside the one that it is to replace."""

    file: LessonFile
    target: Path
    aside: Path
    raw: bytes
    """Of the one that was changed."""

    def need_unchanged(self) -> None:
        """Refuse if somebody saved the file in this moment."""
        try:
            same = self.target.exists() != self.file.is_new and self.file.source.read_bytes() == self.raw
        except OSError:
            same = False
        if not same:
            raise Refused("not now", f"the file {self.file.name} was saved by somebody in this moment", "try again")

    def place(self) -> None:
        """Put it where the other one is.

        Raises:
            Refused: that is not to be had, and it is on record already.
        """
        try:
            REAL_FILES.rename(self.aside, self.target)
        except OSError as error:
            wrong = f"the file {self.file.name} could not be replaced: {error.strerror}"
            wrong += "; it is as it was, though on record as taken"
            raise Refused("not now", wrong, "take the lesson again once the file can be written") from error
        with suppress(OSError):
            REAL_FILES.sync_folder(self.target.parent)


def make_lesson_taken(batch: Batch, file: LessonFile, changes: Sequence[Change]) -> LessonTaken:
    said = tuple((str(one.field), format_value(one.before), format_value(one.after)) for one in changes)
    return LessonTaken(batch=batch.id, first=batch.entries[0].hash, file=file.name, changes=said)


def _say(problems: Sequence[FileProblem]) -> str:
    """The first of them."""
    one = problems[0]
    return f"line {one.line}, {one.place}: {one.wrong}"


def _need_writable(file: LessonFile, target: Path) -> int | None:
    """The permissions of the file; None of a new one.

    Renaming over a file asks nobody whether it may be written, so its owner's wish is looked at.
    """
    if file.is_new:
        try:
            target.parent.mkdir(exist_ok=True)
        except OSError as error:
            raise Refused("not now", f"{OWN} cannot be made: {error.strerror}", SHUT) from error
        return None
    try:
        mode = stat.S_IMODE(target.stat().st_mode)
    except OSError as error:
        raise Refused("not now", f"the file {file.name} cannot be looked at: {error.strerror}", SHUT) from error
    if not mode & (stat.S_IWUSR | stat.S_IWGRP | stat.S_IWOTH) or not os.access(target, os.W_OK):
        raise Refused("not now", f"the file {file.name} is read-only", SHUT)
    return mode


def _read_again(file: LessonFile) -> tuple[bytes, str]:
    """The file and its text, with its line endings."""
    try:
        raw = file.source.read_bytes()
        return raw, raw.decode()
    except (OSError, UnicodeDecodeError) as error:
        raise Refused("not now", f"the file {file.name} cannot be read any more", "try again") from error
