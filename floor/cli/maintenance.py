"""The commands that keep the record safe or move a batch: verify, backup, restore, recover, bundle, receive."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from floor.cli.acts import ask_agreement, ask_pin, run_act, run_act_in_shop, sign_in
from floor.cli.base import (
    CommandError,
    Exit,
    find_shop_folder,
    parse_path,
    parse_whole_number,
    print_error,
    print_sentences,
    print_text,
    require_record,
)

if TYPE_CHECKING:
    from floor.entry import Moment
    from floor.shop import Shop
    from floor.shop.maintenance import Authority, BundleReview, NewerHere

    Commands = argparse._SubParsersAction[argparse.ArgumentParser]


def add_maintenance_commands(commands: Commands, shop: argparse.ArgumentParser) -> None:
    verify = commands.add_parser("verify", parents=[shop], help="check that the record is whole and unaltered")
    verify.add_argument("batches", nargs="*", metavar="BATCH", help="only these (default: all, closed ones too)")
    verify.add_argument("--head", default="", metavar="HASH", help="head hash from a paper, or its first digits")
    verify.set_defaults(run=_verify)

    backup = commands.add_parser("backup", parents=[shop], help="make one verified copy of the record")
    backup.add_argument(
        "--to", metavar="DIR", type=parse_path, help="where the copies are (default: in the shop's folder)"
    )
    backup.add_argument("--keep", type=parse_whole_number, default=14, metavar="N", help="copies kept (default: 14)")
    backup.set_defaults(run=_backup)

    restore = commands.add_parser("restore", parents=[shop], help="bring a copy of the whole record back")
    restore.add_argument("copy", type=parse_path, metavar="COPY", help="the folder of one copy")
    restore.add_argument("--by", default="", metavar="INITIALS", help="the lead who decides it")
    restore.add_argument("--other-shop", action="store_true", help="even if the copy is of another shop")
    restore.add_argument(
        "--yes", action="store_true", help="give up what is newer here unasked; a PIN is still asked for"
    )
    restore.set_defaults(run=_restore)

    recover = commands.add_parser("recover", parents=[shop], help="bring back what is missing of one record")
    recover.add_argument("batch", metavar="BATCH", help="the batch, or shop for the people")
    recover.add_argument("--without", action="store_true", help="go on without what is missing")
    recover.add_argument("--by", default="", metavar="INITIALS", help="the lead who decides it")
    recover.set_defaults(run=_recover)

    bundle = commands.add_parser("bundle", parents=[shop], help="send a half-done batch over as one file")
    bundle.add_argument("batch", metavar="BATCH")
    bundle.add_argument("file", type=parse_path, metavar="FILE", nargs="?", help="default: BATCH.floor in this folder")
    bundle.add_argument("--to", default="", metavar="WHERE", help="the machine or shop it goes to")
    bundle.add_argument("--by", required=True, metavar="INITIALS", help="the lead who sends it")
    bundle.add_argument("--withdraw", metavar="WHY", help="make a sent batch active here again: it was never taken in")
    bundle.set_defaults(run=_bundle)

    receive = commands.add_parser("receive", parents=[shop], help="take in a batch that was sent over")
    receive.add_argument("file", type=parse_path, metavar="FILE")
    receive.add_argument("--by", required=True, metavar="INITIALS", help="the lead who takes it in")
    receive.add_argument("--instead", action="store_true", help="in place of a copy here that has gone on otherwise")
    receive.add_argument("--yes", action="store_true", help="take it in unasked; a PIN is still asked for")
    receive.set_defaults(run=_receive)


def _verify(args: argparse.Namespace) -> int:
    from floor.ledger import JournalFolder, LedgerError
    from floor.ledger.recover_from_copies import describe_lost_journal
    from floor.ledger.verify import describe_missing_end, verify_bytes
    from floor.shop.maintenance import compare_with_copies, describe_put_aside
    from floor.shop.open_batches import COPIES

    folder = find_shop_folder(args)
    require_record(folder)
    wrong = 0
    try:
        journals = JournalFolder(folder / "record", copies=folder / COPIES)
    except LedgerError as error:
        print_error(str(error))
        return Exit.CANNOT
    lost, lost_closed = journals.lost(), journals.lost_closed()
    there = sorted([*journals.names(), *lost]) + sorted([*journals.closed_names(), *lost_closed])
    for name in args.batches or there:
        try:
            if name in lost or name in lost_closed:
                said, sound = describe_lost_journal(journals.place(name), journals.copies), False
            else:
                text = journals.text(name)
                verdict = verify_bytes(text.place.stem, text.raw, args.head)
                said, sound = verdict.sentence, verdict.sound
                if verdict.fault is None or verdict.fault.kind == "cut off":
                    short = describe_missing_end(journals, text)
                    said, sound = (f"{name}: {short}", False) if short else (said, sound)
                if sound and (aside := describe_put_aside(journals, text)):  # one cut short may have been closed
                    said, sound = f"{said} {aside}", False
        except LedgerError as error:
            said, sound = f"{name}: {error}", False
        print_sentences(said)
        wrong += not sound
    if not args.batches:
        for said in compare_with_copies(journals):
            print_sentences(said)
            wrong += 1
    return Exit.WRONG if wrong else Exit.FINE


def _backup(args: argparse.Namespace) -> int:
    from floor.shop.maintenance import make_backup

    return run_act_in_shop(args, lambda shop: f"Copied and verified: {make_backup(shop, args.to, args.keep)}")


def _restore(args: argparse.Namespace) -> int:
    from floor.shop.clock import read_clock
    from floor.shop.maintenance import find_authority, list_newer_here, require_restorable, restore_copy

    folder, now = find_shop_folder(args), read_clock()

    def act() -> str:
        require_restorable(folder, args.copy, other_shop=args.other_shop)
        by = _lead(folder, find_authority(folder, args.copy), args.by, now)
        newer = list_newer_here(folder, args.copy)
        if newer:
            print_text(_say_newer(newer, args.copy))
            if not args.yes and not ask_agreement("Restore the copy anyway? Type restore: ", ("restore",)):
                return "Nothing was brought back."
        former = restore_copy(folder, args.copy, by, now)
        return f"Brought back {args.copy}." + (f" What was there before is in {former}." if former else "")

    return run_act(act)


def _say_newer(newer: Sequence[NewerHere], copy: Path) -> str:
    """What the record would lose: by batch, how many entries and until when."""
    lines = [f"Newer here than in {copy}:"]
    for one in newer:
        count = "1 entry" if one.entries == 1 else f"{one.entries} entries"
        missing = "" if one.in_copy else "; not in the copy"
        lines.append(f"  {one.name:6} {count}, the last {one.last:%Y-%m-%d %H:%M}{missing}")
    return "\n".join([*lines, "These entries stay on disk beside the record, but no screen will show them."])


def _lead(folder: Path, known: Authority | None, by: str, now: Moment) -> str:
    """The lead who decides on a record that may be unfit to open, with PIN if one is known."""
    from floor.shop.maintenance import authorize_lead

    person = known.people.known.get(by.strip().upper()) if known is not None else None
    pin = ask_pin(person.initials) if person is not None and person.has_pin else ""
    return authorize_lead(folder, known, by, pin, now)


def _recover(args: argparse.Namespace) -> int:
    from floor.ledger.copies import SHOP_JOURNAL
    from floor.shop.clock import read_clock
    from floor.shop.maintenance import find_authority, recover_batch, recover_people

    if args.batch != SHOP_JOURNAL:
        return run_act_in_shop(
            args, lambda shop: recover_batch(shop, args.batch, sign_in(shop, args.by), without=args.without)
        )
    folder, now = find_shop_folder(args), read_clock()
    require_record(folder)
    return run_act(
        lambda: recover_people(folder, _lead(folder, find_authority(folder), args.by, now), now, without=args.without)
    )


def _bundle(args: argparse.Namespace) -> int:
    from floor.batch.lifecycle.transfer import TakeInBatch
    from floor.shop.maintenance import send_batch

    def act(shop: Shop) -> str:
        by = sign_in(shop, args.by)
        if args.withdraw:
            shop.do(args.batch, TakeInBatch(args.withdraw, withdrawn=True, name=args.batch), by)
            return f"{args.batch} is active here again."
        file = args.file or Path(f"{args.batch}.floor")
        before = send_batch(shop, args.batch, file, args.to, by)
        said = f"{args.batch} is in {file}; read-only here. Take it in with: floor receive {file.name}"
        if before:
            said += f" A bundle of it went to {before} before, and this is the same: take in only one of them."
        return said + (" --to is as it was." if before and args.to not in ("", before) else "")

    return run_act_in_shop(args, act)


def _receive(args: argparse.Namespace) -> int:
    from floor.ledger import LedgerError
    from floor.shop.maintenance import receive_batch, review_bundle

    def act(shop: Shop) -> str:
        try:
            offer = review_bundle(shop, args.file)
        except LedgerError as error:  # of the file that was named, not of the shop
            raise CommandError(str(error), Exit.WRONG) from error
        print_text(_offered(offer))
        by = sign_in(shop, args.by)
        if not args.yes and not ask_agreement("Take it in? Type yes: "):
            return "Nothing was taken in."
        taken = receive_batch(shop, offer, by, instead=args.instead)
        other = (
            f" It was {taken.sent_as} where it came from; that name is another batch's here."
            if (taken.sent_as != taken.name)
            else ""
        )
        kept = f" The copy that was here is kept in {taken.kept}." if taken.kept else ""
        return f"{taken.name} is active here now.{other}{kept}"

    return run_act_in_shop(args, act)


def _offered(offer: BundleReview) -> str:
    """What a bundle contains, and in whose name."""
    whole = f"goes on from {offer.here} here" if offer.here else "is new here"
    lines = [f"{offer.path}: {offer.sent_as}, {offer.part}, {whole}. Entered elsewhere, and not checked here:"]
    for actor in offer.actors:
        count = "1 entry" if actor.entries == 1 else f"{actor.entries} entries"
        pin = "; has a PIN here that was not asked for there" if actor.pin_here else ""
        lines.append(f"  {actor.initials:4} {count}, the last {actor.last:%Y-%m-%d %H:%M}{pin}")
    return "\n".join(lines)
