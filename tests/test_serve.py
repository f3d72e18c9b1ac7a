"""The program in a browser: nothing before the sign-on, nothing for another site, one program for each browser."""

from __future__ import annotations

import argparse
import asyncio
import io
import os
import socket
import sys
from collections.abc import AsyncIterator, Awaitable, Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from aiohttp import ClientResponse, ClientSession, CookieJar, WSMsgType

from floor.cli.base import CommandError
from floor.cli.serve import INSTALL, serve_shop
from floor.cli.web_server import COOKIE, MOST_TRIES, is_loopback
from floor.shop import Shop

PASSPHRASE = "vise jaw 9"


@dataclass
class Reached:
    """A browser, and where it finds the server."""

    client: ClientSession
    url: str
    server: asyncio.subprocess.Process

    async def stop(self) -> str:
        """What the server wrote into its terminal since it was up."""
        self.server.terminate()
        assert self.server.stderr is not None
        return (await self.server.stderr.read()).decode()

    async def get(self, path: str, **options: Any) -> ClientResponse:
        return await self.client.get(f"{self.url}{path}", **options)

    async def post(self, path: str, **options: Any) -> ClientResponse:
        return await self.client.post(f"{self.url}{path}", **options)


Reach = Callable[..., Awaitable[Reached]]


@pytest.fixture
async def reach(tmp_path: Path) -> AsyncIterator[Reach]:
    """Starts a server with a passphrase, or without, and opens a browser on it."""
    Shop(tmp_path / "shop").close()
    running: list[asyncio.subprocess.Process] = []
    clients: list[ClientSession] = []

    async def make(passphrase: str = "", *more: str) -> Reached:
        command = [sys.executable, "-m", "floor", "serve", "--shop", str(tmp_path / "shop"), "--port", "0", *more]
        environ = os.environ | {"FLOOR_PASSPHRASE": passphrase}
        server = await asyncio.create_subprocess_exec(*command, stderr=asyncio.subprocess.PIPE, env=environ)
        running.append(server)
        assert server.stderr is not None
        said = (await asyncio.wait_for(server.stderr.readline(), 60)).decode()
        clients.append(ClientSession(cookie_jar=CookieJar(unsafe=True)))
        return Reached(clients[-1], said.split(" is at ")[1].split(". ")[0], server)

    yield make
    for client in clients:
        await client.close()
    for server in running:
        if server.returncode is None:
            server.terminate()
        await server.wait()


async def read_until(browser: Reached, word: bytes) -> bytes:
    """What the program sends, until a word is among it."""
    seen = b""
    async with browser.client.ws_connect(f"{browser.url}/ws?width=80&height=24") as line:
        while word not in seen:
            got = await asyncio.wait_for(line.receive(), 60)
            assert got.type in (WSMsgType.BINARY, WSMsgType.TEXT), got
            seen += got.data if isinstance(got.data, bytes) else got.data.encode()
    return seen


async def test_a_browser_on_this_machine_gets_the_program(reach: Reach) -> None:
    client = await reach()
    page = await client.get("/")
    assert page.status == 200
    assert "script" in await page.text()
    assert page.headers["X-Frame-Options"] == "DENY"
    assert b"What next" in await read_until(client, b"What next")


async def test_a_panel_that_reports_a_mouse_gets_the_rows_and_keys_for_fingers_too(reach: Reach) -> None:
    """WCAG 2.2, 2.5.8: 24 px; what comes of it is measured in a real browser (`python -m tests.browser`)."""
    for more, marked in ((("--touch",), True), ((), False)):
        page = await (await reach("", *more)).get("/")
        assert ('<body class="-touch">' in await page.text()) is marked


async def test_nothing_is_reached_before_the_passphrase(reach: Reach) -> None:
    client = await reach(PASSPHRASE)
    first = await client.get("/", allow_redirects=False)
    assert (first.status, first.headers["Location"]) == (302, "/sign-on")
    for path in ("/ws", "/static/js/textual.js"):
        assert (await client.get(path)).status == 403, path
    wrong = await client.post("/sign-on", data={"passphrase": "vise jaw 8"})
    assert wrong.status == 401
    assert "Wrong passphrase" in await wrong.text()
    assert (await client.get("/ws")).status == 403
    right = await client.post("/sign-on", data={"passphrase": PASSPHRASE}, allow_redirects=False)
    assert right.status == 302
    kept = right.cookies[COOKIE]
    assert kept["httponly"]
    assert kept["samesite"] == "Strict"
    assert (await client.get("/")).status == 200
    assert b"What next" in await read_until(client, b"What next")


async def test_who_guesses_has_to_wait(reach: Reach) -> None:
    client = await reach(PASSPHRASE)
    for _ in range(MOST_TRIES):
        assert (await client.post("/sign-on", data={"passphrase": "guess"})).status == 401
    assert (await client.post("/sign-on", data={"passphrase": PASSPHRASE})).status == 429


async def test_a_page_of_another_site_reaches_nothing(reach: Reach) -> None:
    """Any page that somebody opens on the same machine could otherwise type into the program (RFC 6455, 10.2)."""
    client = await reach()
    for path in ("/", "/ws"):
        assert (await client.get(path, headers={"Origin": "http://elsewhere.example"})).status == 403, path
    own = client.url
    assert (await client.get("/", headers={"Origin": own})).status == 200


async def test_a_name_that_another_site_points_at_this_machine_reaches_nothing(reach: Reach) -> None:
    """DNS rebinding: the browser then takes that site's page for our own origin, and says so."""
    client = await reach()
    port = client.url.rpartition(":")[2]
    for host in (f"elsewhere.example:{port}", f"192.168.1.5:{port}"):
        for path in ("/", "/ws"):
            asked = await client.get(path, headers={"Host": host, "Origin": f"http://{host}"})
            assert asked.status == 403, (host, path)
    for host in (f"localhost:{port}", f"127.0.0.1:{port}", f"[::1]:{port}"):
        assert (await client.get("/", headers={"Host": host, "Origin": f"http://{host}"})).status == 200, host


async def test_with_the_passphrase_any_name_of_this_machine_does(reach: Reach) -> None:
    client = await reach(PASSPHRASE)
    asked = await client.get("/", headers={"Host": "floor.shop"}, allow_redirects=False)
    assert (asked.status, asked.headers["Location"]) == (302, "/sign-on")


async def test_two_browsers_work_on_one_record(reach: Reach) -> None:
    client = await reach()
    both = await asyncio.gather(read_until(client, b"What next"), read_until(client, b"What next"))
    assert all(b"What next" in one for one in both)


@pytest.mark.parametrize(
    ("host", "ours"),
    [
        ("127.0.0.1", True),
        ("::1", True),
        ("localhost", True),
        ("0.0.0.0", False),
        ("192.168.1.5", False),
        ("shop", False),
    ],
)
def test_what_is_reached_from_outside_is_known(host: str, ours: bool) -> None:
    assert is_loopback(host) is ours


@pytest.mark.parametrize(
    ("passphrase", "wrong"), [("", "set a passphrase"), ("short", "at least 8 characters")]
)  # fmt: skip
def test_from_outside_only_with_a_passphrase(
    passphrase: str, wrong: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("FLOOR_PASSPHRASE", passphrase)
    monkeypatch.setattr("sys.stdin", io.StringIO())
    asked = argparse.Namespace(host="0.0.0.0", port=0, passphrase_file=None, shop=tmp_path, touch=False)
    with pytest.raises(CommandError, match=wrong):
        serve_shop(asked)


def test_a_port_that_is_taken_is_said(tmp_path: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        asked = argparse.Namespace(host="127.0.0.1", port=taken.getsockname()[1], passphrase_file=None, shop=tmp_path)
        with pytest.raises(CommandError, match="another program has this port. Choose another with --port"):
            serve_shop(asked)


@pytest.mark.parametrize(
    ("host", "port", "wrong"),
    [
        ("127.0.0.1", 70000, "port 70000: choose one from 1024 to 65535"),
        ("127.0.0.1", -1, "port -1: choose one from 1024 to 65535"),
        ("192.0.2.7", 0, "this machine has no such address"),  # RFC 5737: an address for examples, nobody has it
        ("no-such-name.invalid", 0, "no such name or address"),  # RFC 6761: never a name of anything
    ],
)
def test_where_nobody_can_be_served_is_said_in_words(
    host: str, port: int, wrong: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("FLOOR_PASSPHRASE", PASSPHRASE)
    with pytest.raises(CommandError, match=wrong) as raised:
        serve_shop(argparse.Namespace(host=host, port=port, passphrase_file=None, shop=tmp_path, touch=False))
    assert "Errno" not in str(raised.value)


def test_a_passphrase_file_that_cannot_be_read_is_said_in_words(tmp_path: Path) -> None:
    asked = argparse.Namespace(
        host="0.0.0.0", port=0, passphrase_file=tmp_path / "gone.txt", shop=tmp_path, touch=False
    )
    with pytest.raises(CommandError) as raised:
        serve_shop(asked)
    assert str(raised.value) == f"No such file or directory: {tmp_path / 'gone.txt'}"
    asked.passphrase_file = tmp_path / "picture"
    asked.passphrase_file.write_bytes(b"\xff\xd8\xff")
    with pytest.raises(CommandError, match="is no text in UTF-8"):
        serve_shop(asked)


def test_what_is_missing_is_installed_from_this_folder(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """By its name a registry might give a stranger's package; README has the same line."""
    monkeypatch.setitem(sys.modules, "floor.cli.web_server", None)
    with pytest.raises(CommandError) as raised:
        serve_shop(argparse.Namespace(host="127.0.0.1", port=0, passphrase_file=None, shop=tmp_path, touch=False))
    assert str(raised.value).endswith(INSTALL)
    assert INSTALL in (Path(__file__).parents[1] / "README.md").read_text(encoding="utf-8")


async def test_a_request_that_is_none_leaves_no_traceback_in_the_terminal(reach: Reach) -> None:
    """Too long a header (aiohttp's limit is 8190 bytes), no HTTP at all, and the page's own line without a page."""
    client = await reach()
    assert (await client.get("/", headers={"X-Long": "a" * 9000})).status == 400
    asked = await client.get("/ws")
    assert asked.status == 400
    assert "Floor's own page" in await asked.text()
    reader, writer = await asyncio.open_connection("127.0.0.1", int(client.url.rpartition(":")[2]))
    writer.write(b"\x16\x03\x01\x02\x00\x01\r\n\r\n")  # how TLS begins (RFC 8446, 5.1)
    await writer.drain()
    assert b"400" in await reader.read(100)
    writer.close()
    assert await client.stop() == ""


def test_no_program_that_is_served_knows_the_passphrase(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Each browser has one of its own, which starts printers and readers of files."""
    monkeypatch.setenv("FLOOR_PASSPHRASE", PASSPHRASE)
    known: list[tuple[str, str]] = []
    monkeypatch.setattr(
        "floor.cli.web_server.run_server",
        lambda server, sock: known.append((server.passphrase, os.environ.get("FLOOR_PASSPHRASE", ""))),
    )
    serve_shop(argparse.Namespace(host="127.0.0.1", port=0, passphrase_file=None, shop=tmp_path, touch=False))
    assert known == [(PASSPHRASE, "")]


@pytest.mark.parametrize(("typed", "wrong"), [("", "no passphrase given"), ("short", "at least 8 characters")])
def test_nobody_outside_is_let_in_by_pressing_enter_at_the_question(
    typed: str, wrong: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    class Terminal(io.StringIO):
        def isatty(self) -> bool:
            return True

    monkeypatch.delenv("FLOOR_PASSPHRASE", raising=False)
    monkeypatch.setattr("sys.stdin", Terminal())
    monkeypatch.setattr("floor.cli.serve.getpass", lambda prompt: typed)
    monkeypatch.setattr("floor.cli.web_server.run_server", lambda server, sock: None)
    with pytest.raises(CommandError, match=wrong):
        serve_shop(argparse.Namespace(host="0.0.0.0", port=0, passphrase_file=None, shop=tmp_path, touch=False))
