"""Draw the page's states for the docs: python docs/screens.py (extra `page`, playwright, Chromium).

Each picture is what the page itself shows, in a data folder made for it. Nothing is retouched; the
colours are only counted down so that the files stay small.
"""

from __future__ import annotations

import io
import sys
import tempfile
from pathlib import Path
from typing import Any

from PIL import Image
from playwright.sync_api import sync_playwright

ROOT = Path(__file__).parent.parent
sys.path[:0] = [str(ROOT), str(ROOT / "src")]

from tests.browser.conftest import CHROMIUM, Bench, Server  # noqa: E402

OUT = ROOT / "docs" / "screens"
COLOURS = 48
LONG_LIST = 1200  # formulas, so that one can watch it
WARNED = "material,grams\nethyl acetate,6\nvanillin,4\nwater,20\npropylene glycol,10\n"
WRONG = "vannilin\t0.9\nethyl butyrate\tmuch\nionone\t0.2\npropylene glycol\t20"


def keep(page: Any, name: str, grey: bool = False) -> None:
    """One picture, in few colours, with nothing pointed at."""
    page.mouse.move(0, 0)
    image = Image.open(io.BytesIO(page.screenshot()))
    image = image.convert("L") if grey else image.convert("RGB")
    image = image.quantize(COLOURS, dither=Image.Dither.NONE)
    image.save(OUT / f"{name}.png", optimize=True)
    print(f"{name}.png {(OUT / f'{name}.png').stat().st_size / 1e3:.0f} kB")


def window(
    browser: Any, server: Server, width: int = 1280, height: int = 800, scheme: str = "light"
) -> Bench:
    context = browser.new_context(
        viewport={"width": width, "height": height}, reduced_motion="reduce", color_scheme=scheme
    )
    return Bench(context.new_page(), server, [], []).open()


def draw(browser: Any, server: Server) -> None:
    bench = window(browser, server)
    keep(bench.page, "empty")

    bench.row(1, "ethyl butyrate", "1.6")
    bench.row(2, "propylene glycol", "8.4")
    bench.settled()
    bench.cell("Material", 3).fill("vani")
    bench.page.wait_for_timeout(800)
    keep(bench.page, "typing")

    bench = window(browser, server)
    bench.paste(WRONG)
    bench.state("need correcting")
    bench.page.wait_for_timeout(800)
    keep(bench.page, "error")

    bench = window(browser, server)
    bench.drop("warned.csv", WARNED.encode())
    bench.settled()
    bench.page.wait_for_timeout(6000)
    keep(bench.page, "warning")

    bench = window(browser, server).example()
    bench.page.wait_for_timeout(4000)
    keep(bench.page, "answer")
    keep(bench.page, "grey", grey=True)
    bench.page.locator(".answers .picture img").nth(1).wait_for(timeout=180_000)
    bench.page.get_by_role("heading", name="Pictures").evaluate("(e) => e.scrollIntoView()")
    keep(bench.page, "pictures")
    fix = bench.question("fix")
    fix.get_by_label("Flash point at least, °C").fill("30")
    fix.get_by_role("button", name="Find changes").click()
    fix.get_by_text("As it is:").wait_for(timeout=180_000)
    show(bench, "fix")
    keep(bench.page, "fix")
    warm = bench.question("warm")
    warm.locator("img").wait_for(timeout=180_000)
    show(bench, "warm")
    keep(bench.page, "warm")
    compare(bench)
    keep(bench.page, "compare")

    tablet = window(browser, server, 820, 1180).example()
    keep(tablet.page, "tablet")
    phone = window(browser, server, 390, 844).example()
    keep(phone.page, "phone")
    dark = window(browser, server, scheme="dark").example()
    keep(dark.page, "dark")

    notes(bench)
    work(bench)
    papers(bench)
    batch(bench)


def show(bench: Bench, key: str) -> None:
    """Bring a section to the top of the window."""
    bench.page.locator(f"#question-{key}").evaluate("(e) => e.scrollIntoView()")
    bench.page.wait_for_timeout(300)


def notes(bench: Bench) -> None:
    inside = bench.question("notes")
    inside.get_by_label("Value", exact=True).fill("22")
    inside.get_by_label("Note", exact=True).fill("Closed cup, twice")
    inside.get_by_role("button", name="Write it down").click()
    inside.get_by_text("Written down: flash").wait_for(timeout=180_000)
    inside.get_by_label("What was seen").click()
    bench.page.get_by_role("option", name="Clear at").click()
    inside.get_by_label("Value", exact=True).fill("20")
    inside.get_by_role("button", name="Write it down").click()
    inside.get_by_text("Written down: clear").wait_for(timeout=180_000)
    inside.get_by_text("This blend:").nth(1).wait_for(timeout=180_000)
    show(bench, "notes")
    keep(bench.page, "observations")


def work(bench: Bench) -> None:
    inside = bench.question("volumes")
    inside.get_by_label("Bottles, count x mL").fill("4x30")
    inside.get_by_label("Balance shows, g").fill("0.01")
    inside.get_by_role("button", name="Calculate").click()
    inside.get_by_text("On a balance").wait_for(timeout=180_000)
    show(bench, "volumes")
    keep(bench.page, "volumes")
    inside = bench.question("carriers")
    inside.get_by_label("Carriers, one a line").fill("triacetin\ntriethyl citrate\nethanol")
    inside.get_by_role("button", name="Put them side by side").click()
    inside.locator("img").first.wait_for(timeout=180_000)
    inside.locator("img").first.evaluate("(e) => e.scrollIntoView({block: 'end'})")
    bench.page.wait_for_timeout(300)
    keep(bench.page, "carriers")


def papers(bench: Bench) -> None:
    inside = bench.question("papers")
    inside.get_by_role("checkbox", name="Labels").click()
    inside.get_by_label("Lot").fill("PC-014")
    inside.get_by_role("button", name="Make them").click()
    inside.get_by_role("link", name="Save").wait_for(timeout=180_000)
    show(bench, "papers")
    keep(bench.page, "papers")


def batch(bench: Bench) -> None:
    rows = ["formula,material,grams"]
    for number in range(LONG_LIST - 1):
        rows += [
            f"pear-{number:04},ethyl butyrate,{1.0 + 0.001 * number:.3f}",
            f"pear-{number:04},vanillin,0.4",
            f"pear-{number:04},propylene glycol,{8.6 - 0.001 * number:.3f}",
        ]
    rows += ["pear-last,ethyl butyrat,1"]
    inside = bench.question("batch")
    with bench.page.expect_file_chooser() as chooser:
        inside.get_by_role("button", name="Choose a list").click()
    content = "\n".join(rows).encode()
    chooser.value.set_files({"name": "pears.csv", "mimeType": "text/csv", "buffer": content})
    inside.get_by_text(f"of {LONG_LIST:,} formulas, ").wait_for(timeout=180_000)
    show(bench, "batch")
    keep(bench.page, "batch")
    answered = f"{LONG_LIST - 1:,} of {LONG_LIST:,} formulas answered"
    inside.get_by_text(answered).wait_for(timeout=900_000)
    inside.get_by_text(answered).evaluate("(e) => e.scrollIntoView()")
    keep(bench.page, "batch-done")


def compare(bench: Bench) -> None:
    bench.save("Orchard pear")
    bench.cell("Grams", 1).fill("0.4")
    bench.cell("Grams", 4).fill("0.5")
    bench.settled()
    inside = bench.question("compare")
    inside.get_by_label("Saved versions").click()
    bench.page.get_by_role("option").first.click()
    bench.page.keyboard.press("Escape")
    inside.get_by_role("button", name="Put them side by side").click()
    inside.get_by_role("row", name="Flash point, closed cup").wait_for(timeout=180_000)
    bench.page.locator("#question-compare").evaluate("(e) => e.scrollIntoView()")


def main() -> None:
    OUT.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        server = Server(Path(folder)).start()
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        try:
            draw(browser, server)
        finally:
            browser.close()
            server.stop()


if __name__ == "__main__":
    main()
