"""The doors: one command line for the terminal program and for what prints and ends."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence
from enum import IntEnum
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from floor.shop import Shop


class Exit(IntEnum):
    """What the exit status says."""

    FINE = 0
    WRONG = 1
    """What was checked is not right: a checklist with problems, an altered record."""
    USAGE = 2
    """The command line cannot be understood (argparse's own number)."""
    CANNOT = 3
    """The shop cannot be opened or written to."""


EXAMPLES = """examples:
  floor                                   open the shop
  floor demo                              open a demo shop with a half-done batch
  floor --shop /srv/shop                  open the shop in this folder (or set FLOOR_SHOP)
  floor status                            counts and what is next, as text
  floor status --json | jq .next[0]       the same for a program
  floor check checklists/*.toml           say everything that is wrong in these checklists
  floor schema > checklist.schema.json    JSON Schema for an editor
  floor verify                            check that nobody altered the record
"""


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; the exit status is an `Exit`."""
    args = _parser().parse_args(argv)
    try:
        return int(args.run(args))
    except BrokenPipeError:  # the reader of a pipe went away: nothing is wrong here
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return Exit.FINE
    except KeyboardInterrupt:
        return Exit.FINE


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="floor",
        description="Walk an operator through every station of a multi-operation batch.",
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.set_defaults(run=_open)
    shop = argparse.ArgumentParser(add_help=False)
    shop.add_argument("--shop", metavar="DIR", type=Path, default=argparse.SUPPRESS, help="the shop's folder")
    parser.add_argument("--shop", metavar="DIR", type=Path, default=None, help="the shop's folder")
    commands = parser.add_subparsers(title="commands", metavar="")

    demo = commands.add_parser("demo", parents=[shop], help="open a demo shop in a folder of its own")
    demo.add_argument("--keep", action="store_true", help="go on with the demo of last time")
    demo.set_defaults(run=_demo)

    status = commands.add_parser("status", parents=[shop], help="print counts and what is next")
    status.add_argument("--json", action="store_true", help="for a program")
    status.set_defaults(run=_status)

    check = commands.add_parser("check", help="say everything that is wrong in checklist files")
    check.add_argument("files", nargs="+", metavar="FILE")
    check.set_defaults(run=_check)

    schema = commands.add_parser("schema", help="print the JSON Schema of a checklist")
    schema.set_defaults(run=_schema)

    verify = commands.add_parser("verify", parents=[shop], help="check the chain of the record")
    verify.add_argument("batches", nargs="*", metavar="BATCH", help="only these (default: all, closed ones too)")
    verify.add_argument("--head", default="", metavar="HASH", help="head hash from a paper, or its beginning")
    verify.set_defaults(run=_verify)
    return parser


def _print(text: str) -> None:
    sys.stdout.write(text + "\n")


def _complain(text: str) -> None:
    sys.stderr.write(f"floor: {text}\n")


def _data_folder() -> Path:
    from platformdirs import user_data_path

    return user_data_path("floor", appauthor=False)


def _shop_folder(args: argparse.Namespace) -> Path:
    given = args.shop or os.environ.get("FLOOR_SHOP")
    return Path(given).expanduser() if given else _data_folder() / "shop"


def _open_shop(args: argparse.Namespace) -> Shop | None:
    """The shop of the command line, or a sentence on standard error."""
    from floor.ledger import LedgerError
    from floor.shop import Shop

    folder = _shop_folder(args)
    try:
        return Shop(folder)
    except (LedgerError, OSError) as error:
        _complain(f"the shop in {folder} cannot be opened: {error}")
        return None


def _open(args: argparse.Namespace) -> int:
    shop = _open_shop(args)
    return Exit.CANNOT if shop is None else _show(shop)


def _show(shop: Shop, who: str = "") -> int:
    if not sys.stdout.isatty():
        _complain("this is not a terminal; use floor status, or open a terminal of at least 80 x 24")
        return Exit.CANNOT
    from floor.app import FloorApp

    FloorApp(shop, who).run()
    shop.close()
    return Exit.FINE


def _demo(args: argparse.Namespace) -> int:
    from floor.ledger import LedgerError
    from floor.shop import Shop
    from floor.shop.demo import DAY, NotADemo, clear, make_demo

    folder = args.shop or _data_folder() / "demo"
    try:
        if args.keep and folder.is_dir():
            shop = Shop(folder)
        else:
            clear(folder)
            shop = make_demo(folder)
    except (NotADemo, LedgerError, OSError) as error:
        _complain(str(error))
        return Exit.CANNOT
    return _show(shop, who=DAY)


def _status(args: argparse.Namespace) -> int:
    shop = _open_shop(args)
    if shop is None:
        return Exit.CANNOT
    from floor.papers.status import status_json, status_text

    now = shop.now()
    due = shop.due(now)
    _print(status_json(shop.batches, due, now) if args.json else status_text(shop.batches, due, now))
    for trouble in shop.troubles:
        _complain(trouble)
    return Exit.FINE


def _check(args: argparse.Namespace) -> int:
    from floor.checklist.loading import load_checklist

    wrong = 0
    for name in args.files:
        loaded = load_checklist(name)
        for problem in loaded.problems:
            _print(str(problem))
        wrong += len(loaded.problems)
        if loaded.checklist is not None and not loaded.problems:
            part, ops = loaded.checklist.part, len(loaded.checklist.operations)
            _print(f"{name}: {part.number} {part.revision}, {ops} operations: no problem found")
    return Exit.WRONG if wrong else Exit.FINE


def _schema(args: argparse.Namespace) -> int:
    import json

    from floor.checklist.schema import schema

    _print(json.dumps(schema(), indent=2, ensure_ascii=False))
    return Exit.FINE


def _verify(args: argparse.Namespace) -> int:
    from floor.ledger import LedgerError, Shelf
    from floor.ledger.verify import judge_text

    folder = _shop_folder(args)
    if not (folder / "record").is_dir():
        _complain(f"there is no record in {folder}; name the shop's folder with --shop")
        return Exit.CANNOT
    wrong = 0
    try:
        shelf = Shelf(folder / "record")
        for name in args.batches or [*shelf.names(), *shelf.closed_names()]:
            path, raw = shelf.text(name)
            verdict = judge_text(path.stem, raw, args.head)
            _print(verdict.sentence)
            wrong += not verdict.sound
    except LedgerError as error:
        _complain(str(error))
        return Exit.CANNOT
    return Exit.WRONG if wrong else Exit.FINE


if __name__ == "__main__":
    sys.exit(main())
