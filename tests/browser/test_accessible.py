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
    bench.page.locator(".do-now summary").click()
    bench.page.get_by_text("Classes by other texts").click()
    assert "\n".join(grave(bench)) == ""


def test_stale(bench: Bench):
    bench.example()
    bench.page.evaluate(
        "document.querySelectorAll('.answers').forEach((one) => one.classList.add('stale'))"
    )
    assert "\n".join(grave(bench.still())) == ""


def test_with_errors(bench: Bench):
    bench.row(1, "vannilin", "x")
    bench.row(2, "ionone", "1")
    bench.state("need correcting")
    bench.page.locator("li.line", has_text="can mean several").wait_for()
    assert "\n".join(grave(bench)) == ""


def test_a_rows_dialog_and_the_saved_formulas(bench: Bench):
    bench.row(1, "vanillin", "1")
    bench.settled().save("Vanilla")
    bench.saved().get_by_text("Vanilla, version 1").wait_for()
    assert "\n".join(grave(bench.still())) == ""
    bench.page.keyboard.press("Escape")
    bench.page.get_by_role("dialog").wait_for(state="hidden")
    bench.page.get_by_role("button", name="More about row 1").click()
    bench.page.get_by_role("dialog").wait_for()
    assert "\n".join(grave(bench.still())) == ""


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", [(1280, 800), (820, 1180), (390, 844)])
def test_every_width_light_and_dark(windows, size: tuple[int, int], scheme: str):
    bench = windows(size=size, color_scheme=scheme).open()
    assert "\n".join(grave(bench)) == ""
    bench.example()
    bench.page.locator(".answers .picture img").nth(1).wait_for(timeout=60_000)
    assert "\n".join(grave(bench.still())) == ""


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_every_question_open_and_answered(windows, scheme: str):
    bench = windows(color_scheme=scheme).open()
    bench.row(1, "ethyl butyrate", "1.6")
    bench.row(2, "vanillin", "0.4")
    bench.row(3, "triacetin", "8")
    bench.settled().save("Pear")
    keys = bench.page.evaluate(
        "[...document.querySelectorAll('.question')].map((one) => one.id.slice(9))"
    )
    buttons = {"fix": "Find changes", "dose": "Dose", "papers": "Make them"}
    for key in keys:
        inside = bench.question(key)
        if key == "carriers":
            inside.get_by_label("Carriers, one a line").fill("ethanol")
            inside.get_by_role("button", name="Put them side by side").click()
            inside.get_by_role("rowheader", name="ethanol").wait_for(timeout=60_000)
        elif key == "materials":
            inside.get_by_label("Name, synonym").fill("vanillin")
            inside.get_by_role("button", name="Look it up").click()
            inside.get_by_role("heading", name="vanillin").wait_for(timeout=60_000)
        elif key in buttons:
            inside.get_by_role("button", name=buttons[key], exact=True).click()
            bench.page.wait_for_timeout(150)
        bench.answered(key)
        assert "\n".join([f"{key}: {one}" for one in grave(bench.still())]) == ""
