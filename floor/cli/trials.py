"""``floor trial``: the trials of a batch, settings side by side."""

from __future__ import annotations

import argparse
import json
from typing import TYPE_CHECKING

from floor.cli.base import Exit, open_shop, parse_whole_number, print_error, print_json, print_text

if TYPE_CHECKING:
    Commands = argparse._SubParsersAction[argparse.ArgumentParser]


def add_trial_command(commands: Commands, shop: argparse.ArgumentParser) -> None:
    trial = commands.add_parser(
        "trial",
        parents=[shop],
        help="print the trials of a batch: settings side by side, what they tell",
        description="What was tried in a batch, open or closed: each setting with its interval, what the results tell "
        "and what not, how many pieces would, and the choice. Trials are entered on screen (v on the batch).",
    )
    trial.add_argument("batch", metavar="BATCH")
    trial.add_argument("number", nargs="?", type=parse_whole_number, metavar="TRIAL", help="its number (default: all)")
    trial.add_argument("--json", action="store_true", help="machine-readable output")
    trial.set_defaults(run=_trial)


def _trial(args: argparse.Namespace) -> int:
    from floor.batch.command import Refused
    from floor.papers.trial_export import export_trials
    from floor.papers.trials import list_all_trial_lines, list_trial_lines
    from floor.text import WIDTH

    shop = open_shop(args)
    try:
        now = shop.now().at
        batch = shop.batch(args.batch)
    except Refused as refused:
        print_error(str(refused))
        return Exit.WRONG
    finally:
        shop.close()
    trial = batch.trials.get(args.number) if args.number is not None else None
    if args.number is not None and trial is None:
        known = ", ".join(map(str, batch.trials)) or "none"
        print_error(f"there is no trial {args.number} in {batch.id}; there are: {known}")
        return Exit.WRONG
    if args.json:
        found = [one for one in export_trials(batch) if trial is None or one["trial"] == trial.number]
        print_json(json.dumps({"format": 1, "batch": batch.id, "trials": found}, indent=2, ensure_ascii=False))
    elif trial is not None:
        print_text("\n".join(list_trial_lines(batch, trial, now, WIDTH)))
    else:
        print_text("\n".join(list_all_trial_lines(batch, now, WIDTH)) or f"No trial in {batch.id}.")
    if batch.damage:
        print_error(batch.damage)
    return Exit.FINE
