"""Fifty sessions at once: each ends with its own answer, none sees another's formula.

Fifty Chromium windows would measure this computer, not the server. So each session is what a
browser is to the server: a cookie of its own, the page's HTML, and its websocket, all fifty in one
event loop, typing at the same time. One real window watches meanwhile.
"""

from __future__ import annotations

import ast
import asyncio
import json
import re
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from typing import Any

from blendwright import assess
from tests.browser.conftest import Bench, Server
from tests.conftest import formula

SESSIONS = 50
WAIT_s = 120.0
SIGNS = {"&#36;": "$", "&#96;": "`", "&gt;": ">", "&lt;": "<", "&amp;": "&"}


@dataclass
class Session:
    """One browser as the server sees it."""

    server: Server
    elements: dict[str, Any] = field(default_factory=dict)
    client: str = ""
    changed: asyncio.Event = field(default_factory=asyncio.Event)

    async def open(self, http: Any) -> Any:
        import socketio

        async with http.get(self.server.url) as answer:
            page = await answer.text()
        packed = re.search(r"parseElements\(String\.raw`(.*?)`\)", page, re.S)
        query = re.search(r"query: (\{.*?\}),\n", page, re.S)
        assert packed is not None
        assert query is not None
        text = packed[1]
        for sign, plain in SIGNS.items():
            text = text.replace(sign, plain)
        self.elements = json.loads(text)
        asked = {**ast.literal_eval(query[1]), "document_id": "d", "tab_id": "t", "old_tab_id": ""}
        self.client = asked["client_id"]
        socket = socketio.AsyncClient(http_session=http, reconnection=False)
        socket.on("update", self._update)
        words = "&".join(f"{key}={str(value).lower()}" for key, value in asked.items())
        await socket.connect(
            f"{self.server.url}?{words}",
            headers={"Origin": self.server.url.rstrip("/")},
            socketio_path="/_nicegui_ws/socket.io",
            transports=["websocket"],
            wait_timeout=WAIT_s,
        )
        if "implicit_handshake" not in asked:
            await socket.call("handshake", asked, timeout=WAIT_s)
        return socket

    def _update(self, message: dict[str, Any]) -> None:
        for key, element in message.items():
            if element is None:
                self.elements.pop(key, None)
            elif key != "_id":
                self.elements[key] = element
        self.changed.set()

    def find(self, prop: str, value: object) -> tuple[str, Any] | None:
        for key, element in self.elements.items():
            if element.get("props", {}).get(prop) == value:
                return key, element
        return None

    async def until(self, true: Any) -> Any:
        async with asyncio.timeout(WAIT_s):
            while not (found := true()):
                self.changed.clear()
                await self.changed.wait()
        return found

    async def type(self, socket: Any, label: str, text: str) -> None:
        key, element = await self.until(lambda: self.find("aria-label", label))
        event = next(e for e in element["events"] if e["type"] == "update:value")
        for end in range(1, len(text) + 1):  # a keystroke at a time
            element["props"]["value"] = text[:end]
            message = {
                "id": int(key),
                "client_id": self.client,
                "listener_id": event["listener_id"],
                "args": [json.dumps([text[:end], element["props"]["turn"]])],
            }
            await socket.emit("event", message)
            await asyncio.sleep(0.01)

    def words(self, prop: str, value: object) -> str:
        """The text of an element, or of its first child with one."""
        found = self.find(prop, value)
        if found is None:
            return ""
        if found[1].get("text"):
            return str(found[1]["text"])
        children = [self.elements[str(child)] for child in found[1].get("children", ())]
        return str(children[0].get("text") or "") if children else ""


async def one(server: Server, number: int) -> tuple[str, str, str]:
    """Type a formula of one's own; (total, density, flash point) once all is there."""
    import aiohttp

    session = Session(server)
    async with aiohttp.ClientSession(cookie_jar=aiohttp.CookieJar(unsafe=True)) as http:
        socket = await session.open(http)
        await session.type(socket, "Material, row 1", "ethyl butyrate")
        await session.type(socket, "Grams, row 1", str(number + 1))
        await session.type(socket, "Material, row 2", "triacetin")
        await session.type(socket, "Grams, row 2", "100")
        total = f"{number + 101:.2f} g"
        await session.until(lambda: total in session.words("data-total", True))
        await session.until(
            lambda: any(e.get("text") == "Up to date" for e in session.elements.values())
        )
        written = [
            e["props"].get("value")
            for e in session.elements.values()
            if str(e.get("props", {}).get("aria-label", "")).startswith("Material, row")
        ]
        assert sorted(filter(None, written)) == ["ethyl butyrate", "triacetin"]
        found = (
            session.words("data-total", True),
            session.words("data-number", "density_g_mL"),
            session.words("data-number", "flash_point_closed_cup_C"),
        )
        await socket.disconnect()
    return found


async def all_at_once(server: Server) -> list[tuple[str, str, str]]:
    return list(await asyncio.gather(*(one(server, number) for number in range(SESSIONS))))


def test_fifty_sessions_at_once_stay_correct_and_apart(bench: Bench, server: Server):
    bench.row(1, "water", "7")
    bench.settled()
    with ThreadPoolExecutor(1) as apart:  # playwright has an event loop in this thread
        found = apart.submit(lambda: asyncio.run(all_at_once(server))).result()
    for number in (0, 9, 24, 49):
        rows = ("ethyl butyrate", float(number + 1)), ("triacetin", 100.0)
        expected = assess(formula(*rows)).estimates
        total, density, flash = found[number]
        assert total.startswith(f"{number + 101:.2f} g")
        assert density == f"{expected['density'].interval()[0] / 1e3:.4f} g/mL"
        flash_C = expected["flash_point_closed_cup"].interval()[0] - 273.15
        assert flash == f"{flash_C:.0f} °C"
    densities = [float(density.split()[0]) for _, density, _ in found]
    assert densities == sorted(densities, reverse=True)
    assert bench.materials() == ["water"]
    bench.open()
    bench.settled()
    assert bench.materials() == ["water"]
