"""What all commands of the command line share: the exit status, what is printed where, which shop is meant."""

from __future__ import annotations

import argparse
import errno
import gc
import json
import os
import re
import sys
from enum import IntEnum
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from floor.shop import Shop


STEERING = re.compile(r"(?!\r\n)[\x00-\x08\x0b-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069]")


class Exit(IntEnum):
    """What the exit status says."""

    FINE = 0
    WRONG = 1
    """What was checked is not right: a checklist with problems, an altered record."""
    USAGE = 2
    """The command line cannot be understood (argparse's own number)."""
    CANNOT = 3
    """The shop cannot be opened or written to."""
    FAULT = 4
    """The program on screen ended by a fault of its own."""


class CommandError(Exception):
    """Why a command cannot be carried out, as a sentence."""


class OutputError(Exception):
    """Standard output takes no more."""


def collect_garbage_seldom() -> None:
    """Collect garbage seldom: the plan of a large order is a million objects, none of them garbage."""
    gc.set_threshold(20_000, 50, 50)


def prepare_standard_streams() -> None:
    """Make sure that the three standard streams are there, and that no letter is too much for them.

    Where one was closed by who started the program, the next file opened, such as the record, would get its number and
    all that is printed. And where the terminal knows fewer letters than Floor uses, a question mark stands for one.
    """
    for number in (0, 1, 2):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, os.O_RDWR)  # the lowest free number, which is this one
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")


def escape_controls(text: str) -> str:
    """Text with what would steer a terminal, or turn its letters round, written out: ``\\u001b`` for Escape.

    Lines and tabs stay. In JSON, where such letters stand in strings alone, it says the same.
    """
    return STEERING.sub(lambda found: f"\\u{ord(found[0]):04x}", text)


def parse_whole_number(text: str) -> int:
    """Read a whole number given on the command line."""
    try:
        return int(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f'"{text}" is not a whole number. Write it in digits, like 60') from None


def print_text(text: str) -> None:
    """Print to standard output, `escape_controls`. Raises `OutputError`."""
    if sys.stdout is None:
        raise OutputError("it is closed")
    try:
        sys.stdout.write(
            escape_controls(text + "\n")
        )  # together: the last row of a table may end with a carriage return
        sys.stdout.flush()
    except BrokenPipeError:
        raise
    except OSError as error:
        raise OutputError(error.strerror) from error


def print_json(text: str) -> None:
    """The same with JSON, written in plain ASCII where standard output cannot hold it otherwise."""
    try:
        text.encode(getattr(sys.stdout, "encoding", None) or "utf-8")
    except UnicodeEncodeError:
        text = json.dumps(json.loads(text), indent=2)
    print_text(text)


def print_error(text: str) -> None:
    """Print to standard error, `escape_controls`."""
    if sys.stderr is not None:
        sys.stderr.write(f"floor: {escape_controls(text)}\n")


def discard_output() -> None:
    """Have what is left unprinted go nowhere, so that the end of the program is not in its way."""
    if sys.stdout is not None:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def parse_path(given: str) -> Path:
    """A path of the command line; ``~`` is somebody's home also where the shell left it alone, as in ``--shop=~/x``."""
    try:
        return Path(given).expanduser()
    except RuntimeError:
        raise argparse.ArgumentTypeError(f'there is no home folder for "{given}"') from None


def get_data_folder() -> Path:
    from platformdirs import user_data_path

    return user_data_path("floor", appauthor=False)


def find_shop_folder(args: argparse.Namespace) -> Path:
    """The folder of the shop that is meant. Raises `CommandError`."""
    given = os.environ.get("FLOOR_SHOP")
    try:
        return args.shop or (parse_path(given) if given else get_data_folder() / "shop")
    except argparse.ArgumentTypeError as error:
        raise CommandError(f"FLOOR_SHOP: {error}") from None


def format_error(error: Exception) -> str:
    """The sentence of an error; of what the system says of a file without its numbers."""
    if not isinstance(error, OSError):
        return str(error)
    if error.errno == errno.ENAMETOOLONG:
        return "the name is too long; give a shorter one"
    return f"{error.strerror}: {error.filename}" if error.strerror and error.filename else str(error)


def open_shop(args: argparse.Namespace, *, make: bool = False) -> Shop:
    """The shop of the command line.

    Args:
        make: make it where there is none. Who only looks at a shop, and mistypes its name, does not want one.

    Raises:
        Cannot
    """
    from floor.ledger import LedgerError
    from floor.shop import Shop

    folder = find_shop_folder(args)
    try:
        if not make:
            require_record(folder)
        return Shop(folder)
    except (LedgerError, OSError) as error:
        raise CommandError(f"the shop in {folder} cannot be opened: {format_error(error)}") from error


def require_record(folder: Path) -> None:
    """Raise `CommandError` where a folder is no shop."""
    if not any(os.path.isdir(folder / name) for name in ("record", ".record.restored")):
        raise CommandError(
            f"there is no record in {folder}, so it is no shop; name the shop's folder with --shop, or make a "
            "new one with: floor --shop DIR"
        )
