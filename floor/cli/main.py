"""The command line: starts the terminal program, or prints and exits."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence
from contextlib import ExitStack, suppress
from pathlib import Path
from typing import TYPE_CHECKING

from floor.cli.base import (
    CommandError,
    Exit,
    OutputError,
    collect_garbage_seldom,
    discard_output,
    find_demo_folder,
    find_shop_folder,
    format_error,
    get_data_folder,
    open_shop,
    parse_path,
    parse_whole_number,
    prepare_standard_streams,
    print_error,
    print_json,
    print_out,
    print_sentences,
    print_text,
)

if TYPE_CHECKING:
    from floor.batch.state import Batch
    from floor.entry import Moment
    from floor.papers.catalog import PaperOffer, PaperSource
    from floor.papers.earlier_batches import EarlierReport
    from floor.screens.frame.tour import Tour
    from floor.shop import Shop

    _Commands = argparse._SubParsersAction[argparse.ArgumentParser]


COLORS = "colors"
"""File in the user's own folder: which colors they chose last."""
EXAMPLES = """examples:
  floor                               open the shop
  floor demo                          open a demo shop, a half-done batch in it
  floor --shop /srv/shop              open the shop in this folder
                                      (or set FLOOR_SHOP)
  floor status                        counts and what is next, as text
  floor status --json | jq .next[0]   the same, machine-readable
  floor plan                          finish and bottleneck of each batch
  floor plan B0007 --csv > runs.csv   its runs as a table
  floor plan --what-if "saturday, 2 more pallets"
                                      what that would gain, each and together
  floor plan part.toml --order 96 --confidence 95%
                                      before a batch exists: pieces to start,
                                      loads, stock, finish
  floor paper traveler B0007 --load 3 | lp
                                      the walk of load 3, to work from on paper
  floor paper close-out B0007 --keep  write the report into the shop's papers/
  floor paper csv B0007 > history.csv every entry as a table
  floor tag carrier --print           tags for a scanner, on the label printer
  floor find B0007 --by RK --since yesterday
                                      what RK entered since yesterday
  floor figures B0007 --json          losses, values, key figures and times
  floor lessons B0007                 what it taught, as lines for the checklist
  floor trial B0007                   what was tried, settings side by side
  floor check checklists/*.toml       list all errors in these checklists
  floor approve part.toml --by RK     a lead approves it for work
  floor program O1234.nc              what an NC program does, before the cycle
  floor schema > checklist.schema.json
                                      JSON Schema for an editor
  floor gauges                        the register of gauges, next due first
  floor verify                        check that nobody altered the record
  floor backup                        one verified copy of the record
  floor recover B0007 --by RK         bring back what a record cut short lacks
  floor restore backups/record-20261125T020000Z --by RK
                                      bring that copy back; the present record
                                      is kept beside it
  floor bundle B0007 b7.floor --to "north shop" --by RK
                                      send a half-done batch to another machine
  floor receive b7.floor --by RK      take it in there
"""


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; the exit status is an `Exit`."""
    prepare_standard_streams()
    collect_garbage_seldom()
    args = _parse(sys.argv[1:] if argv is None else argv)
    try:
        return int(args.run(args))
    except BrokenPipeError:  # the reader of the pipe went away: no fault
        discard_output()
        return Exit.FINE
    except KeyboardInterrupt:
        return Exit.FINE
    except OutputError as error:
        discard_output()
        print_error(f"standard output cannot be written to: {error}")
        return Exit.CANNOT
    except EOFError:
        print_error("a PIN is needed, and there is nobody to ask; give the command at a terminal")
        return Exit.CANNOT
    except CommandError as error:
        print_error(str(error))
        return error.exit


def _parse(words: Sequence[str]) -> argparse.Namespace:
    """What is asked for. Just opening a shop needs no parser of all commands, which takes 20 ms."""
    if not words or (len(words) == 2 and words[0] == "--shop" and not words[1].startswith("-")):
        with suppress(argparse.ArgumentTypeError):
            return argparse.Namespace(run=_open, shop=parse_path(words[1]) if words else None)
    return _parser().parse_args(words)


def _parser() -> argparse.ArgumentParser:
    from floor.cli.approve import add_approve_command
    from floor.cli.figures import add_figures_command
    from floor.cli.find import add_find_command
    from floor.cli.lessons import add_lessons_command
    from floor.cli.maintenance import add_maintenance_commands
    from floor.cli.nc_program import add_program_command
    from floor.cli.serve import add_serve_command
    from floor.cli.tags import add_tag_command
    from floor.cli.trials import add_trial_command

    parser = argparse.ArgumentParser(
        prog="floor",
        description="Walk an operator through every station of a multi-operation batch.",
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.set_defaults(run=_open)
    shop = argparse.ArgumentParser(add_help=False)
    shop.add_argument("--shop", metavar="DIR", type=parse_path, default=argparse.SUPPRESS, help="the shop's folder")
    parser.add_argument("--shop", metavar="DIR", type=parse_path, default=None, help="the shop's folder")
    commands = parser.add_subparsers(title="commands", metavar="")

    demo = commands.add_parser("demo", parents=[shop], help="open a demo shop in a folder of its own")
    again = demo.add_mutually_exclusive_group()
    again.add_argument("--keep", action="store_true", help="reuse the last demo shop")
    again.add_argument("--fresh", action="store_true", help="clear it, with what was entered in it, and start over")
    demo.set_defaults(run=_demo)

    wall = commands.add_parser("wall", parents=[shop], help="a view for a screen on the wall: late, now, running")
    wall.set_defaults(run=_open_wall)

    status = commands.add_parser("status", parents=[shop], help="print counts and what is next")
    status.add_argument("--json", action="store_true", help="machine-readable output")
    status.set_defaults(run=_status)

    gauges = commands.add_parser("gauges", parents=[shop], help="list the gauges, next due first")
    gauges.add_argument("--json", action="store_true", help="machine-readable output")
    gauges.set_defaults(run=_gauges)

    _parse_plan(commands, shop)
    _parse_paper(commands, shop)
    add_tag_command(commands, shop)
    add_find_command(commands, shop)
    add_figures_command(commands, shop)
    add_lessons_command(commands, shop)
    add_trial_command(commands, shop)
    add_serve_command(commands, shop)
    check = commands.add_parser("check", help="list all errors in checklist files")
    check.add_argument("files", nargs="+", metavar="FILE")
    check.set_defaults(run=_check)

    add_approve_command(commands, shop)
    add_program_command(commands)

    schema = commands.add_parser("schema", help="print the JSON Schema of a checklist")
    schema.set_defaults(run=_schema)

    add_maintenance_commands(commands, shop)
    return parser


def _parse_plan(commands: _Commands, shop: argparse.ArgumentParser) -> None:
    from floor.cli.help import PLAN

    plan = commands.add_parser(
        "plan",
        parents=[shop],
        help="plan the open batches, or an order before it is opened",
        epilog=PLAN,
        description="The plan of the shop as it stands, or of an order before there is a batch.",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    plan.add_argument("subject", nargs="?", default="", metavar="BATCH|CHECKLIST.toml", help="default: all batches")
    plan.add_argument("--order", type=parse_whole_number, metavar="N", help="with a checklist: good pieces ordered")
    plan.add_argument(
        "--start",
        type=parse_whole_number,
        metavar="N",
        help="pieces to start (default: enough, in whole blanks unless the checklist says `part_used`)",
    )
    plan.add_argument("--confidence", default="95%", metavar="P", help="chance to fill the order (default: 95%%)")
    plan.add_argument(
        "--test", action="append", default=[], metavar="OP=N", help="good pieces used up as tests or in trials"
    )
    plan.add_argument(
        "--what-if",
        action="append",
        default=[],
        metavar="CHANGES",
        help='set changes beside it in a table, like "saturday, 2 more pallets"',
    )
    form = plan.add_mutually_exclusive_group()
    form.add_argument("--json", action="store_true", help="machine-readable output")
    form.add_argument("--csv", action="store_true", help="the runs as a table")
    plan.set_defaults(run=_plan)


def _parse_paper(commands: _Commands, shop: argparse.ArgumentParser) -> None:
    paper = commands.add_parser("paper", parents=[shop], help="write a paper of a batch, also of a closed one")
    paper.add_argument(
        "kind",
        metavar="KIND",
        help="traveler, handover, close-out, first-article, trace, history, csv, json, earlier, figures",
    )
    paper.add_argument("batch", metavar="BATCH")
    paper.add_argument(
        "--load", type=parse_whole_number, metavar="N", help="with traveler: this load (default: all under way)"
    )
    paper.add_argument("--piece", type=parse_whole_number, metavar="N", help="with trace: the piece")
    paper.add_argument("--by", default="", metavar="INITIALS", help="with handover: who reads it; others count first")
    paper.add_argument(
        "--signed", type=parse_whole_number, metavar="N", help="for handover: the Nth one accepted, as signed"
    )
    paper.add_argument("--since", default="", metavar="TIME", help="with figures: only runs started then or later")
    there = paper.add_mutually_exclusive_group()
    there.add_argument("--keep", action="store_true", help="into papers/ of the shop's folder, not standard output")
    there.add_argument("--print", action="store_true", help="to the printer that shop.toml names (print)")
    paper.set_defaults(run=_paper)


def _open(args: argparse.Namespace) -> int:
    return _show(open_shop(args, make=True))


def _open_wall(args: argparse.Namespace) -> int:
    return _show(open_shop(args), wall=True)


def _show(shop: Shop, who: str = "", wall: bool = False, tour: Tour | None = None) -> int:
    if "TEXTUAL_DRIVER" not in os.environ:  # else a browser is the terminal
        if not all(stream is not None and stream.isatty() for stream in (sys.stdin, sys.stdout)):
            raise CommandError("this is not a terminal; use floor status, or open a terminal of at least 40 x 16")
        _need_size(sys.stdout.fileno())
    from floor.app import AGAIN, DEMO, FloorApp

    wanted: str | None = AGAIN
    while wanted == AGAIN:
        app = FloorApp(shop, who, colors_file=get_data_folder() / COLORS, wall=wall, tour=tour)
        wanted = app.run()
        who = app.session.who
    shop.close()
    if app.ended_by:
        return 128 + app.ended_by
    if app.return_code:
        return Exit.FAULT
    if wanted != DEMO:
        return Exit.FINE
    from floor.shop.demo import list_entered

    folder = find_demo_folder()
    return _open_demo(folder, keep=bool(list_entered(folder)))


def _need_size(terminal: int) -> None:
    """Give a terminal without a known size, such as a serial line, the smallest that Floor needs.

    Textual would guess twice, differently, and redraw forever.
    """
    import termios

    if 0 in termios.tcgetwinsize(terminal):
        termios.tcsetwinsize(terminal, (24, 80))


def _demo(args: argparse.Namespace) -> int:
    return _open_demo(args.shop or find_demo_folder(), args.keep, args.fresh)


def _open_demo(folder: Path, keep: bool = False, fresh: bool = False) -> int:
    """Make a new demo shop, or reuse the last one, and open it."""
    from floor.ledger import LedgerError
    from floor.shop import Shop
    from floor.shop.demo import DAY, MARKER, NotADemo, clear_demo, hold_demo, make_demo

    with ExitStack() as here:
        try:
            kept = keep and (folder / MARKER).is_file()
            if kept:
                shop = Shop(folder)
            else:
                clear_demo(folder, entered_too=fresh)
                shop = make_demo(folder)
            here.enter_context(hold_demo(folder))
        except NotADemo as error:
            raise CommandError(str(error)) from error
        except (LedgerError, OSError) as error:
            raise CommandError(f"the demo shop in {folder} cannot be made: {format_error(error)}") from error
        from floor.screens.frame.tour import Tour

        on_shift = shop.people.known.get(DAY)  # nobody is signed in past a PIN, not even in the demo
        who = "" if on_shift is None or shop.asks_pin(on_shift) else DAY
        return _show(shop, who=who, tour=None if kept else Tour())


def _status(args: argparse.Namespace) -> int:
    shop = open_shop(args)
    from floor.papers.status import write_status_json, write_status_text

    now = shop.now()
    due = shop.due(now)
    if args.json:
        print_json(write_status_json(shop.batches, due, now, shop.out))
    else:
        print_text(write_status_text(shop.batches, due, now))
    wrong = _find_wrong_settings(shop, now)
    for trouble in dict.fromkeys([*shop.troubles, *shop.settings_troubles, *wrong]):
        print_error(trouble)
    damaged = shop.out or any(batch.damage for batch in shop.batches)
    return Exit.WRONG if wrong or damaged else Exit.FINE


def _find_wrong_settings(shop: Shop, now: Moment) -> list[str]:
    """What is wrong in ``shop.toml``: the plan and the screens go by what they can use of it."""
    from floor.shop.load_settings import load_settings
    from floor.shop.settings import SettingsError

    try:
        load_settings(shop.folder, now.at)
    except SettingsError as error:
        return [str(error)]
    return []


def _gauges(args: argparse.Namespace) -> int:
    from floor.papers.gauges import write_gauges_json, write_gauges_text

    shop = open_shop(args)
    gauges, today = shop.people.gauges.values(), shop.now().at.date()
    if args.json:
        print_json(write_gauges_json(gauges, today))
    else:
        print_text(write_gauges_text(gauges, today))
    return Exit.FINE


def _plan(args: argparse.Namespace) -> int:
    from floor.cli.plan import Form, PlanOutput, plan_order, plan_shop
    from floor.cli.progress import ProgressLine

    answer: PlanOutput
    form: Form = "json" if args.json else "csv" if args.csv else "text"
    if args.what_if and args.csv:
        print_error("--csv is for the runs of one plan; leave it out, or take --json, with --what-if")
        return Exit.USAGE
    line = ProgressLine()
    if args.subject.endswith(".toml"):
        answer = plan_order(
            args.subject,
            args.order,
            args.confidence,
            args.test,
            form,
            find_shop_folder(args),
            args.start,
            args.what_if,
            line,
        )
    else:
        shop = open_shop(args)
        answer = plan_shop(shop, args.subject, form, args.what_if, line)
    line.clear()
    if answer.text:
        (print_json if args.json else print_text)(answer.text.rstrip("\n"))
    for complaint in answer.complaints:
        print_error(complaint)
    return Exit.WRONG if answer.complaints else Exit.FINE


def _paper(args: argparse.Namespace) -> int:
    from dataclasses import replace

    from floor.batch.command import Refused
    from floor.papers.catalog import KINDS, PaperSource
    from floor.papers.save import save_offer
    from floor.shop.load_settings import load_readable_settings
    from floor.shop.settings import SettingsError

    kinds = (*KINDS, "figures")
    if args.kind not in kinds:
        plan = "; for the plan, run floor plan" if args.kind == "plan" else ""
        print_error(f'unknown paper "{args.kind}"; choose from {", ".join(kinds)}{plan}')
        return Exit.USAGE
    if args.print and args.kind in ("csv", "json"):
        print_error(f"{args.kind} is machine-readable; leave out --print")
        return Exit.USAGE
    shop = open_shop(args)
    try:
        batch = shop.batch(args.batch)
        names = {person.initials: person.name for person in shop.people.known.values()}
        now = shop.now()
        source = PaperSource(batch, now, batch.entries[-1].hash, names, args.by.strip().upper())
        if (settings := load_readable_settings(shop.folder, now.at)) is not None:
            source = replace(source, calendar=settings.calendar, rates=settings.costs)
        if args.kind == "handover":
            from floor.cli.plan import list_missed_deadlines

            source = replace(source, pressing=list_missed_deadlines(shop, batch.id))
        source = replace(source, earlier=lambda: _read_earlier(shop, batch))
        chosen = _make_paper(source, args)
        text = chosen.write()
        if args.print:
            print_out(shop, text.encode())
            return Exit.FINE
        if args.keep:
            text = str(save_offer(shop.folder, chosen, text, source.now.at)[0])
    except (Refused, SettingsError, ValueError) as refused:
        print_error(str(refused))
        return Exit.WRONG
    except OSError as error:
        print_error(f"the paper was not written: {error}")
        return Exit.CANNOT
    finally:
        shop.close()
    (print_json if args.kind == "json" and not args.keep else print_text)(text.rstrip("\n"))
    return Exit.FINE


def _make_paper(source: PaperSource, args: argparse.Namespace) -> PaperOffer:
    from floor.papers.catalog import make_offer, make_signed_offer

    if args.kind == "figures":
        return _offer_figures(source, args.since)
    if args.kind == "handover" and args.signed is not None:
        return make_signed_offer(source, args.signed)
    return make_offer(source, args.kind, args.load, args.piece)


def _offer_figures(source: PaperSource, since: str) -> PaperOffer:
    from floor.batch.search.typed_criteria import TypedCriteria
    from floor.papers.figures_paper import make_figures_offer

    if source.calendar is None:
        raise ValueError("the shop's hours cannot be read; floor status says why")
    wanted = TypedCriteria(since=since).read(source.now.at)
    return make_figures_offer(source, source.calendar, wanted.since, source.rates)


def _read_earlier(shop: Shop, batch: Batch) -> EarlierReport:
    from floor.cli.figures import read_earlier_report
    from floor.shop.load_settings import load_settings

    return read_earlier_report(shop, batch, load_settings(shop.folder, shop.now().at))


def _check(args: argparse.Namespace) -> int:
    from floor.checklist.loading import load_checklist
    from floor.text import format_count

    wrong = 0
    for name in args.files:
        loaded = load_checklist(name)
        for problem in sorted(loaded.problems + loaded.warnings):
            print_sentences(str(problem))
        wrong += len(loaded.problems)
        if loaded.checklist is not None and not loaded.problems:
            part, ops = loaded.checklist.part, format_count(len(loaded.checklist.operations), "operation")
            but = f", {format_count(len(loaded.warnings), 'warning')}" if loaded.warnings else ""
            print_text(f"{name}: {part.number} {part.revision}, {ops}: no problem found{but}")
    return Exit.WRONG if wrong else Exit.FINE


def _schema(args: argparse.Namespace) -> int:
    import json

    from floor.checklist.schema import build_schema

    print_json(json.dumps(build_schema(), indent=2, ensure_ascii=False))
    return Exit.FINE


if __name__ == "__main__":
    sys.exit(main())
