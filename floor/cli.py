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
    from collections.abc import Callable

    from floor.shop import Shop

    _Commands = argparse._SubParsersAction[argparse.ArgumentParser]


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
  floor plan                              when each batch is through, and what it hangs on
  floor plan B0007 --csv > runs.csv       its runs as a table
  floor plan part.toml --order 96 --confidence 95%
                                          before a batch exists: pieces to start, loads, stock, finish
  floor paper travelling B0007 --load 3 | lp
                                          the walk of load 3 on paper, to go on with by hand
  floor paper close-out B0007 --keep      write the report into the shop's papers/ and say where
  floor paper csv B0007 > history.csv     every entry as a table
  floor check checklists/*.toml           say everything that is wrong in these checklists
  floor schema > checklist.schema.json    JSON Schema for an editor
  floor verify                            check that nobody altered the record
  floor backup                            one verified copy of the record
  floor restore backups/record-20261125T020000Z
                                          bring that copy back; the present record is kept beside it
  floor bundle B0007 b7.floor --to "north shop" --by RK
                                          send a half-done batch over to another machine
  floor receive b7.floor --by RK          take it in there
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

    _parse_plan(commands, shop)
    _parse_paper(commands, shop)
    check = commands.add_parser("check", help="say everything that is wrong in checklist files")
    check.add_argument("files", nargs="+", metavar="FILE")
    check.set_defaults(run=_check)

    schema = commands.add_parser("schema", help="print the JSON Schema of a checklist")
    schema.set_defaults(run=_schema)

    verify = commands.add_parser("verify", parents=[shop], help="check the chain of the record")
    verify.add_argument("batches", nargs="*", metavar="BATCH", help="only these (default: all, closed ones too)")
    verify.add_argument("--head", default="", metavar="HASH", help="head hash from a paper, or its beginning")
    verify.set_defaults(run=_verify)
    _parse_keeping(commands, shop)
    return parser


def _parse_plan(commands: _Commands, shop: argparse.ArgumentParser) -> None:
    from floor.cli_help import PLAN

    plan = commands.add_parser(
        "plan", parents=[shop], help="plan the open batches, or an order before it is opened", epilog=PLAN,
        description="The plan of the shop as it stands, or of an order before there is a batch: loads, stock, shelf.",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )  # fmt: skip
    plan.add_argument("subject", nargs="?", default="", metavar="BATCH|CHECKLIST.toml", help="default: all batches")
    plan.add_argument("--order", type=int, metavar="N", help="with a checklist: good pieces ordered")
    plan.add_argument("--confidence", default="95%", metavar="P", help="chance to fill the order (default: 95%%)")
    plan.add_argument("--test", action="append", default=[], metavar="OP=N", help="good pieces used up as tests")
    form = plan.add_mutually_exclusive_group()
    form.add_argument("--json", action="store_true", help="for a program")
    form.add_argument("--csv", action="store_true", help="the runs as a table")
    plan.set_defaults(run=_plan)


def _parse_paper(commands: _Commands, shop: argparse.ArgumentParser) -> None:
    paper = commands.add_parser("paper", parents=[shop], help="write a paper of a batch, also of a closed one")
    paper.add_argument("kind", metavar="KIND", help="travelling, handover, close-out, trace, history, csv or json")
    paper.add_argument("batch", metavar="BATCH")
    paper.add_argument("--load", type=int, metavar="N", help="with travelling: this load (default: all under way)")
    paper.add_argument("--piece", type=int, metavar="N", help="with trace: the piece")
    paper.add_argument("--by", default="", metavar="INITIALS", help="with handover: who reads it; others count first")
    paper.add_argument("--keep", action="store_true", help="into papers/ of the shop's folder instead of printing it")
    paper.set_defaults(run=_paper)


def _parse_keeping(commands: _Commands, shop: argparse.ArgumentParser) -> None:
    backup = commands.add_parser("backup", parents=[shop], help="make one verified copy of the record")
    backup.add_argument("--to", metavar="DIR", type=Path, help="where the copies are (default: in the shop's folder)")
    backup.add_argument("--keep", type=int, default=14, metavar="N", help="copies kept (default: 14)")
    backup.set_defaults(run=_backup)

    restore = commands.add_parser("restore", parents=[shop], help="bring a copy back")
    restore.add_argument("copy", type=Path, metavar="COPY", help="the folder of one copy")
    restore.set_defaults(run=_restore)

    bundle = commands.add_parser("bundle", parents=[shop], help="send a half-done batch over as one file")
    bundle.add_argument("batch", metavar="BATCH")
    bundle.add_argument("file", type=Path, metavar="FILE", nargs="?", help="default: BATCH.floor in this folder")
    bundle.add_argument("--to", default="", metavar="WHERE", help="the machine or shop it goes to")
    bundle.add_argument("--by", required=True, metavar="INITIALS", help="the lead who sends it")
    bundle.add_argument("--withdraw", metavar="WHY", help="make a sent batch alive here again: it was never taken in")
    bundle.set_defaults(run=_bundle)

    receive = commands.add_parser("receive", parents=[shop], help="take in a batch that was sent over")
    receive.add_argument("file", type=Path, metavar="FILE")
    receive.add_argument("--by", required=True, metavar="INITIALS", help="who takes it in")
    receive.set_defaults(run=_receive)


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

    wanted = FloorApp(shop, who).run()
    shop.close()
    return _open_demo(_data_folder() / "demo") if wanted == "demo" else Exit.FINE


def _demo(args: argparse.Namespace) -> int:
    return _open_demo(args.shop or _data_folder() / "demo", args.keep)


def _open_demo(folder: Path, keep: bool = False) -> int:
    """Make the demo shop anew, or go on with the last one, and open it."""
    from floor.ledger import LedgerError
    from floor.shop import Shop
    from floor.shop.demo import DAY, NotADemo, clear, make_demo

    try:
        if keep and folder.is_dir():
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


def _plan(args: argparse.Namespace) -> int:
    from floor.cli_plan import Answer, Form, plan_order, plan_shop

    answer: Answer
    form: Form = "json" if args.json else "csv" if args.csv else "text"
    if args.subject.endswith(".toml"):
        answer = plan_order(args.subject, args.order, args.confidence, args.test, form, _shop_folder(args))
    else:
        shop = _open_shop(args)
        if shop is None:
            return Exit.CANNOT
        answer = plan_shop(shop, args.subject, form)
    if answer.text:
        _print(answer.text.rstrip("\n"))
    for complaint in answer.complaints:
        _complain(complaint)
    return Exit.WRONG if answer.complaints else Exit.FINE


def _paper(args: argparse.Namespace) -> int:
    from floor.batch.commands.base import Refused
    from floor.papers.choice import KINDS, Source, offer
    from floor.papers.keep import keep, named

    if args.kind not in KINDS:
        _complain(f'there is no paper "{args.kind}"; there are {", ".join(KINDS)}')
        return Exit.USAGE
    shop = _open_shop(args)
    if shop is None:
        return Exit.CANNOT
    try:
        batch = shop.batch(args.batch)
        names = {person.initials: person.name for person in shop.people.known.values()}
        source = Source(batch, shop.now(), batch.entries[-1].hash, names, args.by.strip().upper())
        chosen = offer(source, args.kind, args.load, args.piece)
        text = chosen.write()
        if args.keep:
            text = f"{keep(shop.folder, named(chosen.stem, source.now.at, chosen.ending), text)}\n"
    except (Refused, ValueError) as refused:
        _complain(str(refused))
        return Exit.WRONG
    except OSError as error:
        _complain(f"the paper was not written: {error}")
        return Exit.CANNOT
    finally:
        shop.close()
    sys.stdout.write(text)
    return Exit.FINE


def _check(args: argparse.Namespace) -> int:
    from floor.batch.said import plural
    from floor.checklist.loading import load_checklist

    wrong = 0
    for name in args.files:
        loaded = load_checklist(name)
        for problem in sorted(loaded.problems + loaded.warnings):
            _print(str(problem))
        wrong += len(loaded.problems)
        if loaded.checklist is not None and not loaded.problems:
            part, ops = loaded.checklist.part, len(loaded.checklist.operations)
            but = f", {plural(len(loaded.warnings), 'warning')}" if loaded.warnings else ""
            _print(f"{name}: {part.number} {part.revision}, {ops} operations: no problem found{but}")
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


def _kept(args: argparse.Namespace, act: Callable[[Shop], str]) -> int:
    """Do something with the shop's record and say what came of it; what is refused goes to standard error."""
    from floor.batch.commands.base import Refused
    from floor.ledger import LedgerError

    shop = _open_shop(args)
    if shop is None:
        return Exit.CANNOT
    try:
        _print(act(shop))
    except Refused as refused:
        _complain(str(refused))
        return Exit.WRONG
    except (LedgerError, OSError) as error:
        _complain(str(error))
        return Exit.CANNOT
    finally:
        shop.close()
    return Exit.FINE


def _sign(shop: Shop, initials: str) -> str:
    """Who gives the command, by pin where one is set."""
    from getpass import getpass

    known = shop.people.known.get(initials.strip().upper())
    pin = getpass(f"Pin of {known.initials}: ") if known is not None and known.has_pin else ""
    return shop.sign_in(initials, pin).initials


def _backup(args: argparse.Namespace) -> int:
    from floor.shop.keeping import make_backup

    return _kept(args, lambda shop: f"Copied and verified: {make_backup(shop, args.to, args.keep)}")


def _restore(args: argparse.Namespace) -> int:
    from floor.ledger import LedgerError
    from floor.ledger.backup import restore

    try:
        former = restore(args.copy, _shop_folder(args) / "record")
    except (LedgerError, OSError) as error:
        _complain(str(error))
        return Exit.CANNOT
    _print(f"Brought back {args.copy}." + (f" What was there before is in {former}." if former else ""))
    return Exit.FINE


def _bundle(args: argparse.Namespace) -> int:
    from floor.batch.commands.moving import TakeIn
    from floor.shop.keeping import send_over

    def act(shop: Shop) -> str:
        by = _sign(shop, args.by)
        if args.withdraw:
            shop.do(args.batch, TakeIn(args.withdraw, withdrawn=True), by)
            return f"{args.batch} is alive here again."
        file = args.file or Path(f"{args.batch}.floor")
        send_over(shop, args.batch, file, args.to, by)
        return f"{args.batch} is in {file} and takes no more work here. Take it in with: floor receive {file.name}"

    return _kept(args, act)


def _receive(args: argparse.Namespace) -> int:
    from floor.shop.keeping import take_in

    return _kept(args, lambda shop: f"{take_in(shop, args.file, _sign(shop, args.by))} is alive here now.")


if __name__ == "__main__":
    sys.exit(main())
