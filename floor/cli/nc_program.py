"""``floor program``: what an NC program makes the machine do; read, never run."""

from __future__ import annotations

import argparse
from dataclasses import replace
from typing import TYPE_CHECKING

from floor.cli.base import CommandError, Exit, parse_path, print_error, print_json, print_text

if TYPE_CHECKING:
    from floor.checklist.model import Checklist
    from floor.checklist.operation import Operation

    Commands = argparse._SubParsersAction[argparse.ArgumentParser]


def add_program_command(commands: Commands) -> None:
    from floor.cli.help import PROGRAM

    program = commands.add_parser(
        "program",
        help="list what an NC program does: tools, offsets, depth, travel",
        epilog=PROGRAM,
        description="Read an NC program, never run it, and list what to check.",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    program.add_argument("file", metavar="FILE", type=parse_path)
    program.add_argument(
        "--set", action="append", default=[], metavar="NAME=VALUE", dest="settings", help="how this control reads words"
    )
    program.add_argument(
        "--checklist", metavar="FILE", type=parse_path, help="compare it with an operation of this checklist"
    )
    program.add_argument("--op", metavar="OP", type=int, help="the operation (default: the one with this program file)")
    program.add_argument(
        "--offset", metavar="G54", default="", help="work offset of the carrier in the cycle; of several: G54,G55"
    )
    program.add_argument("--json", action="store_true", help="machine-readable output")
    program.set_defaults(run=_program)


def _program(args: argparse.Namespace) -> int:
    from floor.checklist.control_settings import SettingRefused, read_control, read_settings
    from floor.checklist.expected_program import expect_program
    from floor.cli.progress import ProgressLine
    from floor.evidence.nc.against_card import find_program_faults
    from floor.evidence.nc.finding_kinds import NOTES, NOTHING_READ
    from floor.evidence.nc.reader import read_program
    from floor.evidence.nc.report import Comparison, write_program_json, write_program_text
    from floor.evidence.nc.summary import Work
    from floor.shop.program_files import iter_bytes
    from floor.shop.station_folders import measure_file

    if not args.file.name:
        raise CommandError("no program is named: give the name of its file", Exit.USAGE)
    try:
        found_in = _find_operation(args)
        dialect, compared = read_settings(args.settings), None
        if found_in is not None:
            checklist, operation = found_in
            dialect = read_control(checklist.station(operation.station).control, args.settings)
            expected = expect_program(checklist, operation, dialect, offsets=_split_offsets(args.offset))
            expected = replace(expected, file_name=args.file.name)
            compared = Comparison(f"op {operation.op} {operation.title}", expected)
    except SettingRefused as error:
        print_error(str(error))
        return Exit.USAGE
    line = ProgressLine(doing="reading")
    try:
        size = max(measure_file(args.file), 1)
        summary = read_program(
            lambda: iter_bytes(args.file),
            args.file.name,
            dialect,
            progress=lambda done: line(min(done / size, 1.0), f"{done / 1e6:.0f} MB"),
            work=compared.expected.work if compared is not None else Work(),
        )
    except OSError as error:
        raise CommandError(f"{args.file} cannot be read: {error.strerror or error}") from error
    finally:
        line.clear()
    found = summary.findings if compared is None else find_program_faults(summary, compared.expected)
    if args.json:
        print_json(write_program_json(summary, found, compared))
    else:
        print_text(write_program_text(summary, found, compared).rstrip("\n"))
    kinds = {one.kind for one in found}
    if not kinds.isdisjoint(NOTHING_READ):
        return Exit.CANNOT
    return Exit.WRONG if kinds - NOTES else Exit.FINE


def _split_offsets(text: str) -> tuple[str, ...]:
    """``G54`` and ``G54.1 P7`` of ``"g54, g54.1 p7"``."""
    return tuple(" ".join(one.upper().split()) for one in text.split(",") if one.strip())


def _find_operation(args: argparse.Namespace) -> tuple[Checklist, Operation] | None:
    """The operation that the program is for; none where no checklist is named."""
    from floor.checklist.loading import load_checklist

    if args.checklist is None:
        for name, given in (("--op", args.op is not None), ("--offset", args.offset)):
            if given:
                raise CommandError(f"{name} needs --checklist FILE", Exit.USAGE)
        return None
    loaded = load_checklist(args.checklist)
    if loaded.checklist is None and not args.checklist.is_file():
        raise CommandError(f"{args.checklist} is not a file: name the part's, such as my-part.toml")
    if loaded.checklist is None:
        wrong = f"{args.checklist} cannot be used: floor check {args.checklist} lists why"
        raise CommandError(wrong)
    ops = loaded.checklist.operations
    wanted = [one for one in ops if (one.op == args.op if args.op is not None else one.program_file == args.file.name)]
    if not wanted:
        known = ", ".join(f"{one.op} {one.program_file}".strip() for one in ops)
        asked = f"there is no op {args.op}" if args.op is not None else f"no op has the program file {args.file.name}"
        raise CommandError(f"{asked} in {args.checklist}: choose one with --op ({known})", Exit.USAGE)
    return loaded.checklist, wanted[0]
