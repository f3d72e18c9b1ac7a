"""The terminal program in a browser: one page, one process for each browser, nothing before its own sign-on.

Each browser gets a terminal program of its own on the shop's one record, like a further terminal. What goes over the
line is not encrypted: use it inside the shop's own network, or behind a server that speaks https.
"""

from __future__ import annotations

import hmac
import ipaddress
import logging
import secrets
import time
from collections import deque
from collections.abc import Awaitable, Callable
from html import escape
from pathlib import Path
from typing import Any

from aiohttp import web
from aiohttp.http_exceptions import HttpProcessingError
from aiohttp.log import server_logger
from textual_serve.server import Server

COOKIE = "floor-sign-on"
MOST_TRIES, TRIES_SECONDS = 5, 60.0
"""Wrong passphrases, from anywhere, before nobody may try for a while (shop decision)."""
LEAST_PASSPHRASE = 8
PAGE = Path(__file__).with_name("web_page.html")
Handler = Callable[[web.Request], Awaitable[web.StreamResponse]]


class ShopServer(Server):
    """Serves the program of one shop."""

    def __init__(
        self, command: str, host: str, port: int, passphrase: str, say: Callable[[str], None], touch: bool = False
    ) -> None:
        """
        Args:
            command: opens the program on the shop's folder.
            passphrase: asked for before the program is reached; empty for nobody but this machine.
            say: tells the person at the terminal.
            touch: rows and keys are for fingers even where a browser reports a mouse, as panels for gloves do.
        """
        super().__init__(command, host, port, title="Floor")
        self.passphrase = passphrase
        self.say = say
        self.touch = touch
        self._signed_on: set[str] = set()
        self._wrong: deque[float] = deque()
        """When wrong passphrases were given, by the clock that nobody can set."""

    def initialize_logging(self) -> None:
        """Nothing is logged: what is typed passes through here."""

    async def on_startup(self, app: web.Application) -> None:
        self.say(f"Floor is at {self.public_url}. Ctrl+C ends it")

    async def _make_app(self) -> web.Application:
        app = web.Application(middlewares=[self._guard])
        app.add_routes(
            [
                web.get("/", self._show_page),
                web.get("/sign-on", self._show_sign_on),
                web.post("/sign-on", self._sign_on),
                web.get("/ws", self._open_terminal),
                web.static("/static", self.statics_path),
            ]
        )
        app.on_startup.append(self.on_startup)
        return app

    @web.middleware
    async def _guard(self, request: web.Request, handler: Handler) -> web.StreamResponse:
        """Nobody reaches the program from another site's page, or without the passphrase.

        Without one, a name that another site points at this machine would pass as our own origin (DNS rebinding).
        """
        origin = request.headers.get("Origin")
        if origin is not None and origin.partition("//")[2] != request.host:
            raise web.HTTPForbidden(text="Another site's page asked for this. Open Floor by its own address.")
        if not self.passphrase and not is_loopback(request.url.host or ""):
            raise web.HTTPForbidden(text="Not the address of this machine. Open http://localhost with the port.")
        if self.passphrase and request.path not in ("/sign-on",) and not self._is_signed_on(request):
            if request.path == "/":
                raise web.HTTPFound("/sign-on")
            raise web.HTTPForbidden(text="No passphrase given yet. Open Floor's page and enter it.")
        response = await handler(request)
        if not response.prepared:
            response.headers["X-Frame-Options"] = "DENY"
            response.headers["Cache-Control"] = "no-store"
        return response

    def _is_signed_on(self, request: web.Request) -> bool:
        return request.cookies.get(COOKIE, "") in self._signed_on

    async def _open_terminal(self, request: web.Request) -> web.StreamResponse:
        """The line of Floor's own page; anything else that asks for it is told so."""
        if not web.WebSocketResponse().can_prepare(request).ok:
            raise web.HTTPBadRequest(text="This address is for Floor's own page. Open the page without /ws.")
        return await self.handle_websocket(request)

    async def _show_page(self, request: web.Request) -> web.Response:
        page = PAGE.read_text(encoding="utf-8")
        page = page.replace("<body>", '<body class="-touch">', 1) if self.touch else page
        return web.Response(text=page, content_type="text/html")

    async def _show_sign_on(self, request: web.Request, wrong: str = "", status: int = 200) -> web.Response:
        said = f'<p role="alert">{escape(wrong)}</p>' if wrong else ""
        return web.Response(text=SIGN_ON.replace("<!-- wrong -->", said), content_type="text/html", status=status)

    async def _sign_on(self, request: web.Request) -> web.StreamResponse:
        now = time.monotonic()
        while self._wrong and now - self._wrong[0] > TRIES_SECONDS:
            self._wrong.popleft()
        if len(self._wrong) >= MOST_TRIES:
            return await self._show_sign_on(request, "Too many wrong tries. Wait a minute, then try again.", 429)
        given = (await request.post()).get("passphrase", "")
        if not hmac.compare_digest(str(given).encode(), self.passphrase.encode()):
            self._wrong.append(now)
            return await self._show_sign_on(request, "Wrong passphrase. Try again.", 401)
        token = secrets.token_urlsafe(32)
        self._signed_on.add(token)
        response = web.HTTPFound("/")
        response.set_cookie(COOKIE, token, httponly=True, samesite="Strict", max_age=12 * 3600)
        raise response


def is_loopback(host: str) -> bool:
    """Whether an address is reached from this machine only."""
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


SIGN_ON = """<!DOCTYPE html>
<html lang="en"><head><meta charset="utf-8"><title>Floor</title>
<meta name="viewport" content="width=device-width, initial-scale=1">
<style>
body { background: #15181a; color: #dde1e1; font: 20px monospace; margin: 15vh auto; max-width: 24em; padding: 0 1em; }
input, button { font: inherit; width: 100%; box-sizing: border-box; padding: .6em; margin: .4em 0; min-height: 60px; }
input { background: #ece6d6; color: #111416; border: 3px solid #7d888d; }
button { background: #241f5a; color: #f5f3ff; border: 3px solid #8e8abf; }
p[role=alert] { background: #d08adb; color: #1a041a; padding: .5em; }
</style></head><body>
<form method="post" action="/sign-on"><h1>Floor</h1>
<!-- wrong -->
<label for="p">The shop's passphrase</label>
<input id="p" name="passphrase" type="password" autocomplete="current-password" autofocus required>
<button type="submit">Open</button></form></body></html>
"""


def run_server(server: Any, sock: Any) -> None:
    """Serve until Ctrl+C or SIGTERM, on a socket that is bound already."""
    server_logger.addFilter(_is_fault_of_floor)
    web.run_app(server._make_app(), sock=sock, print=lambda *_: None)


def _is_fault_of_floor(record: logging.LogRecord) -> bool:
    """Whether a log entry is about more than a request that is none, as of a browser that tries https first."""
    return not (record.exc_info and isinstance(record.exc_info[1], HttpProcessingError))
