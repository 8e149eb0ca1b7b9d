"""What the page costs: python tests/benchmark/page.py [keystrokes] (extras `page`, `browser`).

Start of the server, paints, bytes and requests of a first and a second visit, and the time from a
keystroke in the grams of a 20-row formula until the answer stands on the page: the amounts
(density, volumes), the four answers, and everything fresh, which ends the paleness.
Timed in the browser from the key's own time stamp to the change of the words; the next frame shows
them, up to 17 ms later. A key waits until the pictures of the last answer are drawn; in the second
run keys come 150 ms apart, and the last one's answer is timed.
"""

from __future__ import annotations

import os
import platform
import statistics
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from importlib.metadata import version
from itertools import cycle, islice
from pathlib import Path
from typing import Any

from playwright.sync_api import sync_playwright

sys.path.insert(0, str(Path(__file__).parents[2]))
from tests.browser.conftest import CHROMIUM, Bench, Server

KEYS = 60
STARTS = 3
VISITS = 5
BURSTS, BURST_KEYS, BURST_APART_ms = 10, 6, 150
ROWS = (
    "ethyl acetate 1.2", "isoamyl acetate 2.1", "hexyl acetate 1.4", "ethyl butyrate 1.6",
    "ethyl 2-methylbutyrate 0.8", "pear ester 0.25", "cis-3-hexenol 0.3", "benzaldehyde 0.05",
    "gamma-decalactone 0.15", "linalool 0.1", "cardamom oil 0.2", "eugenol 0.05", "vanillin 0.9",
    "ethyl maltol 0.25", "triethyl citrate 0.6", "limonene 0.05", "geraniol 0.05",
    "ethyl hexanoate 0.2", "benzyl alcohol 0.5", "propylene glycol 60",
)  # fmt: skip
PARTS = {
    "amounts": "[data-number=density_g_mL]",
    "answers": "[data-answer=how_much] strong",
}
WATCH = """(parts) => {
  window.runs = [];
  window.keys = [];
  window.run = null;
  const words = (where) => document.querySelector(where).textContent;
  document.addEventListener('keydown', (e) => {
    if (e.key.length !== 1 || e.ctrlKey) return;
    const run = {start: e.timeStamp, was: {}};
    for (const part in parts) run.was[part] = words(parts[part]);
    window.run = run;
    requestAnimationFrame(() => requestAnimationFrame(
      () => window.keys.push(performance.now() - e.timeStamp)));
  }, true);
  new MutationObserver(() => {
    const run = window.run;
    if (!run) return;
    const now = performance.now() - run.start;
    for (const part in parts)
      if (!(part in run) && words(parts[part]) !== run.was[part]) run[part] = now;
    const stale = document.querySelector('.answers').classList.contains('stale');
    if (stale && !('stale' in run)) run.stale = now;
    if ('stale' in run && !stale && words('.bench-head .state') === 'Up to date') {
      run.everything = now;
      window.runs.push(run);
      window.run = null;
    }
  }).observe(document.body, {subtree: true, childList: true, characterData: true,
                             attributes: true});
}"""


def row(name: str, values: Sequence[float], unit: str = "ms", form: str = ".0f") -> None:
    """One line of the table."""
    ordered = sorted(values)
    if not ordered:
        print(f"| {name} | never seen | | 0 |")
        return
    p95 = ordered[round(0.95 * (len(ordered) - 1))]
    middle = statistics.median(ordered)
    print(f"| {name} | {middle:{form}} {unit} | {p95:{form}} {unit} | {len(ordered)} |")


def started() -> list[float]:
    """Seconds from the command to the first page served, each time in a folder of its own."""
    seconds = []
    for _ in range(STARTS):
        with tempfile.TemporaryDirectory() as folder:
            server = Server(Path(folder)).start()
            seconds.append(server.started_in_s)
            server.stop()
    return seconds


class Visit:
    """One visit: when it painted, when it could be typed in, what was sent for it."""

    def __init__(self, page: Any, server: Server) -> None:
        client = page.context.new_cdp_session(page)
        client.send("Network.enable")
        self.bytes_kB = 0.0
        self.requests = 0
        cached: set[str] = set()
        client.on("Network.requestServedFromCache", lambda e: cached.add(e["requestId"]))
        client.on("Network.loadingFinished", lambda e: self._loaded(e, cached))
        client.on("Network.webSocketFrameReceived", self._frame)
        Bench(page, server, [], []).open()
        self.ready_ms = float(page.evaluate("performance.now()"))
        page.wait_for_load_state("networkidle")
        paints = page.evaluate(
            "Object.fromEntries(performance.getEntriesByType('paint')"
            ".map((one) => [one.name, one.startTime]))"
        )
        self.first_ms = float(paints["first-paint"])
        self.content_ms = float(paints["first-contentful-paint"])
        client.detach()

    def _loaded(self, event: dict[str, Any], cached: set[str]) -> None:
        if event["requestId"] not in cached and event["encodedDataLength"] > 0:
            self.bytes_kB += event["encodedDataLength"] / 1e3
            self.requests += 1

    def _frame(self, event: dict[str, Any]) -> None:
        self.bytes_kB += len(event["response"]["payloadData"]) / 1e3


def visits(browser: Any, server: Server) -> tuple[list[Visit], list[Visit]]:
    """First visits, each in a browser that knows nothing, and second ones."""
    first, again = [], []
    for _ in range(VISITS):
        context = browser.new_context(viewport={"width": 1280, "height": 800})
        for found in (first, again):
            page = context.new_page()
            found.append(Visit(page, server))
            page.close()
        context.close()
    return first, again


def pictures(bench: Bench) -> str:
    """What the two pictures beside the answer show."""
    shown = "[...document.querySelectorAll('.answers .picture img')].map((one) => one.src).join()"
    return str(bench.page.evaluate(shown))


def drawn(bench: Bench, before: str) -> None:
    """Until both pictures are drawn anew: nothing is under way any more."""
    bench.page.wait_for_function(
        """(before) => {
          const old = before.split(',data:');
          const now = [...document.querySelectorAll('.answers .picture img')].map((i) => i.src);
          const said = now.join().split(',data:');
          return now.length === 2 && said.every((one, place) => one !== old[place]);
        }""",
        arg=before,
        timeout=60_000,
    )


def typed(bench: Bench, count: int) -> list[dict[str, float]]:
    """Timings of so many keystrokes, each one another first digit in the first row's grams."""
    field = bench.cell("Grams", 1)
    for number, digit in enumerate(islice(cycle("195373"), count)):
        before = pictures(bench)
        field.focus()
        bench.page.keyboard.press("Control+a")
        bench.page.keyboard.press(digit)
        bench.page.wait_for_function(f"window.runs.length > {number}", timeout=60_000)
        drawn(bench, before)
    found: list[dict[str, float]] = bench.page.evaluate("window.runs")
    return found


def bursts(bench: Bench) -> list[dict[str, float]]:
    """As `typed`, for the last of several in quick succession."""
    field = bench.cell("Grams", 1)
    bench.page.evaluate("window.runs = []")
    for number in range(BURSTS):
        before = pictures(bench)
        field.focus()
        bench.page.keyboard.press("Control+a")
        bench.page.keyboard.type(f"{2 + number % 7}.12345"[:BURST_KEYS], delay=BURST_APART_ms)
        bench.settled()
        bench.page.wait_for_function("window.run === null", timeout=60_000)
        drawn(bench, before)
    return list(bench.page.evaluate("window.runs"))[-BURSTS:]


def letters(bench: Bench) -> list[float]:
    """How long the browser takes to show a letter of a name, beside all the names it offers."""
    field = bench.cell("Material", 1)
    field.focus()
    bench.page.keyboard.press("Control+a")
    bench.page.evaluate("window.keys = []")
    bench.page.keyboard.type("ethyl 2-methylbutyrate", delay=300)
    found: list[float] = bench.page.evaluate("window.keys")
    return found


def where() -> str:
    """The machine and the versions."""
    chip = "unknown processor"
    if Path("/proc/cpuinfo").is_file():
        lines = Path("/proc/cpuinfo").read_text().splitlines()
        chip = next((x.partition(": ")[2] for x in lines if x.startswith("model name")), chip)
    browser = subprocess.run([CHROMIUM, "--version"], capture_output=True, text=True, check=False)
    named = ", ".join(f"{name} {version(name)}" for name in ("nicegui", "thermo", "numpy"))
    return (
        f"{chip}, {os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}; {platform.system()} "
        f"{platform.release()}; Python {platform.python_version()}, {named}; "
        f"{browser.stdout.split(' built')[0].strip()}, headless"
    )


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else KEYS
    starts = started()
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        server = Server(Path(folder)).start()
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        try:
            first, again = visits(browser, server)
            bench = Bench(browser.new_context().new_page(), server, [], []).open()
            bench.paste("\n".join("\t".join(one.rsplit(" ", 1)) for one in ROWS))
            bench.settled()
            drawn(bench, "")
            bench.page.evaluate(WATCH, PARTS)
            one_by_one, last = typed(bench, count), bursts(bench)
            shown = letters(bench)
        finally:
            browser.close()
            server.stop()
    print(f"{where()}.\n")
    print("| what | median | 95th percentile | times |\n|---|---|---|---|")
    row("from the command to the first page", starts, "s", ".1f")
    for name, found in (("first visit", first), ("again", again)):
        row(f"first paint, {name}", [v.first_ms for v in found])
        row(f"first contentful paint, {name}", [v.content_ms for v in found])
        row(f"ready for typing, {name}", [v.ready_ms for v in found])
        row(f"served, compressed, {name}", [v.bytes_kB for v in found], "kB")
        row(f"requests answered by the server, {name}", [float(v.requests) for v in found], "")
    for part in ("stale", "amounts", "answers", "everything"):
        seen = [run[part] for run in one_by_one if part in run]
        row(f"keystroke to {part}, 20 rows", seen)
    seen = [run["everything"] for run in last]
    row(f"last of {BURST_KEYS} keys {BURST_APART_ms} ms apart to everything", seen)
    row("a letter of a name to the next frame but one", shown)


if __name__ == "__main__":
    main()
