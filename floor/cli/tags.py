"""``floor tag``: tags with codes for scanners, as text, pictures or to the label printer."""

from __future__ import annotations

import argparse
import sys
from typing import TYPE_CHECKING, get_args

from floor.batch.tag import TagKind
from floor.cli.base import (
    CommandError,
    Exit,
    OutputError,
    open_shop,
    parse_whole_number,
    print_error,
    print_out,
    print_text,
)

if TYPE_CHECKING:
    from floor.batch.state import Batch
    from floor.papers.tags import TagLabel
    from floor.shop import Shop

    Commands = argparse._SubParsersAction[argparse.ArgumentParser]

KINDS: tuple[TagKind, ...] = get_args(TagKind)

NOTHING_YET: dict[TagKind, str] = {
    "carrier": "open a batch first (a)",
    "load": "load its pieces first",
    "box": "open a batch first (a)",
    "tool": "open a batch first (a)",
    "person": "enter people in the shop first (c)",
    "lot": "record one on a walk first",
    "gauge": "enter it in the register first (c)",
}
"""What makes the first of a kind, with its key on the screen."""
MOST_NAMED = 12
"""Names that an error lists."""


def add_tag_command(commands: Commands, shop: argparse.ArgumentParser) -> None:
    from floor.cli.help import TAG

    tag = commands.add_parser(
        "tag",
        parents=[shop],
        help="tags for a scanner: pallets, loads, boxes, tools, people, lots, gauges",
        epilog=TAG,
        description="Print tags with a code that a scanner types anywhere in Floor to go there.",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    tag.add_argument("kind", metavar="KIND", choices=KINDS, help=", ".join(KINDS))
    tag.add_argument("names", nargs="*", metavar="NAME", help="which (default: all that are known)")
    tag.add_argument("--code", choices=("qr", "128"), default="qr", help="QR code, or Code 128 bars for a laser")
    tag.add_argument("--as", dest="form", choices=("text", "svg", "png"), default="text", help="default: text")
    tag.add_argument("--pieces", type=parse_whole_number, metavar="N", help="with box: pieces in it")
    tag.add_argument("--box", default="", metavar="N", help="with box: its number")
    there = tag.add_mutually_exclusive_group()
    there.add_argument("--keep", action="store_true", help="as SVG and PNG into papers/ of the shop's folder")
    there.add_argument("--print", action="store_true", help="to the printer in shop.toml (print_tags, else print)")
    tag.set_defaults(run=_tag)


def _tag(args: argparse.Namespace) -> int:
    from floor.batch.command import Refused

    if args.code == "128" and args.form == "text" and not (args.keep or args.print):
        print_error("bars do not fit in text; add --as svg, --as png, --keep or --print")
        return Exit.USAGE
    shop = open_shop(args)
    try:
        labels = _find(args, shop)
        if not labels:
            print_error(_say_none(args, shop))
            return Exit.WRONG
        _give(args, shop, labels)
    except (Refused, ValueError) as refused:
        print_error(str(refused))
        return Exit.WRONG
    except OSError as error:
        raise CommandError(f"the tag was not written: {error}") from error
    finally:
        shop.close()
    return Exit.FINE


def _say_none(args: argparse.Namespace, shop: Shop) -> str:
    """That nothing has this name, and which names there are: of a tool its station and number, not the number alone."""
    said = f"there is no {' '.join([args.kind, *args.names])}"
    kept = 1 if args.kind in ("load", "box") else 0
    others = _find(argparse.Namespace(**vars(args) | {"names": args.names[:kept]}), shop) if args.names else []
    known = [" ".join(one.names[kept:]) for one in others[:MOST_NAMED]]
    more = f" and {len(others) - len(known)} more" if len(others) > len(known) else ""
    return f"{said}; there are: {', '.join(known)}{more}" if known else f"{said} yet: {NOTHING_YET[args.kind]}"


def _require_in_box(batch: Batch, pieces: int | None) -> int | None:
    """How many pieces a box is said to hold. Raises `ValueError`: more than are finished, or none."""
    finished = batch.total("finished")
    if pieces is not None and not 1 <= pieces <= finished:
        holds = f"1 to {finished} finished pieces" if finished else "no finished piece yet"
        raise ValueError(f"a box of {batch.id} holds {holds}, not {pieces}")
    return pieces


def _find(args: argparse.Namespace, shop: Shop) -> list[TagLabel]:
    """The tags asked for.

    Raises:
        Refused, ValueError: no such batch, or none named.
    """
    from floor.papers import tags

    kind: TagKind = args.kind
    if kind in ("load", "box"):
        if not args.names:
            raise ValueError(f"name the batch of the {kind}, as floor tag {kind} B0007")
        batch = shop.batch(args.names[0])
        pieces = _require_in_box(batch, args.pieces) if kind == "box" else None
        found = tags.list_load_labels(batch) if kind == "load" else [tags.label_box(batch, pieces, args.box)]
        return tags.find_labels(found, [batch.id, *args.names[1:]])
    owner = shop.first_hash
    if kind == "carrier":
        asked = [" ".join(args.names)] if args.names else []
        return tags.find_labels(tags.list_carrier_labels(shop.batches, owner), asked)
    if kind == "station":
        found = tags.list_station_labels(shop.batches, owner)
    elif kind == "tool":
        found = tags.list_tool_labels(shop.batches, owner)
    elif kind == "lot":
        found = tags.list_lot_labels(shop.batches, owner)
    elif kind == "gauge":
        found = tags.list_gauge_labels(shop.people.gauges.values(), owner)
    else:
        found = tags.list_person_labels({one.initials: one.name for one in shop.people.active}, owner)
    return tags.find_labels(found, args.names)


def _give(args: argparse.Namespace, shop: Shop, labels: list[TagLabel]) -> None:
    """Save, print or write out the tags."""
    from floor.papers.save import save_tag

    if args.keep:
        paths = [path for label in labels for path in save_tag(shop.folder, label, args.code)]
        print_text("\n".join(map(str, paths)))
    elif args.print:
        for label in labels:
            print_out(shop, label.draw_png(args.code), tags=True)
    elif args.form == "text":
        print_text(_write_text(labels))
    elif len(labels) > 1:
        raise ValueError(f"{len(labels)} tags are not one picture; name one, or add --keep")
    elif args.form == "svg":
        print_text(labels[0].draw_svg(args.code).rstrip("\n"))
    else:
        _write_png(labels[0].draw_png(args.code))


def _write_text(labels: list[TagLabel]) -> str:
    """Pages with form feeds between them; in ASCII where standard output has no half blocks."""
    from floor.papers.catalog import NEW_PAGE
    from floor.papers.tag_codes import draw_ascii, draw_half_blocks
    from floor.papers.tags import write_tags

    try:
        "█▀▄".encode(getattr(sys.stdout, "encoding", None) or "utf-8")
        draw = draw_half_blocks
    except UnicodeEncodeError:
        draw = draw_ascii
    return NEW_PAGE.join(write_tags(labels, draw)).rstrip("\n")


def _write_png(content: bytes) -> None:
    if sys.stdout is None or sys.stdout.isatty():
        raise ValueError("a picture is not for a terminal; add > tag.png, or --keep")
    try:
        sys.stdout.buffer.write(content)
        sys.stdout.flush()
    except BrokenPipeError:
        raise
    except OSError as error:
        raise OutputError(error.strerror) from error
