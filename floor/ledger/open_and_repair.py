"""Open a journal whatever happened to it: repair what is safe to repair, leave anything else alone."""

from __future__ import annotations

import errno
import os
from contextlib import suppress
from pathlib import Path
from typing import Literal, NamedTuple

from floor.ledger.errors import NewerFormat, NoSuchJournal, Replaced, Unreadable
from floor.ledger.file_format import (
    CLOSING,
    FORMAT,
    JournalContent,
    TailKind,
    encode_header,
    encode_journal,
    make_padding,
    read_groups,
    read_header,
)
from floor.ledger.files import (
    Files,
    explain_os_error,
    find_free_path,
    hold_lock,
    open_file,
    translate_os_errors,
    write_whole,
)
from floor.ledger.hash_chain import ZERO
from floor.ledger.high_water_mark import has_marked_entry, read_mark, write_mark


class JournalCondition(NamedTuple):
    """How a journal was found: ``repaired`` says what was done, ``read-only`` says why and where."""

    kind: Literal["fine", "repaired", "read-only"] = "fine"
    sentence: str = ""
    place: str = ""
    remedy: Literal["", "recover"] = ""
    """Whether the sentence tells the person to recover what is missing with the command."""


class OpenedFile(NamedTuple):
    """An open file, its content, and how it was found."""

    fd: int
    reading: JournalContent
    condition: JournalCondition = JournalCondition()
    damaged: bool = False
    """Whether the file after this reading cannot be trusted."""


def open_and_repair(
    path: Path, *, closed: bool, files: Files, patience: float, copies: Path | None = None
) -> OpenedFile:
    """Open and read a journal's file; repair a torn end unless the journal is closed or read-only.

    A journal known to have gone on past the end of its file is left as it is and not written to.

    Args:
        copies: the folder of the shop's copies, checked if the journal may be incomplete.

    Raises:
        NoSuchJournal, NewerFormat, Busy, WriteFailed: the file is closed again, unchanged.
    """
    fd, denied = _open(path, closed, files)
    what = f"The record of {path.stem}"
    try:
        with translate_os_errors(f"Opening the record of {path.stem}"):
            with hold_lock(fd, what, shared=True, patience=patience):
                found = _look(fd, path, files)
                short = _cut_short(path, found, copies, check=not closed)  # under the lock, as the mark is written
            if short is not None:
                return OpenedFile(fd, found.reading, short, damaged=True)
            if closed or denied:
                return _as_found(fd, path, found, denied)
            if found.older or found.reading.end is TailKind.TORN:
                with hold_lock(fd, what, patience=patience):
                    mended = _mend(fd, path, files)
                if mended.fd == fd:
                    return mended
                files.close(fd)
                again = open_and_repair(path, closed=False, files=files, patience=patience, copies=copies)
                return again._replace(condition=mended.condition)
            if read_mark(path) is None and found.reading.end is TailKind.WHOLE and not found.wrong:
                advance_mark(path, found.reading)
            with suppress(OSError):  # a disk that does not sync will report it at the first entry
                files.sync(fd)  # do not show what a killed terminal wrote before it is on the disk
            return _as_found(fd, path, found)
    except BaseException:
        with suppress(OSError):
            files.close(fd)
        raise


def cut_torn_tail(files: Files, fd: int, path: Path, reading: JournalContent, known: int = 0) -> JournalCondition:
    """With the lock held: save the bytes of a torn commit beside the journal, and remove them from it.

    Args:
        known: entries before the reading.
    """
    last = reading.entries[-1].seq if reading.entries else known
    nowhere = f"Neither its note nor a copy knows of anything after entry {last}."
    if len(reading.rest) <= len(CLOSING):
        said = f"The closing braces of the record of {path.stem} were not whole and were written again. {nowhere}"
    else:
        spare = find_free_path(path, "torn")
        write_whole(files, spare, reading.rest)
        said = (
            f"The last line of the record of {path.stem} was not whole, as a power cut leaves one that was never "
            f"acknowledged. It was taken out; its {len(reading.rest)} bytes are kept in {spare.name}. {nowhere}"
        )
    size = os.fstat(fd).st_size
    files.write(fd, CLOSING + make_padding(size - reading.stop - len(CLOSING)), reading.stop)
    files.sync(fd)
    return JournalCondition("repaired", said)


def make_damaged_condition(name: str, reading: JournalContent, known: int) -> JournalCondition:
    """Read-only from the place after the `known` sound entries."""
    place = f"entry {known + 1}, at byte {reading.stop + 1}"
    return JournalCondition(
        "read-only",
        (
            f"The record of {name} is damaged at {place}. The {known} entries before it are sound and can be read; "
            f"nothing more is written to it. Bring it back from a copy with floor recover {name} --by INITIALS, or "
            "receive the batch from another machine."
        ),
        place,
        "recover",
    )


def advance_mark(path: Path, reading: JournalContent) -> None:
    """Mark that the journal goes this far."""
    write_mark(path, len(reading.entries), reading.entries[-1].hash if reading.entries else ZERO)


def _cut_short(path: Path, found: _Found, copies: Path | None, check: bool) -> JournalCondition | None:
    """Read-only if the journal is known to have gone on further; changes nothing.

    Args:
        check: check the copies too if there is no mark.
    """
    reading, mark = found.reading, read_mark(path)
    if found.wrong or reading.end is TailKind.DAMAGED or (mark is None and not check):
        return None
    if mark is not None and has_marked_entry(mark, reading.entries) and reading.end is TailKind.WHOLE:
        return None
    from floor.ledger.recover_from_copies import find_shortfall  # only if something may be missing

    short = find_shortfall(path, reading, mark, copies)
    return JournalCondition("read-only", short.sentence, f"entry {short.seq}", "recover") if short else None


def _open(path: Path, closed: bool, files: Files) -> tuple[int, str]:
    try:
        if closed:
            return open_file(files, path, os.O_RDONLY, path.stem), ""
        try:
            return open_file(files, path, os.O_RDWR, path.stem), ""
        except Unreadable as error:
            cause = error.__cause__
            if not isinstance(cause, OSError) or cause.errno not in (errno.EACCES, errno.EPERM, errno.EROFS):
                raise
            return open_file(files, path, os.O_RDONLY, path.stem), explain_os_error(cause, path.parent)
    except FileNotFoundError:
        raise NoSuchJournal(f"There is no record of {path.stem} in {path.parent}.") from None


class _Found(NamedTuple):
    """A file's content; whether it is sound with another layout; what is wrong with it beyond single lines."""

    reading: JournalContent
    older: bool = False
    wrong: str = ""


def _as_found(fd: int, path: Path, found: _Found, denied: str = "") -> OpenedFile:
    if found.wrong:
        said = f"The record of {path.stem} is not as Floor wrote it. {found.wrong} Nothing more is written to it."
        return OpenedFile(fd, found.reading, JournalCondition("read-only", said, "the first line"), damaged=True)
    if found.reading.end is TailKind.DAMAGED:
        return OpenedFile(
            fd,
            found.reading,
            make_damaged_condition(path.stem, found.reading, len(found.reading.entries)),
            damaged=True,
        )
    if denied:
        said = f"The record of {path.stem} can be read but not written to: {denied}"
        return OpenedFile(fd, found.reading, JournalCondition("read-only", said))
    return OpenedFile(fd, found.reading)


def _look(fd: int, path: Path, files: Files) -> _Found:
    """Read the whole file."""
    raw = files.read(fd, os.fstat(fd).st_size, 0)
    found_header = read_header(raw)
    if found_header is None:
        from floor.ledger.diagnosis import diagnose  # rarely needed

        found = diagnose(raw)
        about, reading, wrong = found.about, JournalContent(found.entries), found.fault.sentence if found.fault else ""
    else:
        about, reading, wrong = found_header[0], read_groups(raw, start=found_header[1]), ""
    check_format(path.stem, about)
    if about.get("book", path.stem) != path.stem:
        wrong = f"The file {path.name} says that it is the record of {about['book']}. Give it back its name."
    older = not raw.startswith(encode_header(path.stem))
    return _Found(reading, older and not wrong and reading.end is TailKind.WHOLE, wrong)


def check_format(name: str, about: dict[str, object]) -> None:
    """Refuse what a later version of Floor wrote.

    Raises:
        NewerFormat
    """
    version = about.get("format", 0)
    if not isinstance(version, int) or version > FORMAT:
        raise NewerFormat(
            f"The record of {name} has format {version}; this Floor reads {FORMAT} and older. "
            "Install the newer Floor here. Nothing was changed."
        )


def _mend(fd: int, path: Path, files: Files) -> OpenedFile:
    """With the lock held: look again (a commit under way is complete by now) and do what is safe.

    Returns: The same open file, or none (-1) if the file was rewritten.
    """
    if not os.path.samestat(os.stat(path), os.fstat(fd)):
        raise Replaced(f"The record of {path.stem} is being changed by another terminal. Open it again.")
    found = _look(fd, path, files)
    reading = found.reading
    if found.older:
        kept = find_free_path(path, "older")
        write_whole(files, kept, files.read(fd, os.fstat(fd).st_size, 0))
        write_whole(files, path, encode_journal(path.stem, reading.entries))
        return OpenedFile(
            -1,
            reading,
            JournalCondition(
                "repaired",
                (
                    f"The record of {path.stem} was laid out by an older Floor or another program. All its "
                    f"{len(reading.entries)} entries are sound and were carried forward. The old file is {kept.name}."
                ),
            ),
        )
    if reading.end is TailKind.TORN:
        return OpenedFile(fd, reading, cut_torn_tail(files, fd, path, reading))
    return _as_found(fd, path, found)
