"""A real Chromium at the served program: pictures to be looked at, and a step done by a finger.

    python -m tests.browser FOLDER       # needs chromium on the path; writes desk.png, tablet.png, phone.png and more

It talks to the browser by its own protocol (Chrome DevTools Protocol) over a web socket, and waits for what the program
sends, never for seconds.
"""

from __future__ import annotations

import asyncio
import base64
import os
import re
import shutil
import sys
import tempfile
from asyncio.subprocess import DEVNULL, PIPE, Process
from collections.abc import Callable
from pathlib import Path
from typing import Any

from aiohttp import ClientSession, ClientWebSocketResponse

from floor.shop import Shop
from floor.shop.demo import make_demo

SIZES = {"desk": (1280, 800, False), "tablet": (1024, 768, True), "phone": (412, 800, True)}
PATIENCE = 60.0
"""Seconds after which what is awaited will not come; only a failure waits this long."""
DRAWN = "new Promise(done => requestAnimationFrame(() => requestAnimationFrame(() => done(true))))"
"""Once the browser has drawn what it has received."""
SCREEN = "document.querySelector('.xterm-screen').getBoundingClientRect().height"
LEAST_ROW = 24
"""Pixels of a target (WCAG 2.2, 2.5.8); a phone, which keeps 40 columns, has less."""


class Browser:
    """One page, and what the program has sent to it."""

    def __init__(self, line: ClientWebSocketResponse) -> None:
        self.line = line
        self.number = 0
        self.sent = b""
        """What the program has sent to the terminal since it was last asked about."""
        self.rows = 0
        """Of the terminal, as the page told the program last."""
        self.closed = False
        """Whether the program's line is gone."""

    async def call(self, method: str, **params: Any) -> dict[str, Any]:
        self.number += 1
        wanted = self.number
        await self.line.send_json({"id": wanted, "method": method, "params": params})
        answers: list[dict[str, Any]] = []
        await self._hear(lambda got: answers.append(got) if got.get("id") == wanted else None, lambda: bool(answers))
        assert "error" not in answers[0], answers[0]
        return dict(answers[0]["result"])

    async def _hear(self, take: Callable[[dict[str, Any]], None], done: Callable[[], bool]) -> None:
        """Take in messages of the browser until there is what was awaited."""
        while not done():
            got = await asyncio.wait_for(self.line.receive_json(), PATIENCE)
            if got.get("method") == "Network.webSocketFrameReceived":
                frame = got["params"]["response"]
                text = frame["payloadData"]
                self.sent += base64.b64decode(text) if frame["opcode"] == 2 else text.encode()
            elif got.get("method") == "Network.webSocketFrameSent":
                told = re.search(r'"resize".*"height":(\d+)', got["params"]["response"]["payloadData"])
                self.rows = int(told[1]) if told else self.rows
            self.closed |= got.get("method") == "Network.webSocketClosed"
            take(got)

    async def wait_for(self, words: str) -> None:
        """Until the program has sent these words to the terminal, and they are drawn."""
        await self._hear(lambda got: None, lambda: words.encode() in self.sent)
        self.sent = b""
        await self.evaluate(DRAWN)

    async def wait_for_loss(self) -> None:
        await self._hear(lambda got: None, lambda: self.closed)
        await self.evaluate(DRAWN)

    async def evaluate(self, script: str) -> Any:
        got = await self.call("Runtime.evaluate", expression=script, awaitPromise=True, returnByValue=True)
        return got["result"].get("value")

    async def picture(self, file: Path) -> None:
        got = await self.call("Page.captureScreenshot", format="png")
        file.write_bytes(base64.b64decode(got["data"]))

    async def open(self, url: str, width: int, height: int, finger: bool) -> None:
        await self.call("Network.enable")
        size = {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": finger}
        await self.call("Emulation.setDeviceMetricsOverride", **size)
        await self.call("Emulation.setTouchEmulationEnabled", enabled=finger)
        await self.call("Page.navigate", url=f"{url}/?keys=1" if finger else url)

    async def measure_row(self) -> float:
        """Pixels from one row of the terminal to the next."""
        return float(await self.evaluate(SCREEN)) / self.rows

    async def touch(self, label: str) -> None:
        """A finger on one of the large keys."""
        key = f"[...document.querySelectorAll('#keys button')].find(one => one.textContent === '{label}')"
        box = f"(() => {{ const r = {key}.getBoundingClientRect(); return [r.x, r.y, r.width, r.height]; }})()"
        left, top, width, height = await self.evaluate(box)
        x, y = left + width / 2, top + height / 2
        there = await self.evaluate(f"document.elementFromPoint({x}, {y}).textContent")
        assert there == label, f"the key {label} lies under {there!r}"
        assert height >= 44, "a target for a glove"
        assert width >= 44
        for kind in ("mousePressed", "mouseReleased"):
            await self.call("Input.dispatchMouseEvent", type=kind, x=x, y=y, button="left", clickCount=1)


async def look(folder: Path) -> None:
    """Take the pictures, and do a step by the large keys."""
    folder.mkdir(parents=True, exist_ok=True)
    chromium = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if chromium is None:
        raise SystemExit("chromium is not on the path")
    with tempfile.TemporaryDirectory() as home:
        shop_folder = Path(home) / "shop"
        make_demo(shop_folder).close()
        command = [sys.executable, "-m", "floor", "serve", "--shop", str(shop_folder), "--port", "0"]
        environ = os.environ | {"FLOOR_PASSPHRASE": ""}
        server = await asyncio.create_subprocess_exec(*command, stderr=PIPE, env=environ)
        options = ["--headless", "--no-sandbox", "--disable-gpu", "--remote-debugging-port=0", "about:blank"]
        shown = await asyncio.create_subprocess_exec(
            chromium, f"--user-data-dir={home}/chromium", *options, stdout=DEVNULL, stderr=PIPE
        )
        try:
            url = await _read_word(server, r" is at (\S+)\. ")
            tools = await _read_word(shown, r"DevTools listening on ws://([^/]+)/")
            async with ClientSession() as session:
                for name, (width, height, finger) in SIZES.items():
                    async with session.put(f"http://{tools}/json/new?about:blank") as made:
                        line = str((await made.json(content_type=None))["webSocketDebuggerUrl"])
                    async with session.ws_connect(line, max_msg_size=0) as talk:
                        page = Browser(talk)
                        await page.open(url, width, height, finger)
                        await page.wait_for("Enter: ")
                        await page.picture(folder / f"{name}.png")
                        row = await page.measure_row()
                        sys.stdout.write(f"{name}: {row:.1f} px a row of {page.rows}\n")
                        assert row >= LEAST_ROW or name != "tablet"
                        if finger:
                            await _use_keys(page, folder, name)
                        if name == "phone":
                            server.terminate()
                            await server.wait()
                            await page.wait_for_loss()
                            await page.picture(folder / "lost.png")
        finally:
            for process in (shown, server):
                if process.returncode is None:
                    process.terminate()
                await process.wait()
        Shop(shop_folder).close()


async def _use_keys(page: Browser, folder: Path, name: str) -> None:
    await page.touch("?")
    await page.wait_for("any key: back")
    await page.picture(folder / f"{name}-keys.png")
    await page.touch("Esc")
    await page.wait_for("Leave the exh")  # what the keys covered
    await page.touch("Enter")
    await page.wait_for("step ")
    await page.picture(folder / f"{name}-walk.png")


async def _read_word(process: Process, pattern: str) -> str:
    """The word that a program says on its standard error once it is up."""
    assert process.stderr is not None
    while said := (await asyncio.wait_for(process.stderr.readline(), PATIENCE)).decode():
        found = re.search(pattern, said)
        if found is not None:
            return found[1]
    raise AssertionError(f"it ended without a word: {pattern}")


if __name__ == "__main__":
    asyncio.run(look(Path(sys.argv[1])))
