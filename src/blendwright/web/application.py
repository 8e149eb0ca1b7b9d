"""The web application: one page in each language, on NiceGUI."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from typing import TYPE_CHECKING

from fastapi import FastAPI
from nicegui import ui
from starlette.middleware.gzip import GZipMiddleware

from blendwright.web.bench import Services
from blendwright.web.guard import App, NoncedScripts
from blendwright.web.hands import Hands
from blendwright.web.page import Page, stylesheet
from blendwright.web.ready import hand_out
from blendwright.web.texts import LANGUAGES, Language, Texts
from blendwright.web.work_store import WorkStore

if TYPE_CHECKING:
    from blendwright.web.server import Serving

LANGUAGE_PACKS = {"en": "en-US", "de": "de-DE", "fr": "fr"}
LEAST_ZIPPED_BYTES = 1000
ICON = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 32 32"><path d="M12 3h8v9l8 14a2 2 0 0 1'
    '-2 3H6a2 2 0 0 1-2-3l8-14z" fill="#fff" stroke="#123f3c" stroke-width="3"/></svg>'
)


def application(serving: Serving, store: WorkStore, hands: Hands, secret: str) -> App:
    """Everything inside the guard."""
    services = Services(serving.folder, store, hands, serving.lets_others_in)

    @asynccontextmanager
    async def living(_: FastAPI) -> AsyncIterator[None]:
        hands.start_others()
        yield

    outer = FastAPI(lifespan=living, docs_url=None, redoc_url=None, openapi_url=None)
    for language in LANGUAGES:
        _add_page(services, serving, language)
    hand_out(services.ready)
    ui.run_with(
        outer,
        title=Texts("en")("title"),
        favicon=ICON,
        storage_secret=secret,
        session_middleware_kwargs=_cookie(),
        tailwind=False,
        gzip_middleware_factory=None,
        reconnect_timeout=10.0,
        show_welcome_message=False,
    )
    return GZipMiddleware(NoncedScripts(outer), minimum_size=LEAST_ZIPPED_BYTES, compresslevel=5)


def _cookie() -> dict[str, object]:
    from blendwright.web.server import COOKIE_NAME, COOKIE_AGE_s

    return {"session_cookie": COOKIE_NAME, "max_age": COOKIE_AGE_s, "same_site": "strict"}


def _add_page(services: Services, serving: Serving, language: Language) -> None:
    path = "/" if language == "en" else f"/{language}"
    opened: set[str] = set()

    @ui.page(path, title=Texts(language)("title"), language=LANGUAGE_PACKS[language])  # type: ignore[arg-type]
    def page(desk: str = "") -> None:
        ui.add_css(stylesheet())
        made = Page(services, language, desk)
        owner = made.bench.owner
        if serving.file is not None and owner not in opened:
            opened.add(owner)
            made.open_file(*serving.file)
        else:
            made.bench.ask()
