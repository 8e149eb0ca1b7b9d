"""Who is let in: our own Host and Origin only, nothing that is too large."""

from __future__ import annotations

import asyncio
from typing import Any

import pytest

from blendwright.app.web.guard import Guard, NoncedScripts, ServerAddress
from blendwright.formula.table_files import MOST_BYTES

ADDRESS = ServerAddress(8765)
OURS = "127.0.0.1:8765"


async def _page(scope: Any, receive: Any, send: Any) -> None:
    body = b"<html><script>1</script><scripture></html>"
    headers = [(b"content-type", b"text/html"), (b"content-length", str(len(body)).encode())]
    if scope["type"] == "websocket":
        await send({"type": "websocket.accept"})
        return
    while (await receive()).get("more_body"):
        pass
    await send({"type": "http.response.start", "status": 200, "headers": headers})
    await send({"type": "http.response.body", "body": body})


def ask(
    headers: dict[str, str], method: str = "GET", kind: str = "http", chunks: int = 0
) -> tuple[Any, dict[str, str], bytes]:
    """(status or message type, headers, body) of one request."""
    sent: list[dict[str, Any]] = []
    left = [{"type": "http.request", "body": b"x" * 1_000_000, "more_body": True}] * chunks
    left.append({"type": "http.request", "body": b"", "more_body": False})

    async def receive() -> dict[str, Any]:
        return left.pop(0)

    async def send(message: Any) -> None:
        sent.append(message)

    scope = {
        "type": kind,
        "method": method,
        "path": "/",
        "headers": [(name.encode(), value.encode()) for name, value in headers.items()],
    }
    asyncio.run(Guard(NoncedScripts(_page), ADDRESS)(scope, receive, send))
    if kind == "websocket":
        return sent[0]["type"], {}, b""
    told = {name.decode(): value.decode() for name, value in sent[0]["headers"]}
    return sent[0]["status"], told, sent[1]["body"]


@pytest.mark.parametrize("host", [OURS, "localhost:8765", "[::1]:8765"])
def test_our_own_names_are_let_in(host: str):
    assert ask({"host": host})[0] == 200


@pytest.mark.parametrize(
    "host",
    ["", "evil.test", "evil.test:8765", "127.0.0.1:80", "127.0.0.1.evil.test:8765", "a b:8765",
     "192.168.1.4:8765", "127.0.0.1:8765@evil.test"],
)  # fmt: skip
def test_a_foreign_host_is_refused(host: str):
    assert ask({"host": host})[0] == 403


@pytest.mark.parametrize("kind", ["http", "websocket"])
@pytest.mark.parametrize("origin", ["http://evil.test", "null", "https://127.0.0.1:8765"])
def test_a_foreign_origin_is_refused(origin: str, kind: str):
    found = ask({"host": OURS, "origin": origin}, kind=kind)[0]
    assert found in (403, "websocket.close")


def test_a_change_needs_our_origin():
    assert ask({"host": OURS}, "POST")[0] == 403
    assert ask({"host": OURS, "origin": f"http://{OURS}"}, "POST")[0] == 200
    assert ask({"host": OURS}, kind="websocket")[0] == "websocket.close"
    assert ask({"host": OURS, "origin": f"http://{OURS}"}, kind="websocket")[0] == (
        "websocket.accept"
    )


def test_another_site_may_link_to_the_page_but_not_use_its_parts():
    link = {"host": OURS, "sec-fetch-site": "cross-site", "sec-fetch-mode": "navigate"}
    assert ask(link)[0] == 200
    assert ask({**link, "sec-fetch-mode": "no-cors"})[0] == 403


def test_too_much_is_refused_by_what_it_says_and_by_what_it_sends():
    said = {"host": OURS, "origin": f"http://{OURS}", "content-length": str(2 * MOST_BYTES)}
    assert ask(said, "POST")[0] == 413
    unsaid = {"host": OURS, "origin": f"http://{OURS}"}
    status, _, body = ask(unsaid, "POST", chunks=6)
    assert status == 413
    assert b"5 MB" in body


def test_scripts_get_the_nonce_of_the_policy_and_the_length_is_right():
    _, headers, body = ask({"host": OURS})
    nonce = headers["content-security-policy"].split("nonce-")[1].split("'")[0]
    assert f'<script nonce="{nonce}">'.encode() in body
    assert b"<scripture>" in body
    assert int(headers["content-length"]) == len(body)
    assert "default-src 'none'" in headers["content-security-policy"]
    assert nonce not in ask({"host": OURS})[1]["content-security-policy"]


def test_with_others_let_in_only_addresses_and_our_own_name_are_ours():
    address = ServerAddress(8765, lets_others_in=True)
    assert address.is_ours("192.168.1.4:8765")
    assert not address.is_ours("evil.test:8765")
