"""``floor find``: the entries of the record that somebody looks for."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from floor.cli.base import Exit, complain, open_shop, say, say_json, whole

if TYPE_CHECKING:
    from floor.batch.search.filters import Filter
    from floor.batch.state import Batch
    from floor.papers.search_results import Found
    from floor.shop import Shop

    Commands = argparse._SubParsersAction[argparse.ArgumentParser]


def parse_find(commands: Commands, shop: argparse.ArgumentParser) -> None:
    from floor.cli.help import FIND

    find = commands.add_parser(
        "find", parents=[shop], help="find entries by kind, person, load, op, station, time or words", epilog=FIND,
        description="Find entries that match everything you ask for, in one batch or all open ones.",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )  # fmt: skip
    find.add_argument("batch", nargs="?", default="", metavar="BATCH",
                      help="the batch, open or closed; all open ones if left out")  # fmt: skip
    find.add_argument("--kind", action="append", default=[], metavar="KIND",
                      help="a kind or group below; several with commas")  # fmt: skip
    find.add_argument("--by", default="", metavar="INITIALS", help="who entered it")
    find.add_argument("--load", type=whole, metavar="N", help="load number")
    find.add_argument("--op", type=whole, metavar="N", help="op number")
    find.add_argument("--station", default="", metavar="NAME", help="name or id")
    find.add_argument("--since", default="", metavar="TIME", help="entered then or later, by the shop's clock")
    find.add_argument("--until", default="", metavar="TIME", help="entered then or earlier")
    find.add_argument("--text", default="", metavar="WORDS",
                      help="words somebody typed or chose; capitals do not matter")  # fmt: skip
    struck = find.add_mutually_exclusive_group()
    struck.add_argument("--struck", action="store_true", default=None, help="only what was struck out")
    struck.add_argument("--not-struck", action="store_false", dest="struck", help="only what was not struck out")
    form = find.add_mutually_exclusive_group()
    form.add_argument("--json", action="store_true", help="machine-readable output")
    form.add_argument("--csv", action="store_true", help="table for a spreadsheet")
    find.set_defaults(run=_find)


def _find(args: argparse.Namespace) -> int:
    from floor.batch.command import Refused
    from floor.batch.search.criteria import Words, need_known
    from floor.batch.search.query import find

    words = Words(args.kind, args.by, args.load, args.op, args.station, args.since, args.until, args.text, args.struck)
    shop = open_shop(args)
    try:
        now = shop.now()
        wanted = words.read(now.at)
        batches = [shop.batch(args.batch)] if args.batch else shop.batches
        if batches:
            need_known(wanted, batches)
        found = [(batch, find(batch, wanted)) for batch in batches]
        _print(args, shop, found)
    except Refused as refused:
        complain(str(refused))
        return Exit.USAGE if refused.why == "input" else Exit.WRONG
    finally:
        shop.close()
    for trouble in [batch.damage for batch in batches if batch.damage] if args.batch else shop.troubles:
        complain(trouble)
    if any(entries for _, entries in found):
        return Exit.FINE
    complain(_nothing(wanted, batches))
    return Exit.WRONG


def _print(args: argparse.Namespace, shop: Shop, found: Found) -> None:
    from floor.papers.search_results import found_csv, found_json, found_text

    if args.json:
        say_json(found_json(found))
    elif args.csv:
        say(found_csv(found).rstrip("\n"))
    elif any(entries for _, entries in found):
        say(found_text(found, shop.now()))


def _nothing(wanted: Filter, batches: list[Batch]) -> str:
    if not batches:
        return "no batch is open; name the closed batch to search, like floor find B0003"
    where = ", ".join(batch.id for batch in batches)
    return f"nothing in {where} matches this: {wanted.said()}"
