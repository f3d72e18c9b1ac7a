"""``floor figures``: what the record of a batch says of its process."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from floor.cli.base import Exit, open_shop, print_error, print_json, print_text

if TYPE_CHECKING:
    from floor.batch.state import Batch
    from floor.papers.earlier_batches import EarlierReport
    from floor.papers.figures_export import ProcessFigures
    from floor.shop import Shop
    from floor.shop.settings import Settings

    Commands = argparse._SubParsersAction[argparse.ArgumentParser]


def add_figures_command(commands: Commands, shop: argparse.ArgumentParser) -> None:
    from floor.cli.help import FIGURES

    figures = commands.add_parser(
        "figures",
        parents=[shop],
        help="print losses, measured values, key figures and times of a batch, or draw its charts",
        epilog=FIGURES,
        description="What the record of a batch, open or closed, says of its process.",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    figures.add_argument("batch", metavar="BATCH")
    figures.add_argument(
        "--since", default="", metavar="TIME", help="only of runs started and values measured then or later"
    )
    figures.add_argument("--station", default="", metavar="NAME", help="only of this station; name or id")
    figures.add_argument("--earlier", action="store_true", help="instead, earlier batches of the part beside this one")
    form = figures.add_mutually_exclusive_group()
    form.add_argument("--json", action="store_true", help="machine-readable output, everything")
    form.add_argument("--csv", action="store_true", help="the key figures as a table")
    form.add_argument("--svg", type=Path, metavar="FOLDER", help="every chart of the batch, each a file in this folder")
    figures.set_defaults(run=_figures)


def read_earlier_report(shop: Shop, batch: Batch, settings: Settings) -> EarlierReport:
    """Earlier batches of the part beside this one, read at once."""
    from floor.papers.earlier_batches import make_report
    from floor.shop.earlier_batches import ask_of_batch, read_earlier

    asked = ask_of_batch(shop, batch, settings.calendar)
    return make_report(batch, asked, read_earlier(asked), shop.now().at, settings.fill_level, settings.half_life_days)


def _print_earlier(shop: Shop, batch: Batch, settings: Settings, args: argparse.Namespace) -> None:
    from floor.papers.earlier_batches import list_report_lines
    from floor.papers.earlier_export import write_earlier_csv, write_earlier_json

    report = read_earlier_report(shop, batch, settings)
    if args.json:
        print_json(write_earlier_json(report))
    else:
        text = write_earlier_csv(report) if args.csv else "\n".join(list_report_lines(report))
        print_text(text.rstrip("\n"))
    for name, why in report.read.left_out.items():
        print_error(f"{name} is left out: {why}")


def _figures(args: argparse.Namespace) -> int:
    from floor.batch.command import Refused
    from floor.batch.search.typed_criteria import TypedCriteria, find_stations_called, need_known
    from floor.papers.figures_export import gather_process_figures
    from floor.shop.load_settings import load_settings
    from floor.shop.settings import SettingsError

    if args.svg is not None and (args.since or args.station):
        print_error("charts are of the whole batch; leave out --since and --station")
        return Exit.USAGE
    shop = open_shop(args)
    try:
        now = shop.now().at
        wanted = TypedCriteria(station=args.station, since=args.since).read(now)
        batch = shop.batch(args.batch)
        if args.svg is not None:
            return _save_charts(batch, args.svg)
        need_known(wanted, [batch])
        stations = find_stations_called(batch, args.station) if args.station else frozenset()
        settings = load_settings(shop.folder, now)
        if args.earlier:
            _print_earlier(shop, batch, settings, args)
            return Exit.FINE
        found = gather_process_figures(batch, settings.calendar, now, wanted.since, stations, settings.costs)
    except Refused as refused:
        print_error(str(refused))
        return Exit.USAGE if refused.why == "input" else Exit.WRONG
    except SettingsError as error:
        print_error(str(error))
        return Exit.WRONG
    finally:
        shop.close()
    _print_figures(found, args)
    if batch.damage:
        print_error(batch.damage)
    return Exit.FINE


def _print_figures(found: ProcessFigures, args: argparse.Namespace) -> None:
    """What a program reads keeps its shape where nothing was entered since; that is said beside it."""
    from floor.papers.figures_export import write_figures_csv, write_figures_json, write_figures_text
    from floor.papers.nothing_since import say_nothing_since

    if args.json:
        print_json(write_figures_json(found))
    else:
        print_text((write_figures_csv(found) if args.csv else write_figures_text(found)).rstrip("\n"))
    nothing = say_nothing_since(found.batch, found.since)
    if nothing and (args.json or args.csv):
        print_error(nothing)


def _save_charts(batch: Batch, folder: Path) -> Exit:
    """Write every chart of a batch, over those of before; their paths are printed."""
    from floor.papers.chart_pictures import list_chart_pictures

    try:
        folder.mkdir(parents=True, exist_ok=True)
        for one in list_chart_pictures(batch):
            path = folder / f"{batch.id}-{one.stem}.svg"
            path.write_text(one.draw(), encoding="utf-8")
            print_text(str(path))
    except OSError as error:
        print_error(f"the charts were not written: {error}")
        return Exit.CANNOT
    if batch.damage:
        print_error(batch.damage)
    return Exit.FINE
