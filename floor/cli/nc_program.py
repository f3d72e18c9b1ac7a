"""``floor program``: what an NC program makes the machine do; read, never run."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from floor.cli.base import CommandError, Exit, format_error, parse_path, print_error, print_json, print_text

if TYPE_CHECKING:
    Commands = argparse._SubParsersAction[argparse.ArgumentParser]

PIECE = 1 << 18
"""Bytes read at once."""


def add_program_command(commands: Commands) -> None:
    from floor.cli.help import PROGRAM

    program = commands.add_parser(
        "program",
        help="list what an NC program does: tools, offsets, depth, travel",
        epilog=PROGRAM,
        description="Read an NC program, run nothing, and list what to check.",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    program.add_argument("file", metavar="FILE", type=parse_path)
    program.add_argument(
        "--set", action="append", default=[], metavar="NAME=VALUE", dest="settings", help="how this control reads words"
    )
    program.add_argument("--json", action="store_true", help="machine-readable output")
    program.set_defaults(run=_program)


def _program(args: argparse.Namespace) -> int:
    from floor.cli.nc_settings import SettingRefused, read_settings
    from floor.cli.progress import ProgressLine
    from floor.evidence.nc.reader import read_program
    from floor.evidence.nc.report import write_program_json, write_program_text

    try:
        dialect = read_settings(args.settings)
    except SettingRefused as error:
        print_error(str(error))
        return Exit.USAGE
    line = ProgressLine(doing="reading")
    try:
        size = max(args.file.stat().st_size, 1)
        summary = read_program(
            lambda: _read_pieces(args.file),
            args.file.name,
            dialect,
            progress=lambda done: line(min(done / size, 1.0), f"{done / 1e6:.0f} MB"),
        )
    except OSError as error:
        raise CommandError(f"the program cannot be read: {format_error(error)}") from error
    finally:
        line.clear()
    if args.json:
        print_json(write_program_json(summary, summary.findings))
    else:
        print_text(write_program_text(summary, summary.findings).rstrip("\n"))
    return Exit.WRONG if summary.findings else Exit.FINE


def _read_pieces(path: Path) -> Iterator[bytes]:
    with path.open("rb") as file:
        while piece := file.read(PIECE):
            yield piece
