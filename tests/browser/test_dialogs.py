"""Dialogs: readable over their veil, closed by the keyboard; what is shown stays in the window."""

from __future__ import annotations

from tests.browser.conftest import Bench
from tests.browser.test_accessible import grave

SCROLLED_ms = 1000  # the page under a dialog, where it was scrolled


def read(bench: Bench, title: str) -> None:
    bench.page.get_by_role("dialog", name=title).wait_for()
    assert "\n".join(grave(bench.still())) == ""
    bench.page.keyboard.press("Escape")
    bench.page.get_by_role("dialog").wait_for(state="hidden")
    assert not bench.page.locator(".q-layout[inert]").count()


def test_every_dialog_can_be_read(bench: Bench):
    bench.row(1, "vanillin", "1")
    bench.row(2, "propylene glycol", "9")
    bench.settled()
    bench.page.get_by_role("button", name="More about row 1").click()
    read(bench, "One row")
    bench.page.get_by_role("button", name="Scale").click()
    read(bench, "Scale the whole batch")
    bench.page.get_by_role("button", name="Save", exact=True).click()
    read(bench, "Save")  # a formula without a name is asked for one
    bench.save("Pear")
    saved = bench.saved()
    for action in ("Rename", "Delete"):
        saved.get_by_role("button", name=action).first.click()
        bench.page.get_by_role("dialog", name=f"{action} Pear · 1").wait_for()
        assert "\n".join(grave(bench.still())) == ""
        bench.page.keyboard.press("Escape")
        bench.page.get_by_role("dialog", name=f"{action} Pear · 1").wait_for(state="hidden")
    read(bench, "Open a formula")
    notes = bench.question("notes")
    notes.get_by_label("Value", exact=True).fill("60")
    notes.get_by_role("button", name="Write it down").click()
    notes.get_by_role("button", name="Take back").first.click()
    bench.page.wait_for_timeout(SCROLLED_ms)
    read(bench, "Take back")
    notes.get_by_role("button", name="Take back").first.click()
    bench.page.get_by_role("dialog").get_by_role("button", name="Take back", exact=True).click()
    notes.get_by_text("Nothing written down yet.").wait_for(timeout=60_000)


def test_a_material_that_is_looked_up_leaves_the_head_in_the_window(bench: Bench):
    bench.row(1, "vanillin", "1")
    bench.settled()
    bench.page.get_by_role("button", name="More about row 1").click()
    bench.page.get_by_role("button", name="What is known of it").click()
    bench.answered("materials").get_by_role("heading", name="vanillin").wait_for(timeout=60_000)
    assert bench.page.locator(".bench-head").bounding_box()["y"] == 0


def test_the_keyboard_stays_in_a_dialog_and_comes_back_to_where_it_was(bench: Bench):
    bench.row(1, "vanillin", "1")
    bench.settled()
    more = bench.page.get_by_role("button", name="More about row 1")
    more.focus()
    bench.page.keyboard.press("Enter")
    bench.page.get_by_role("dialog").wait_for()
    bench.page.locator(".q-layout[inert]").wait_for()
    for _ in range(14):
        bench.page.keyboard.press("Tab")
        outside = "document.activeElement.closest('.q-layout') !== null"
        assert not bench.page.evaluate(outside)
    bench.page.keyboard.press("Escape")
    bench.page.get_by_role("dialog").wait_for(state="hidden")
    bench.page.wait_for_function(
        "document.activeElement.getAttribute('aria-label') === 'More about row 1'", timeout=5000
    )
