"""Files that the page has made and the browser may fetch: papers to print, tables to keep.

Each lies in memory under an address that nobody can guess, for the browser that asked for it and
no other; the oldest make room for new ones. Fetching changes nothing.
"""

from __future__ import annotations

import secrets
from collections import OrderedDict
from dataclasses import dataclass, field
from urllib.parse import quote

from nicegui import app
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response

MOST_FILES = 60
MOST_BYTES = 100_000_000
GONE = "This file is no longer kept here. Make it again on the page."


@dataclass(frozen=True)
class ReadyFile:
    """One file; HTML is shown in the browser, all else is saved under its name."""

    owner: str
    name: str
    media: str
    content: bytes


@dataclass
class ReadyFiles:
    """The latest files of one server."""

    _files: OrderedDict[str, ReadyFile] = field(default_factory=OrderedDict)

    def put(self, file: ReadyFile) -> str:
        """Keep a file, and say at which address."""
        key = secrets.token_urlsafe(24)
        self._files[key] = file
        while len(self._files) > MOST_FILES or (len(self._files) > 1 and self._size > MOST_BYTES):
            self._files.popitem(last=False)
        return f"/ready/{key}"

    @property
    def _size(self) -> int:
        return sum(len(file.content) for file in self._files.values())

    def get(self, key: str, owner: str) -> ReadyFile | None:
        """The file, for its owner only."""
        file = self._files.get(key)
        return file if file is not None and file.owner == owner else None


def hand_out(files: ReadyFiles) -> None:
    """Answer at the addresses of the files."""

    @app.get("/ready/{key}")
    def ready(key: str, request: Request) -> Response:
        file = files.get(key, str(request.session.get("id", "")))
        if file is None:
            return PlainTextResponse(GONE, status_code=404)
        shown = "inline" if file.media.startswith("text/html") else "attachment"
        return Response(
            file.content,
            media_type=file.media,
            headers={
                "content-disposition": f"{shown}; filename*=UTF-8''{quote(file.name)}",
                "cache-control": "no-store",
            },
        )
