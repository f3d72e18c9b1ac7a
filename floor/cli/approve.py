"""``floor approve``: a lead approves the content of a checklist's file for work."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from floor.cli.acts import run_act_in_shop, sign_in
from floor.cli.base import parse_path, print_sentences
from floor.text import format_count

if TYPE_CHECKING:
    from floor.shop import Shop

    Commands = argparse._SubParsersAction[argparse.ArgumentParser]


def add_approve_command(commands: Commands, shop: argparse.ArgumentParser) -> None:
    approve = commands.add_parser(
        "approve",
        parents=[shop],
        help="approve a checklist for work (a lead)",
        description="Approve a checklist file for work on its part. Any change to the file makes it unapproved again.",
    )
    approve.add_argument("file", metavar="FILE", type=parse_path)
    approve.add_argument("--by", required=True, metavar="INITIALS", help="the lead who approves it")
    approve.set_defaults(run=_approve)


def _approve(args: argparse.Namespace) -> int:
    return run_act_in_shop(args, lambda shop: _approve_file(shop, args.file, args.by))


def _approve_file(shop: Shop, path: Path, by: str) -> str:
    from floor.shop.checklists import read_checklist_file

    file = read_checklist_file(shop.folder, path)
    for warning in sorted(file.loaded.warnings):  # before the lead signs, as on the screen
        print_sentences(str(warning))
    lead = sign_in(shop, by)
    shop.approve_checklist(file, lead)
    assert file.loaded.checklist is not None  # refused otherwise
    part = file.loaded.checklist.part
    warned = f", {format_count(len(file.loaded.warnings), 'warning')}" if file.loaded.warnings else ""
    return f"{part.number} {part.revision} approved by {lead}: {file.name}, SHA-256 {file.digest}{warned}"
