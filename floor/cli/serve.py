"""``floor serve``: the program in a browser, on tablets and phones of the shop."""

from __future__ import annotations

import argparse
import errno
import os
import shlex
import socket
import sys
from getpass import getpass
from pathlib import Path

from floor.cli.base import CommandError, Exit, find_shop_folder, format_error, parse_path, print_error

PORT = 8724
PASSPHRASE = "FLOOR_PASSPHRASE"
INSTALL = ".venv/bin/pip install -q '.[serve]'"
"""As README has it: from this folder, never by a name that a registry may give to another package."""
HIGHEST_PORT = 65535
NOT_BOUND = {
    errno.EADDRINUSE: "another program has this port. Choose another with --port",
    errno.EACCES: "only an administrator may use this port. Choose one from 1024 on with --port",
    errno.EADDRNOTAVAIL: "this machine has no such address. Give one of its own with --host",
}
"""Why nobody can be served there, and what to do."""


def add_serve_command(
    commands: argparse._SubParsersAction[argparse.ArgumentParser], shop: argparse.ArgumentParser
) -> None:
    serve = commands.add_parser("serve", parents=[shop], help="serve the program to browsers")
    serve.add_argument("--host", default="127.0.0.1", help="address to listen on (default: this machine only)")
    serve.add_argument("--port", type=int, default=PORT, help=f"default: {PORT}")
    serve.add_argument(
        "--passphrase-file",
        type=parse_path,
        metavar="FILE",
        help=f"holds what browsers must enter first (default: {PASSPHRASE})",
    )
    serve.add_argument(
        "--touch", action="store_true", help="high rows and large keys, also where a browser reports a mouse"
    )
    serve.set_defaults(run=serve_shop)


def serve_shop(args: argparse.Namespace) -> int:
    """Serve until it is ended. Raises `CommandError`."""
    try:
        from floor.cli.web_server import LEAST_PASSPHRASE, ShopServer, is_loopback, run_server
    except ImportError as error:
        raise CommandError(f"{error.name} is not installed; in the folder with README.md, run: {INSTALL}") from None
    passphrase = _read_passphrase(args.passphrase_file)
    if not passphrase and not is_loopback(args.host):
        if not sys.stdin.isatty():
            raise CommandError(f"others can reach {args.host}: set a passphrase with {PASSPHRASE} or --passphrase-file")
        passphrase = getpass("Passphrase for browsers: ")
    if passphrase and len(passphrase) < LEAST_PASSPHRASE:
        raise CommandError(f"the passphrase is too short: use at least {LEAST_PASSPHRASE} characters")
    if not passphrase and not is_loopback(args.host):
        raise CommandError(f"no passphrase given, and others can reach {args.host}: enter one")
    if not 0 <= args.port <= HIGHEST_PORT:
        raise CommandError(f"port {args.port}: choose one from 1024 to {HIGHEST_PORT} with --port")
    folder = find_shop_folder(args)
    sock = _bind(args.host, args.port)
    port = sock.getsockname()[1]
    command = f"{shlex.quote(sys.executable)} -m floor --shop {shlex.quote(str(folder))}"
    os.environ.pop(PASSPHRASE, None)  # no program that is served needs it
    server = ShopServer(command, args.host, port, passphrase, print_error, touch=args.touch)
    try:
        run_server(server, sock)
    finally:
        sock.close()
    return Exit.FINE


def _read_passphrase(file: Path | None) -> str:
    try:
        return file.read_text(encoding="utf-8").strip() if file is not None else os.environ.get(PASSPHRASE, "")
    except OSError as error:
        raise CommandError(format_error(error)) from None
    except UnicodeDecodeError:
        raise CommandError(f"{file} is no text in UTF-8: save one, with nothing in it but the passphrase") from None


def _bind(host: str, port: int) -> socket.socket:
    """A socket that takes browsers from now on; they wait until the server is up."""
    sock = socket.socket(socket.AF_INET6 if ":" in host else socket.AF_INET, socket.SOCK_STREAM)
    try:
        sock.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        sock.bind((host, port))
        sock.listen()
    except socket.gaierror:
        sock.close()
        raise CommandError(f"{host}: no such name or address. Give an address of this machine with --host") from None
    except OSError as error:
        sock.close()
        why = NOT_BOUND.get(error.errno or 0, f"cannot be used ({error.strerror}). Choose another with --port")
        raise CommandError(f"{host} port {port}: {why}") from None
    return sock
