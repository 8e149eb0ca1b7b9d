"""axe-core finds nothing serious in any state of the page."""

from __future__ import annotations

import pytest

from tests.browser.conftest import Bench

GRAVE = ("serious", "critical")


def grave(bench: Bench) -> list[str]:
    from axe_playwright_python.sync_playwright import Axe

    found = Axe().run(bench.page).response["violations"]
    return [
        f"{one['id']}: {one['help']}: {node['html'][:160]}"
        for one in found
        if one["impact"] in GRAVE
        for node in one["nodes"]
    ]


def test_empty(bench: Bench):
    assert "\n".join(grave(bench)) == ""


def test_with_an_answer_and_its_pictures(bench: Bench):
    bench.example()
    bench.page.locator(".answers .picture img").nth(1).wait_for(timeout=60_000)
    bench.page.get_by_text("Good to know").click()
    bench.page.get_by_text("Classes by other texts").click()
    assert "\n".join(grave(bench)) == ""


def test_stale(bench: Bench):
    bench.example()
    bench.page.evaluate("document.querySelector('.answers').classList.add('stale')")
    assert "\n".join(grave(bench.still())) == ""


def test_with_errors(bench: Bench):
    bench.row(1, "vannilin", "x")
    bench.row(2, "ionone", "1")
    bench.state("to mend")
    bench.page.locator("li.line", has_text="can mean several").wait_for()
    assert "\n".join(grave(bench)) == ""


def test_a_rows_dialog_and_the_settings(bench: Bench):
    bench.row(1, "vanillin", "1")
    bench.settled()
    bench.page.get_by_text("Units and language").click()
    assert "\n".join(grave(bench)) == ""
    bench.page.get_by_role("button", name="More about row 1").click()
    bench.page.get_by_role("dialog").wait_for()
    assert "\n".join(grave(bench.still())) == ""


@pytest.mark.parametrize("size", [(768, 1024), (390, 844)])
def test_small_screens(windows, size: tuple[int, int]):
    bench = windows(size=size).open().example()
    assert "\n".join(grave(bench)) == ""


def test_every_question_open_and_answered(bench: Bench):
    bench.row(1, "ethyl butyrate", "1.6")
    bench.row(2, "vanillin", "0.4")
    bench.row(3, "triacetin", "8")
    bench.settled()
    for key, button in (("fix", "Find changes"), ("warm", ""), ("burn", ""), ("volumes", ""),
                        ("dose", "Dose"), ("own", ""), ("saved", "Save a version"),
                        ("compare", ""), ("take", "")):  # fmt: skip
        inside = bench.question(key)
        if button:
            inside.get_by_role("button", name=button).click()
    material = bench.question("material")
    material.get_by_label("Name, synonym").fill("vanillin")
    material.get_by_role("button", name="Look it up").click()
    carriers = bench.question("carriers")
    carriers.get_by_label("Carriers, one a line").fill("ethanol")
    carriers.get_by_role("button", name="Put them side by side").click()
    for key in ("fix", "warm", "burn", "dose", "material", "carriers"):
        bench.answered(key)
    carriers.get_by_role("rowheader", name="ethanol").wait_for(timeout=60_000)
    assert "\n".join(grave(bench)) == ""
