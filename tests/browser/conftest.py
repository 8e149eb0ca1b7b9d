"""A server in a process of its own, and Debian's Chromium.

Debian's Chromium without its own windows (chromium-headless-shell) takes half as long over each
page; where it is not installed, or CHROMIUM names it, the whole Chromium is asked.

Without NiceGUI, playwright or Chromium these tests are skipped, saying which; where CI is "true"
they fail instead.
"""

from __future__ import annotations

import json
import os
import shutil
import signal
import socket
import sqlite3
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass, field
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import pytest

CHROMIUM = "/usr/bin/chromium"
WITHOUT_WINDOWS = "/usr/bin/chromium-headless-shell"
START_s = 60.0
ANSWER_ms = 60_000


def _missing() -> str:
    packages = {"nicegui": "nicegui", "playwright": "playwright", "axe": "axe_playwright_python"}
    for name, module in packages.items():
        if find_spec(module) is None:
            return f"{name} is not installed"
    return "" if _browser() else f"no {CHROMIUM}"


def _browser() -> str | None:
    asked = os.environ.get("CHROMIUM")
    return asked or shutil.which(WITHOUT_WINDOWS) or shutil.which(CHROMIUM)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    reason = _missing()
    if not reason or os.environ.get("CI") == "true":
        return
    here = Path(__file__).parent
    for item in items:
        if here in Path(item.fspath).parents:
            item.add_marker(pytest.mark.skip(reason=reason))


def _source_folders() -> str:
    """PYTHONPATH with every folder in full: the server runs in a folder of its own."""
    folders = os.environ.get("PYTHONPATH", "").split(os.pathsep)
    return os.pathsep.join(str(Path(folder).resolve()) for folder in folders if folder)


def until(true: Callable[[], object], wait_s: float = 30.0) -> None:
    """Wait for what can be asked of this computer, but not of the page."""
    end = time.monotonic() + wait_s
    while not true():
        assert time.monotonic() < end, "it never came true"
        time.sleep(0.02)


def free_port() -> int:
    with socket.socket() as trial:
        trial.bind(("127.0.0.1", 0))
        return int(trial.getsockname()[1])


@dataclass
class Server:
    """`blendwright serve` in a folder of its own."""

    folder: Path
    port: int = field(default_factory=free_port)
    arguments: tuple[str, ...] = ()
    process: subprocess.Popen[bytes] | None = None
    started_in_s: float = 0.0

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}/"

    def start(self) -> Server:
        command = [sys.executable, "-m", "blendwright", "serve", *self.arguments]
        command += ["--no-browser", "--port", str(self.port), "--folder", str(self.folder)]
        began = time.monotonic()
        environment = {**os.environ, "PYTHONPATH": _source_folders()}
        # its own word of where it serves is not what a test or a measurement prints
        self.process = subprocess.Popen(
            command, cwd=self.folder, env=environment, stdout=subprocess.DEVNULL
        )
        while time.monotonic() - began < START_s and self.process.poll() is None:
            try:
                urllib.request.urlopen(self.url, timeout=5).read()
            except (urllib.error.URLError, ConnectionError, TimeoutError):
                time.sleep(0.05)
            else:
                self.started_in_s = time.monotonic() - began
                return self
        raise TimeoutError("the server did not start")

    @property
    def is_running(self) -> bool:
        return self.process is not None and self.process.poll() is None

    def kill(self) -> None:
        """As a power cut would."""
        assert self.process is not None
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()

    def stop(self) -> None:
        if self.process is not None and self.is_running:
            self.process.send_signal(signal.SIGINT)
            try:
                self.process.wait(10)
            except subprocess.TimeoutExpired:
                self.kill()


@pytest.fixture(scope="session")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    made = Server(tmp_path_factory.mktemp("bench")).start()
    yield made
    made.stop()


@pytest.fixture(autouse=True)
def no_observations_left(server: Server) -> Iterator[None]:
    """What one test tells the bench saw must not move another test's figures."""
    yield
    for file in server.folder.glob("observations.sqlite*"):
        file.unlink()


@pytest.fixture(scope="session")
def chromium() -> Iterator[Any]:
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        options = ["--no-sandbox", "--disable-gpu"]
        browser = playwright.chromium.launch(executable_path=_browser(), args=options)
        yield browser
        browser.close()


KEPT = ("material", "grams", "strength_pct", "carrier")


def written(
    folder: Path, desk: str, cells: Sequence[str] = ("material", "grams")
) -> list[tuple[str, ...]] | None:
    """The cells of each row that the folder has of a desk; None where it has no such."""
    with closing(sqlite3.connect(folder / "work.sqlite3", timeout=5.0)) as db:
        row = db.execute("SELECT sheet FROM document WHERE id = ?", (desk,)).fetchone()
    if row is None:
        return None
    return [tuple(one.get(cell, "") for cell in cells) for one in json.loads(row[0])["lines"]]


@dataclass
class Bench:
    """A window, driven as a person would: by labels, roles and keys."""

    page: Any
    server: Server
    errors: list[str]
    asked: list[str]

    def open(self, path: str = "") -> Bench:
        self.page.goto(self.server.url + path)
        self.page.locator("li.line").first.wait_for()
        return self.ready()

    def cell(self, column: str, row: int) -> Any:
        return self.page.get_by_label(f"{column}, row {row}", exact=True)

    def row(self, number: int, material: str, grams: str) -> None:
        self.cell("Material", number).fill(material)
        self.cell("Grams", number).fill(grams)

    def example(self) -> Bench:
        self.page.get_by_role("button", name="Open the example").first.click()
        return self.settled()

    def settled(self) -> Bench:
        """Until the answer is that of the formula as it stands: what is typed has arrived."""
        self.kept()
        self.page.locator(".bench-head .state", has_text="Up to date").wait_for(timeout=ANSWER_ms)
        return self

    def state(self, words: str) -> None:
        self.page.locator(".bench-head .state", has_text=words).wait_for(timeout=ANSWER_ms)

    def still(self) -> Bench:
        """Until nothing moves or fades any more: half-faded text has no contrast.

        What has just come begins to fade in a frame or two later.
        """
        self.page.evaluate(
            "new Promise((then) => requestAnimationFrame(() => requestAnimationFrame(then)))"
        )
        self.page.wait_for_function("document.getAnimations().length === 0")
        return self

    def ready(self) -> Bench:
        """Until the page that the browser is going to can be typed in."""
        self.page.wait_for_function("window.did_handshake === true")
        return self

    @property
    def desk(self) -> str:
        """The name of what this window has open."""
        return str(self.page.locator(".side.formula").get_attribute("data-document"))

    def kept(self) -> Bench:
        """Until what the grid shows is on the disk."""

        def same() -> bool:
            shown = self.shown()
            return not shown or written(self.server.folder, self.desk, KEPT) == shown

        until(same)
        return self

    def shown(self) -> list[tuple[str, ...]]:
        """The cells KEPT of the rows that hold anything."""
        rows = self.page.evaluate(
            """(cells) => [...document.querySelectorAll('li.line')].map((line) =>
              cells.map((one) => line.querySelector('.' + one).value.trim()))""",
            list(KEPT),
        )
        return [tuple(row) for row in rows if any(row)]

    def number(self, name: str) -> str:
        return str(self.page.locator(f'[data-number="{name}"]').text_content())

    @property
    def flash_C(self) -> float:
        return float(self.number("flash_point_closed_cup_C").split()[0].replace("−", "-"))

    def question(self, key: str) -> Any:
        """A question, opened by its tab."""
        self.page.locator(f"#tab-{key}").click()
        inside = self.page.locator(f"#question-{key} > .inside")
        inside.locator("> *").first.wait_for(state="attached")
        return inside

    def choose(self, name: str) -> None:
        """One option of several in a list that is open. The page shows it as chosen once the server
        has answered; a click before that would forget this one."""
        self.page.get_by_role("option", name=name).click()
        self.page.get_by_role("option", name=name, selected=True).wait_for()

    def saved(self) -> Any:
        """The dialog of saved formulas, opened."""
        self.page.get_by_role("button", name="Open …", exact=True).click()
        dialog = self.page.get_by_role("dialog", name="Open a formula")
        dialog.wait_for()
        return dialog

    def save(self, name: str = "") -> None:
        """Save a version, under a name of its own where one is given."""
        if name:
            self.page.get_by_label("Name", exact=True).first.fill(name)
        self.page.get_by_role("button", name="Save", exact=True).click()
        self.page.get_by_text("Saved ").last.wait_for()

    def answer(self, key: str) -> str:
        """One of the four answers, in a line."""
        return " ".join(str(self.page.locator(f'[data-answer="{key}"]').inner_text()).split())

    def answered(self, key: str) -> Any:
        """A section's answer, once it is there."""
        inside = self.page.locator(f"#question-{key} > .inside")
        inside.get_by_text("Working on it").wait_for(state="hidden", timeout=120_000)
        return inside

    def download(self, button: Any) -> Path:
        with self.page.expect_download(timeout=60_000) as found:
            button.click()
        return Path(found.value.path())

    def materials(self) -> list[str]:
        fields = self.page.locator("li.line input.material")
        found = [fields.nth(i).input_value() for i in range(fields.count())]
        return [name for name in found if name]

    def drop(self, name: str, content: bytes) -> None:
        """A file dropped on the formula."""
        import base64

        self.page.evaluate(
            """([name, data]) => {
              const bytes = Uint8Array.from(atob(data), (c) => c.charCodeAt(0));
              const files = new DataTransfer();
              files.items.add(new File([bytes], name));
              document.querySelector('.side.formula').dispatchEvent(
                new DragEvent('drop', {dataTransfer: files, bubbles: true, cancelable: true}));
            }""",
            [name, base64.b64encode(content).decode()],
        )

    def paste(self, text: str) -> None:
        """A table pasted into the first row."""
        self.cell("Material", 1).evaluate(
            """(field, text) => {
              const clipboardData = new DataTransfer();
              clipboardData.setData('text/plain', text);
              field.dispatchEvent(
                new ClipboardEvent('paste', {clipboardData, bubbles: true, cancelable: true}));
            }""",
            text,
        )


@pytest.fixture
def windows(chromium: Any, server: Server) -> Iterator[Any]:
    """Open windows; each context is a browser of its own. Nothing may go beyond this computer."""
    contexts: list[Any] = []
    benches: list[Bench] = []

    def make(context: Any = None, size: tuple[int, int] = (1280, 800), **options: Any) -> Bench:
        if context is None:
            viewport = {"width": size[0], "height": size[1]}
            context = chromium.new_context(viewport=viewport, reduced_motion="reduce", **options)
            contexts.append(context)
        page = context.new_page()
        errors: list[str] = []
        asked: list[str] = []
        page.on("pageerror", lambda error: errors.append(str(error)))
        page.on("console", lambda m: errors.append(m.text) if m.type == "error" else None)
        page.on("request", lambda request: asked.append(request.url))
        bench = Bench(page, server, errors, asked)
        benches.append(bench)
        return bench

    yield make
    for context in contexts:
        context.close()
    for bench in benches:
        assert all(url.startswith((server.url, "data:", "blob:", "http://127.0.0.1:"))
                   for url in bench.asked)  # fmt: skip


@pytest.fixture
def bench(windows: Any) -> Bench:
    """One window, open, empty."""
    opened: Bench = windows().open()
    return opened
