"""``floor find``: the entries of the record that somebody looks for."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from floor.cli_base import Exit, complain, open_shop, say, say_json, whole

if TYPE_CHECKING:
    from floor.batch.history import Filter
    from floor.batch.state import Batch
    from floor.papers.found import Found
    from floor.shop import Shop

    Commands = argparse._SubParsersAction[argparse.ArgumentParser]


def parse_find(commands: Commands, shop: argparse.ArgumentParser) -> None:
    from floor.cli_help import FIND

    find = commands.add_parser(
        "find", parents=[shop], help="find entries by kind, person, load, op, station, time or words", epilog=FIND,
        description="The entries of a batch, or of all open ones, that are like everything that is asked for.",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )  # fmt: skip
    find.add_argument("batch", nargs="?", default="", metavar="BATCH", help="open or closed (default: all open ones)")
    find.add_argument("--kind", action="append", default=[], metavar="KIND", help="several with commas; see below")
    find.add_argument("--by", default="", metavar="INITIALS", help="who entered it")
    find.add_argument("--load", type=whole, metavar="N")
    find.add_argument("--op", type=whole, metavar="N")
    find.add_argument("--station", default="", metavar="NAME")
    find.add_argument("--since", default="", metavar="TIME", help="entered then or later, by the shop's clock")
    find.add_argument("--until", default="", metavar="TIME", help="entered then or earlier")
    find.add_argument("--text", default="", metavar="WORDS", help="among what a person typed or chose, in any case")
    struck = find.add_mutually_exclusive_group()
    struck.add_argument("--struck", action="store_true", default=None, help="only what was struck out")
    struck.add_argument("--not-struck", action="store_false", dest="struck", help="only what was not struck out")
    form = find.add_mutually_exclusive_group()
    form.add_argument("--json", action="store_true", help="for a program")
    form.add_argument("--csv", action="store_true", help="as a table")
    find.set_defaults(run=_find)


def _find(args: argparse.Namespace) -> int:
    from floor.batch.commands.base import Refused
    from floor.batch.criteria import Words, need_known
    from floor.batch.query import find

    words = Words(args.kind, args.by, args.load, args.op, args.station, args.since, args.until, args.text, args.struck)
    shop = open_shop(args)
    try:
        now = shop.now()
        wanted = words.read(now.at)
        batches = [shop.batch(args.batch)] if args.batch else shop.batches
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
    from floor.papers.found import found_csv, found_json, found_text

    if args.json:
        say_json(found_json(found))
    elif args.csv:
        say(found_csv(found).rstrip("\n"))
    elif any(entries for _, entries in found):
        say(found_text(found, shop.now()))


def _nothing(wanted: Filter, batches: list[Batch]) -> str:
    if not batches:
        return "no batch is open; name a closed one to look into it"
    where = ", ".join(batch.id for batch in batches)
    return f"no entry of {where} is like this: {wanted.said()}"
