"""A real Chromium at the served program: pictures to be looked at, and a step done by a finger.

    python -m tests.browser FOLDER       # needs chromium on the path; writes desk.png, tablet.png, phone.png, lost.png

It talks to the browser by its own protocol (Chrome DevTools Protocol) over a web socket.
"""

from __future__ import annotations

import asyncio
import base64
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

from aiohttp import ClientSession, ClientWebSocketResponse

from floor.shop import Shop
from floor.shop.demo import make_demo

SIZES = {"desk": (1280, 800, False), "tablet": (1024, 768, True), "phone": (412, 800, True)}
PATIENCE = 40.0


class Browser:
    """One page."""

    def __init__(self, line: ClientWebSocketResponse) -> None:
        self.line = line
        self.number = 0

    async def call(self, method: str, **params: Any) -> dict[str, Any]:
        self.number += 1
        await self.line.send_json({"id": self.number, "method": method, "params": params})
        while True:
            got = await asyncio.wait_for(self.line.receive_json(), PATIENCE)
            if got.get("id") == self.number:
                assert "error" not in got, got
                return dict(got["result"])

    async def evaluate(self, script: str) -> Any:
        got = await self.call("Runtime.evaluate", expression=script, awaitPromise=True, returnByValue=True)
        return got["result"].get("value")

    async def until(self, script: str, what: str) -> None:
        for _ in range(int(PATIENCE * 4)):
            if await self.evaluate(script):
                return
            await asyncio.sleep(0.25)
        raise AssertionError(f"{what} did not come")

    async def picture(self, file: Path) -> None:
        got = await self.call("Page.captureScreenshot", format="png")
        file.write_bytes(base64.b64decode(got["data"]))

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
        server = subprocess.Popen(command, stderr=subprocess.PIPE, text=True, env=os.environ | {"FLOOR_PASSPHRASE": ""})
        assert server.stderr is not None
        url = server.stderr.readline().split(" is at ")[1].split(". ")[0]
        port = 9333
        options = ["--headless", "--no-sandbox", "--disable-gpu", f"--remote-debugging-port={port}", "about:blank"]
        shown = subprocess.Popen(
            [chromium, f"--user-data-dir={home}/chromium", *options],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        try:
            async with ClientSession() as session:
                for name, (width, height, finger) in SIZES.items():
                    async with session.ws_connect(await _find_page(session, port), max_msg_size=0) as line:
                        page = Browser(line)
                        await page.call(
                            "Emulation.setDeviceMetricsOverride",
                            width=width, height=height, deviceScaleFactor=1, mobile=finger,
                        )  # fmt: skip
                        await page.call("Emulation.setTouchEmulationEnabled", enabled=finger)
                        await page.call("Page.navigate", url=f"{url}/?keys=1" if finger else url)
                        await page.until("!!document.querySelector('.xterm-helper-textarea')", "the terminal")
                        await asyncio.sleep(8)
                        await page.picture(folder / f"{name}.png")
                        if finger:
                            await page.touch("?")
                            await asyncio.sleep(2)
                            await page.picture(folder / f"{name}-keys.png")
                            await page.touch("Esc")
                            await asyncio.sleep(1)
                            await page.touch("Enter")
                            await asyncio.sleep(3)
                            await page.picture(folder / f"{name}-walk.png")
                        if name == "phone":
                            server.terminate()
                            server.wait()
                            await page.until(
                                "document.body.classList.contains('-closed')", "the word that the line is gone"
                            )
                            await page.picture(folder / "lost.png")
        finally:
            shown.terminate()
            shown.wait()
            server.terminate()
            server.wait()
        Shop(shop_folder).close()


async def _find_page(session: ClientSession, port: int) -> str:
    for _ in range(int(PATIENCE * 4)):
        try:
            async with session.get(f"http://127.0.0.1:{port}/json") as got:
                pages = [one for one in await got.json(content_type=None) if one["type"] == "page"]
                if pages:
                    return str(pages[0]["webSocketDebuggerUrl"])
        except OSError:
            pass
        await asyncio.sleep(0.25)
    raise AssertionError("the browser did not come up")


if __name__ == "__main__":
    asyncio.run(look(Path(sys.argv[1])))
