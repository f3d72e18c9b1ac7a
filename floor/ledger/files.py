"""The file layer: every call by which the record reaches the disk, in one object, so a test can make any of them
fail."""

from __future__ import annotations

import errno
import fcntl
import os
import stat
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from floor.ledger.errors import Busy, LedgerError, Unreadable, WriteFailed

FILE_MODE = 0o640
FOLDER_MODE = 0o750

PATIENCE = 10.0
"""Seconds to wait for another terminal before reporting that it hangs. A killed one frees its lock at once."""


class Files:
    """Plain system calls. Every failure is an `OSError`; a short write continues until complete."""

    def open(self, path: Path, flags: int) -> int:
        return os.open(path, flags | os.O_CLOEXEC, FILE_MODE)

    def close(self, fd: int) -> None:
        os.close(fd)

    def read(self, fd: int, count: int, offset: int) -> bytes:
        """Read up to `count` bytes, fewer only at the end of the file."""
        parts = []
        while count > 0 and (part := os.pread(fd, count, offset)):
            parts.append(part)
            count -= len(part)
            offset += len(part)
        return parts[0] if len(parts) == 1 else b"".join(parts)

    def write(self, fd: int, data: bytes, offset: int) -> None:
        done = os.pwrite(fd, data, offset)
        while done < len(data):
            done += os.pwrite(fd, data[done:], offset + done)

    def sync(self, fd: int) -> None:
        """Return once the written bytes and the file's length are on the disk."""
        if hasattr(fcntl, "F_FULLFSYNC"):  # macOS, where fsync stops at the drive's cache
            fcntl.fcntl(fd, fcntl.F_FULLFSYNC)
        else:
            os.fdatasync(fd)

    def set_mode(self, fd: int, mode: int) -> None:
        os.fchmod(fd, mode)

    def resize(self, fd: int, size: int) -> None:
        os.ftruncate(fd, size)

    def rename(self, old: Path, new: Path) -> None:
        os.rename(old, new)

    def unlink(self, path: Path) -> None:
        os.unlink(path)

    def make_folder(self, path: Path) -> None:
        path.mkdir(mode=FOLDER_MODE, parents=True, exist_ok=True)

    def sync_folder(self, path: Path) -> None:
        """Return once the names in this folder are on the disk."""
        fd = os.open(path, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
        try:
            os.fsync(fd)
        finally:
            os.close(fd)


REAL_FILES = Files()


@contextmanager
def hold_lock(fd: int, what: str, *, shared: bool = False, patience: float = PATIENCE) -> Iterator[None]:
    """Lock a file exclusively (or, if shared, against exclusive locks).

    The kernel frees the lock when its holder dies, so a killed terminal blocks nobody.

    Raises:
        Busy: after `patience` seconds.
    """
    until = time.monotonic() + patience
    while not try_lock(fd, shared=shared):
        if time.monotonic() >= until:
            raise Busy(
                f"{what} is held by another terminal that does not answer. "
                "Close Floor there (or end it) and try again; nothing was written."
            )
        time.sleep(0.0005)
    try:
        yield
    finally:
        unlock(fd)


def try_lock(fd: int, *, shared: bool = False) -> bool:
    """Take the lock if it is free; returns whether it is now ours."""
    try:
        fcntl.flock(fd, (fcntl.LOCK_SH if shared else fcntl.LOCK_EX) | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    return True


def hold_folder_open(folder: Path) -> int | None:
    """Hold a folder as in use until the number is closed; None where it cannot be held.

    So no copy is brought back under an open terminal. The lock goes with the process, however that ends.
    """
    try:
        fd = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
    except OSError:
        return None
    try:
        held = try_lock(fd, shared=True)
    except OSError:  # a file system without locks
        held = False
    if not held:
        os.close(fd)
    return fd if held else None


def is_folder_in_use(folder: Path) -> bool:
    """Whether a terminal holds a folder (`hold_folder_open`)."""
    try:
        fd = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
    except OSError:
        return False
    try:
        return not try_lock(fd)
    except OSError:
        return False
    finally:
        os.close(fd)


def unlock(fd: int) -> None:
    """Give the lock back."""
    fcntl.flock(fd, fcntl.LOCK_UN)


def write_whole(files: Files, path: Path, data: bytes) -> None:
    """Put a file in place, all or nothing: written aside, synced, renamed, and the folder synced."""
    with write_aside(files, path, data) as aside:
        files.rename(aside, path)
    files.sync_folder(path.parent)


@contextmanager
def write_aside(files: Files, path: Path, data: bytes, mode: int | None = None) -> Iterator[Path]:
    """Write what is to be renamed to `path`, all of it on the disk; removed again if anything fails until then.

    Args:
        mode: its permissions, if not those of a new file.
    """
    aside = path.with_name(f".{path.name}.new")
    try:
        fd = files.open(aside, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
        try:
            files.write(fd, data, 0)
            if mode is not None:
                files.set_mode(fd, mode)
            files.sync(fd)
        finally:
            files.close(fd)
        yield aside
    except BaseException:
        with suppress(OSError):
            files.unlink(aside)
        raise


def read_whole(files: Files, path: Path, limit: int | None = None) -> bytes:
    """Read a file; raises `ValueError` if it is larger than `limit` bytes."""
    fd = open_regular(files, path, os.O_RDONLY)
    try:
        size = os.fstat(fd).st_size
        if limit is not None and size > limit:
            raise ValueError(size)
        return files.read(fd, size, 0)
    finally:
        files.close(fd)


def find_free_path(path: Path, word: str) -> Path:
    """A free name beside `path` for something to keep: ``B0007.json.torn-1``."""
    number = 1
    while (spare := path.with_name(f"{path.name}.{word}-{number}")).exists():
        number += 1
    return spare


def open_file(files: Files, path: Path, flags: int, name: str) -> int:
    """Open a journal's file. It must be a regular file: a pipe would block, a folder cannot be read.

    Raises:
        Unreadable, FileNotFoundError
    """
    try:
        return open_regular(files, path, flags)
    except FileNotFoundError:
        raise
    except OSError as error:
        why = f"{error.strerror}. Look what became of it"
        if error.errno in (errno.EACCES, errno.EPERM):
            why = "this user may not read it. Ask whoever looks after this machine"
        elif error.errno in (errno.EISDIR, errno.EINVAL):
            why = "it is not a file. Move it away"
        raise Unreadable(f"The record of {name} cannot be read, {path}: {why}.") from error


def open_regular(files: Files, path: Path, flags: int) -> int:
    """Open a regular file only: a pipe would block, a device never end. Raises `OSError`."""
    fd = files.open(path, flags | os.O_NONBLOCK)
    mode = os.fstat(fd).st_mode
    if not stat.S_ISREG(mode):
        files.close(fd)
        found = errno.EISDIR if stat.S_ISDIR(mode) else errno.EINVAL
        raise OSError(found, os.strerror(found))
    return fd


@contextmanager
def translate_os_errors(doing: str, folder: Path | None = None) -> Iterator[None]:
    """Turn an `OSError` into a `WriteFailed` that says what to do.

    Args:
        folder: the one written to, where the system names no file with its error.
    """
    try:
        yield
    except LedgerError:
        raise
    except OSError as error:
        raise WriteFailed(f"{doing} did not work: {explain_os_error(error, folder)}") from error


def explain_os_error(error: OSError, folder: Path | None = None) -> str:
    """What a system error means for the person, and what to do about it."""
    if error.errno in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG):
        return "the disk is full. Free some space and enter it again."
    if error.errno in (errno.EACCES, errno.EPERM, errno.EROFS):
        where = Path(os.fsdecode(error.filename)).parent if isinstance(error.filename, str | bytes) else folder
        named = f"the folder {where}" if where is not None else "the record folder"
        return f"{named} may not be written to. Ask whoever looks after this machine for the right to write."
    if error.errno == errno.EIO:
        return "the disk reported an error. Try again; if it happens twice, make a backup and change the disk."
    return f"{error.strerror or error}. Try again; if it happens twice, ask whoever looks after this machine."
