"""What commands that change something share: who gives them, with PIN; a question before; result or refusal."""

from __future__ import annotations

import argparse
import warnings
from collections.abc import Callable
from typing import TYPE_CHECKING

from floor.cli.base import Exit, format_error, open_shop, print_error, print_sentences

if TYPE_CHECKING:
    from floor.shop import Shop


def run_act(act: Callable[[], str]) -> int:
    """Do something with the record and report the result, if it has one; refusals go to standard error."""
    from floor.batch.command import Refused
    from floor.ledger import LedgerError

    try:
        said = act()
    except Refused as refused:
        print_error(str(refused))
        return Exit.WRONG
    except (LedgerError, OSError) as error:
        print_error(format_error(error))
        return Exit.CANNOT
    if said:
        print_sentences(said)
    return Exit.FINE


def run_act_in_shop(args: argparse.Namespace, act: Callable[[Shop], str]) -> int:
    """Like `run_act`, with the shop opened."""
    shop = open_shop(args)
    try:
        return run_act(lambda: act(shop))
    finally:
        shop.close()


def sign_in(shop: Shop, initials: str) -> str:
    """Who gives the command, with PIN if one is set."""
    known = shop.people.known.get(initials.strip().upper())
    pin = ask_pin(known.initials) if known is not None and known.has_pin else ""
    return shop.sign_in(initials, pin).initials


def ask_pin(initials: str) -> str:
    from getpass import GetPassWarning, getpass

    with warnings.catch_warnings():  # where no terminal hides what is typed, that is no fault of the program
        warnings.simplefilter("ignore", GetPassWarning)
        return getpass(f"PIN of {initials}: ")


def ask_agreement(question: str, words: tuple[str, ...] = ("y", "yes")) -> bool:
    """Whether a person at the terminal answers with one of these words; nobody there means no."""
    try:
        return input(question).strip().lower() in words
    except EOFError:
        print_error("nobody is there to answer; give --yes if a lead has looked at it")
        return False
