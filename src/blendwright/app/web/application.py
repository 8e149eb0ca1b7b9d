"""The web application: one page in each language, on NiceGUI."""

from __future__ import annotations

import gc
import secrets
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from typing import TYPE_CHECKING

from fastapi import FastAPI
from nicegui import app, ui
from starlette.middleware.gzip import GZipMiddleware

from blendwright.app.web.bench import Services
from blendwright.app.web.guard import App, NoncedScripts
from blendwright.app.web.hands import Hands
from blendwright.app.web.page import Page, stylesheet
from blendwright.app.web.ready import hand_out
from blendwright.app.web.state import Sheet
from blendwright.app.web.texts import LANGUAGES, Language, Texts
from blendwright.app.web.work_store import WorkStore

if TYPE_CHECKING:
    from blendwright.app.web.server import Serving

LANGUAGE_PACKS = {"en": "en-US", "de": "de-DE", "fr": "fr"}
LEAST_ZIPPED_BYTES = 1000
# The framework draws the whole page anew at each piece of news, and watches every property of every
# element for changes that never come: the server sends an element whole, and only a field of the
# framework's own is changed in place. Unwatched, the same drawing takes less than half the time
# (Chromium, 675 elements: 42 ms, then 17). Where the framework lacks the function, nothing happens.
UNWATCHED = """<script type="module">
const fill = window.replaceUndefinedAttributes;
if (fill) window.replaceUndefinedAttributes = (element) => {
  fill(element);
  if (!element.events.some((event) => event.type === "update:modelValue")) Vue.markRaw(element);
};
</script>"""
ICON = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 32 32"><path d="M12 3h8v9l8 14a2 2 0 0 1'
    '-2 3H6a2 2 0 0 1-2-3l8-14z" fill="#fff" stroke="#123f3c" stroke-width="3"/></svg>'
)


def application(serving: Serving, store: WorkStore, hands: Hands, secret: str) -> App:
    """Everything inside the guard."""
    blank = Sheet(bench_C=serving.bench_C, pressure_kPa=serving.pressure_kPa).tidied()
    services = Services(
        serving.folder, store, hands, serving.lets_others_in, blank, settings=serving.settings
    )

    @asynccontextmanager
    async def living(_: FastAPI) -> AsyncIterator[None]:
        hands.start_others()
        gc.freeze()
        gc.enable()
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
    from blendwright.app.web.server import COOKIE_NAME, COOKIE_AGE_s

    return {"session_cookie": COOKIE_NAME, "max_age": COOKIE_AGE_s, "same_site": "strict"}


def _add_page(services: Services, serving: Serving, language: Language) -> None:
    path = "/" if language == "en" else f"/{language}"
    opened: set[str] = set()

    @ui.page(path, title=Texts(language)("title"), language=LANGUAGE_PACKS[language])  # type: ignore[arg-type]
    def page(desk: str = "") -> None:
        ui.add_css(stylesheet())
        ui.add_body_html(UNWATCHED)
        owner = str(app.storage.browser["id"])
        begins = serving.file is not None and not desk and owner not in opened
        # a file from the command line lies on a desk of its own, not on the work of last time
        made = Page(services, language, secrets.token_hex(8) if begins else desk)
        if begins and serving.file is not None:
            opened.add(owner)
            made.open_file(*serving.file)
        else:
            made.bench.ask()
