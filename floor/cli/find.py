"""``floor find``: search the entries of the record."""

from __future__ import annotations

import argparse
import shlex
from dataclasses import replace
from typing import TYPE_CHECKING

from floor.cli.base import Exit, open_shop, parse_whole_number, print_error, print_json, print_text

if TYPE_CHECKING:
    from floor.batch.search.history_filter import Filter
    from floor.batch.state import Batch
    from floor.papers.search_results import Found
    from floor.shop import Shop

    Commands = argparse._SubParsersAction[argparse.ArgumentParser]


def add_find_command(commands: Commands, shop: argparse.ArgumentParser) -> None:
    from floor.cli.help import FIND

    find = commands.add_parser(
        "find",
        parents=[shop],
        help="find entries by kind, person, load, op, station, time or words",
        epilog=FIND,
        description="Find entries that match everything you ask for, in one batch or all open ones.",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    find.add_argument(
        "batch", nargs="?", default="", metavar="BATCH", help="the batch, open or closed; all open ones if left out"
    )
    find.add_argument(
        "--kind", action="append", default=[], metavar="KIND", help="a kind or group below; several with commas"
    )
    find.add_argument("--by", default="", metavar="INITIALS", help="who entered it")
    find.add_argument("--load", default="", metavar="LOAD", help='load number, or its carrier as shown: "Pallet 1"')
    find.add_argument("--op", type=parse_whole_number, metavar="N", help="op number")
    find.add_argument("--station", default="", metavar="NAME", help="name or id")
    find.add_argument("--since", default="", metavar="TIME", help="entered then or later, by the shop's clock")
    find.add_argument("--until", default="", metavar="TIME", help="entered then or earlier")
    find.add_argument(
        "--text",
        default="",
        metavar="WORDS",
        help="words somebody typed or chose; where there are none, words of the history; capitals do not matter",
    )
    struck = find.add_mutually_exclusive_group()
    struck.add_argument("--struck", action="store_true", default=None, help="only what was struck out")
    struck.add_argument("--not-struck", action="store_false", dest="struck", help="only what was not struck out")
    form = find.add_mutually_exclusive_group()
    form.add_argument("--json", action="store_true", help="machine-readable output")
    form.add_argument("--csv", action="store_true", help="table for a spreadsheet")
    find.set_defaults(run=_find)


def _find(args: argparse.Namespace) -> int:
    from floor.batch.command import Refused
    from floor.batch.search.typed_criteria import TypedCriteria, need_known

    words = TypedCriteria(
        args.kind, args.by, args.load, args.op, args.station, args.since, args.until, args.text, args.struck
    )
    shop = open_shop(args)
    try:
        now = shop.now()
        wanted = words.read(now.at)
        batches = _find_batches(shop, args.batch)
        if batches:
            need_known(wanted, batches)
        found = _search(batches, wanted)
        _print(args, shop, found)
    except Refused as refused:
        print_error(str(refused))
        return Exit.USAGE if refused.why == "input" else Exit.WRONG
    finally:
        shop.close()
    for trouble in (
        [batch.damage for batch in batches if batch.damage] if args.batch else [*shop.troubles, *shop.settings_troubles]
    ):
        print_error(trouble)
    if any(entries for _, entries in found):
        return Exit.FINE
    print_error(_nothing(wanted, batches))
    return Exit.WRONG


def _find_batches(shop: Shop, name: str) -> list[Batch]:
    """The batch of that name, or all open ones; a word where the batch goes is answered with where words go."""
    from floor.batch.command import Refused

    try:
        return [shop.batch(name)] if name else shop.batches
    except Refused as refused:
        remedy = f"{refused.remedy}; to look for words, floor find --text {shlex.quote(name)}"
        raise Refused("unknown", refused.wrong, remedy) from None


def _search(batches: list[Batch], wanted: Filter) -> Found:
    """What matches. Words that nobody typed may stand in how entries read, which takes longer to look at."""
    from floor.batch.search.matching import find_matching_entries

    found = [(batch, find_matching_entries(batch, wanted)) for batch in batches]
    if not wanted.words or any(entries for _, entries in found):
        return found
    return _search(batches, replace(wanted, words="", says=wanted.words))


def _print(args: argparse.Namespace, shop: Shop, found: Found) -> None:
    from floor.papers.search_results import write_results_csv, write_results_json, write_results_text

    if args.json:
        print_json(write_results_json(found))
    elif args.csv:
        print_text(write_results_csv(found).rstrip("\n"))
    elif any(entries for _, entries in found):
        print_text(write_results_text(found, shop.now()))


def _nothing(wanted: Filter, batches: list[Batch]) -> str:
    if not batches:
        return "no batch is open; name the closed batch to search, like floor find B0003"
    where = ", ".join(batch.id for batch in batches)
    return f"nothing in {where} matches this: {wanted.said()}"
