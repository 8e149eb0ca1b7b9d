"""What keeps the page to its own person: only our own Host and Origin, a strict policy, limits.

A page elsewhere must not reach this server through the person's browser (DNS rebinding, requests
across sites), and what it serves must not load or run anything from elsewhere. Plain ASGI, round
the whole application, so that it holds for the websocket too.

What the framework needs of the content policy, and why: Vue compiles its templates in the browser
('unsafe-eval'), and styles are set from scripts ('unsafe-inline' for styles only). Inline scripts
run only with the nonce of that very response.
"""

from __future__ import annotations

import ipaddress
import re
import secrets
import socket
from collections.abc import Awaitable, Callable, MutableMapping
from dataclasses import dataclass
from typing import Any

from blendwright.formula.table_files import MOST_BYTES

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

FORM_EXTRA_BYTES = 20_000  # a form's own words round one file
NONCE = "blendwright.nonce"
SAFE_METHODS = ("GET", "HEAD")
TOO_LARGE = f"The file is larger than {MOST_BYTES // 1_000_000} MB: not one formula; split it."


@dataclass(frozen=True)
class ServerAddress:
    """Where the page lives: the port, and whether others on the network are let in."""

    port: int
    lets_others_in: bool = False

    def is_ours(self, host: str) -> bool:
        """Whether a Host header means this server. A name that anyone can register never does;
        with others let in, an address in numbers or this computer's own name does."""
        name, port = _split(host)
        if port != self.port:
            return False
        if name in ("localhost", "127.0.0.1", "::1"):
            return True
        if not self.lets_others_in:
            return False
        own = socket.gethostname().casefold()
        return _is_address(name) or name in (own, f"{own}.local")


def _split(host: str) -> tuple[str, int]:
    """(name, port) of a Host header; port 80 where none is written, 0 where it can't be read.

    >>> _split("127.0.0.1:8765"), _split("[::1]:80"), _split("a b")
    (('127.0.0.1', 8765), ('::1', 80), ('', 0))
    """
    match = re.fullmatch(r"(?:\[([0-9a-fA-F:.]+)\]|([A-Za-z0-9._-]+))(?::(\d{1,5}))?", host)
    if match is None:
        return "", 0
    return (match[1] or match[2]).casefold(), int(match[3] or 80)


def _is_address(name: str) -> bool:
    try:
        ipaddress.ip_address(name)
    except ValueError:
        return False
    return True


class Guard:
    """ASGI: refuses what isn't ours, counts what is uploaded, adds the headers."""

    def __init__(self, app: App, address: ServerAddress) -> None:
        self.app = app
        self.address = address

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] not in ("http", "websocket"):
            await self.app(scope, receive, send)
            return
        refused = self._refusal(scope)
        if refused is not None:
            await _refuse(scope, send, 403, refused)
            return
        if scope["type"] == "websocket":
            await self.app(scope, receive, send)
            return
        headers = _headers(scope)
        most = MOST_BYTES + FORM_EXTRA_BYTES
        if _length(headers) > most:
            await _refuse(scope, send, 413, TOO_LARGE)
            return
        nonce = secrets.token_urlsafe(16)
        answer = _Answer(send, content_policy(nonce, headers.get("host", "")))
        scope = {**scope, NONCE: nonce}
        try:
            await self.app(scope, _counted(receive, most), answer.send)
        except _TooMuchError:
            if not answer.started:
                await _refuse(scope, send, 413, TOO_LARGE)

    def _refusal(self, scope: Scope) -> str | None:
        """Why a request is refused; None where it isn't."""
        headers = _headers(scope)
        host = headers.get("host", "")
        if not self.address.is_ours(host):
            return "This page answers only under its own address."
        origin = headers.get("origin")
        same = origin is not None and origin.casefold() == f"http://{host}".casefold()
        if origin is not None and not same:
            return "This request comes from another page."
        changes = scope["type"] == "websocket" or scope["method"] not in SAFE_METHODS
        if changes and not same:
            return "A change must come from the page itself."
        site = headers.get("sec-fetch-site", "same-origin")
        visit = headers.get("sec-fetch-mode") == "navigate" and not changes
        if site not in ("same-origin", "none") and not visit:
            return "This request comes from another page."
        return None


def content_policy(nonce: str, host: str) -> str:
    """The Content-Security-Policy of one response."""
    return "; ".join(
        (
            "default-src 'none'",
            f"script-src 'self' 'nonce-{nonce}' 'unsafe-eval'",
            "style-src 'self' 'unsafe-inline'",
            "img-src 'self' data: blob:",
            "font-src 'self'",
            f"connect-src 'self' ws://{host}",
            "form-action 'none'",
            "frame-ancestors 'none'",
            "base-uri 'none'",
        )
    )


class _TooMuchError(Exception):
    """More was sent than is taken."""


def _counted(receive: Receive, most: int) -> Receive:
    """Receives the upload; one that is longer than it said ends in an error."""
    so_far = 0

    async def counting() -> Message:
        nonlocal so_far
        message = await receive()
        so_far += len(message.get("body", b""))
        if so_far > most:
            raise _TooMuchError
        return message

    return counting


class _Answer:
    """One response on its way out, with our headers."""

    def __init__(self, send: Send, policy: str) -> None:
        self._send = send
        self._policy = policy
        self.started = False

    async def send(self, message: Message) -> None:
        if message["type"] == "http.response.start":
            self.started = True
            ours = [
                (b"content-security-policy", self._policy.encode()),
                (b"x-content-type-options", b"nosniff"),
                (b"referrer-policy", b"no-referrer"),
                (b"cross-origin-opener-policy", b"same-origin"),
                (b"cross-origin-resource-policy", b"same-origin"),
                (b"permissions-policy", b"camera=(), microphone=(), geolocation=()"),
            ]
            message = {**message, "headers": [*message["headers"], *ours]}
        await self._send(message)


class NoncedScripts:
    """ASGI, inside the compression: the scripts of an HTML page get the nonce of its response.

    Texts of the person's can't be meant by it: the framework escapes every "<" of theirs.
    """

    def __init__(self, app: App) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        nonce = scope.get(NONCE)
        if scope["type"] != "http" or nonce is None:
            await self.app(scope, receive, send)
            return
        start: Message | None = None
        body = b""

        async def marking(message: Message) -> None:
            nonlocal start, body
            if message["type"] == "http.response.start":
                kind = {name.lower(): value for name, value in message["headers"]}
                if kind.get(b"content-type", b"").startswith(b"text/html"):
                    start = message
                    return
            if start is None or message["type"] != "http.response.body":
                await send(message)
                return
            body += message.get("body", b"")
            if not message.get("more_body"):
                await _send_marked(send, start, body, nonce)

        await self.app(scope, receive, marking)


async def _send_marked(send: Send, start: Message, body: bytes, nonce: str) -> None:
    body = re.sub(rb"<script(?=[\s>])", f'<script nonce="{nonce}"'.encode(), body)
    headers = [
        (name, str(len(body)).encode() if name.lower() == b"content-length" else value)
        for name, value in start["headers"]
    ]
    await send({**start, "headers": headers})
    await send({"type": "http.response.body", "body": body})


def _headers(scope: Scope) -> dict[str, str]:
    return {name.decode("latin-1"): value.decode("latin-1") for name, value in scope["headers"]}


def _length(headers: dict[str, str]) -> int:
    text = headers.get("content-length", "0")
    return int(text) if text.isdigit() else 0


async def _refuse(scope: Scope, send: Send, status: int, words: str) -> None:
    if scope["type"] == "websocket":
        await send({"type": "websocket.close", "code": 1008, "reason": words})
        return
    await send(
        {
            "type": "http.response.start",
            "status": status,
            "headers": [
                (b"content-type", b"text/plain; charset=utf-8"),
                (b"x-content-type-options", b"nosniff"),
                (b"connection", b"close"),
            ],
        }
    )
    await send({"type": "http.response.body", "body": words.encode()})
