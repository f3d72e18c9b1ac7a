"""What all commands share: exit status, where output goes, which shop is meant."""

from __future__ import annotations

import argparse
import errno
import gc
import json
import os
import re
import shutil
import sys
from enum import IntEnum
from pathlib import Path
from typing import TYPE_CHECKING, TextIO

if TYPE_CHECKING:
    from floor.shop import Shop


STEERING = re.compile(r"(?!\r\n)[\x00-\x08\x0b\x0d-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069]")


class Exit(IntEnum):
    """The exit status."""

    FINE = 0
    WRONG = 1
    """The check failed: a checklist with problems, an altered record."""
    USAGE = 2
    """The command line cannot be understood (argparse's own number)."""
    CANNOT = 3
    """The shop cannot be opened or written to, or a file not read."""
    FAULT = 4
    """The program on screen stopped on a fault of its own."""


class CommandError(Exception):
    """Why a command cannot run, as a sentence; and the exit status that says so."""

    def __init__(self, said: str, exit: Exit = Exit.CANNOT) -> None:
        super().__init__(said)
        self.exit = exit


class OutputError(Exception):
    """Standard output accepts no more."""


def collect_garbage_seldom() -> None:
    """Collect garbage rarely: the plan of a large order is a million objects, none of them garbage."""
    gc.set_threshold(20_000, 50, 50)


def prepare_standard_streams() -> None:
    """Make sure that the three standard streams exist and can print every character.

    If the caller closed one, the next file opened (the record, say) would get its number and everything printed. A
    character the terminal does not know becomes a question mark.
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
    """Text with terminal controls and direction marks written out: ``\\u001b`` for Escape.

    Line ends, tabs and new pages stay. JSON keeps its meaning, as such characters occur only in strings.
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
        )  # in one piece: the last row of a table may end with a carriage return
        sys.stdout.flush()
    except BrokenPipeError:
        raise
    except OSError as error:
        raise OutputError(error.strerror) from error


def print_json(text: str) -> None:
    """Print JSON likewise, in plain ASCII if standard output cannot encode it."""
    try:
        text.encode(getattr(sys.stdout, "encoding", None) or "utf-8")
    except UnicodeEncodeError:
        text = json.dumps(json.loads(text), indent=2)
    print_text(text)


def print_out(shop: Shop, content: bytes, tags: bool = False) -> None:
    """Give papers or tags to the printer that the shop names, and print what it says.

    Raises:
        CommandError: none is named, or it did not print.
    """
    from floor.papers.printing import NotPrinted, print_paper
    from floor.shop.load_settings import load_settings
    from floor.shop.settings import FILE, SettingsError

    try:
        settings = load_settings(shop.folder, shop.now().at)
        command = settings.print_tags if tags else settings.print
        if not command:
            raise CommandError(f'no printer is named; write print = "lp" in {shop.folder / FILE}')
        heard = print_paper(command, content)
    except (SettingsError, NotPrinted) as error:
        raise CommandError(str(error)) from error
    if heard:
        print_text(heard)


def print_error(text: str) -> None:
    """Print to standard error, `escape_controls`."""
    if sys.stderr is not None:
        sys.stderr.write(f"{_wrap_for_reader(f'floor: {escape_controls(text)}', sys.stderr)}\n")


def print_sentences(text: str) -> None:
    """Print sentences to standard output, wrapped for somebody who reads them there. Raises `OutputError`."""
    print_text(_wrap_for_reader(text, sys.stdout))


def _wrap_for_reader(text: str, stream: TextIO | None) -> str:
    """Text in lines of the terminal's width; as it is for a file, an editor or a script, where a line is a finding."""
    if stream is None or not stream.isatty():
        return text
    from floor.text import wrap_text

    width = shutil.get_terminal_size().columns
    return "\n".join(part for line in text.split("\n") for part in wrap_text(line, then="    ", width=width))


def discard_output() -> None:
    """Discard what is still unprinted, so that it does not get in the way at exit."""
    if sys.stdout is not None:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def parse_path(given: str) -> Path:
    """A path from the command line; expands ``~`` where the shell does not, as in ``--shop=~/x``."""
    try:
        return Path(given).expanduser()
    except RuntimeError:
        raise argparse.ArgumentTypeError(f'there is no home folder for "{given}"') from None


def get_data_folder() -> Path:
    from platformdirs import user_data_path

    return user_data_path("floor", appauthor=False)


def find_shop_folder(args: argparse.Namespace) -> Path:
    """The folder of the shop. Raises `CommandError`."""
    given = os.environ.get("FLOOR_SHOP")
    try:
        return args.shop or (parse_path(given) if given else get_data_folder() / "shop")
    except argparse.ArgumentTypeError as error:
        raise CommandError(f"FLOOR_SHOP: {error}") from None


def format_error(error: Exception) -> str:
    """The sentence of an error; for a system error about a file, without its number."""
    if not isinstance(error, OSError):
        return str(error)
    if error.errno == errno.ENAMETOOLONG:
        return "the name is too long; give a shorter one"
    return f"{error.strerror}: {error.filename}" if error.strerror and error.filename else str(error)


def open_shop(args: argparse.Namespace, *, make: bool = False) -> Shop:
    """The shop of the command line.

    Args:
        make: create it if missing. Somebody who only looks and mistypes the name does not want a new shop.

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


def find_demo_folder() -> Path:
    """Where `floor demo` keeps its shop."""
    return get_data_folder() / "demo"


def require_record(folder: Path) -> None:
    """Raise `CommandError` if a folder is not a shop."""
    if not any(os.path.isdir(folder / name) for name in ("record", ".record.restored")):
        demo = find_demo_folder()
        there = f" (the demo: --shop {demo})" if (demo / "record").is_dir() and demo != folder else ""
        raise CommandError(
            f"there is no record in {folder}, so it is no shop; name the shop's folder with --shop{there}, or make a "
            "new one with: floor --shop DIR"
        )
