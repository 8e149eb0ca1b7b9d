"""Two windows on one formula: the second is told before it can change anything, and may choose."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import expect

from tests.browser.conftest import ANSWER_ms, Bench, until, written
from tests.browser.test_accessible import grave

TOLD = "This formula is open in another window"


@pytest.fixture
def first(windows: Any) -> Bench:
    bench: Bench = windows().open()
    bench.row(1, "vanillin", "1")
    return bench.settled().kept()


def another(windows: Any, first: Bench, path: str = "") -> Bench:
    bench: Bench = windows(context=first.page.context)
    bench.page.goto(first.server.url + path)
    return bench.ready()


def choose(bench: Bench, choice: str) -> Bench:
    dialog = bench.page.get_by_role("dialog", name=TOLD)
    dialog.get_by_role("button", name=choice).click()
    dialog.wait_for(state="hidden")
    return bench


def test_the_second_window_is_told_and_can_change_nothing_before_it_chooses(windows, first: Bench):
    second = another(windows, first)
    second.page.get_by_role("dialog", name=TOLD).wait_for()
    second.page.locator(".q-layout[inert]").wait_for()
    assert "\n".join(grave(second.still())) == ""
    second.page.keyboard.press("Escape")
    assert second.page.get_by_role("dialog", name=TOLD).is_visible()
    first.cell("Grams", 1).fill("2")
    first.settled().kept()
    assert not first.page.get_by_role("dialog").count()


def test_a_copy_leaves_the_first_windows_formula_alone(windows, first: Bench):
    second = choose(another(windows, first), "Work on a copy here")
    second.page.wait_for_url(f"**document={second.desk}")
    assert second.desk != first.desk
    second.page.get_by_role("button", name="New", exact=True).click()
    expect(second.cell("Material", 1)).to_have_value("")  # what is typed before goes as well
    second.row(1, "linalool", "3")
    second.settled().kept()
    assert written(first.server.folder, first.desk) == [("vanillin", "1")]
    first.page.reload()
    first.ready().settled()
    assert first.materials() == ["vanillin"]  # not the formula that was worked on last
    second.page.reload()
    second.ready().settled()
    assert second.materials() == ["linalool"]
    assert f"document={second.desk}" in second.page.url


def test_the_one_who_takes_over_has_what_the_other_typed_and_the_other_is_told(
    windows, first: Bench
):
    second = another(windows, first)
    second.page.get_by_role("dialog", name=TOLD).wait_for()
    first.cell("Grams", 1).fill("7")
    choose(second, "Take it over here")
    second.page.wait_for_function("document.querySelector('li.line input.grams').value === '7'")
    first.page.get_by_role("dialog", name=TOLD).wait_for()
    second.cell("Grams", 1).fill("8")
    second.settled().kept()
    choose(first, "Take it over here")
    first.page.wait_for_function("document.querySelector('li.line input.grams').value === '8'")
    second.page.get_by_role("dialog", name=TOLD).wait_for()
    assert written(first.server.folder, first.desk) == [("vanillin", "8")]


def test_a_window_that_waits_gets_the_formula_once_the_other_is_closed(windows, first: Bench):
    second = another(windows, first)
    second.page.get_by_role("dialog", name=TOLD).wait_for()
    first.cell("Grams", 1).fill("5")
    first.kept()
    first.page.close()
    second.page.get_by_role("dialog", name=TOLD).wait_for(state="hidden", timeout=ANSWER_ms)
    second.page.wait_for_function("document.querySelector('li.line input.grams').value === '5'")
    second.cell("Grams", 1).fill("6")
    second.settled().kept()


def test_a_page_laid_out_anew_in_its_own_tab_is_no_second_window(first: Bench):
    for _ in range(3):
        first.page.goto(first.server.url)
        first.ready()
        first.page.locator("[data-number=density_g_mL]", has_text="g/mL").wait_for()
        assert not first.page.get_by_role("dialog").count()
    first.cell("Grams", 1).fill("4")
    first.settled().kept()


def test_two_empty_windows_are_not_asked_anything(windows):
    first = windows().open()
    second = another(windows, first)
    second.page.wait_for_url("**document=**")
    assert not second.page.get_by_role("dialog").count()
    second.row(1, "vanillin", "1")
    first.row(1, "linalool", "2")
    second.settled().kept()
    first.settled().kept()
    assert first.desk != second.desk


def test_what_another_window_works_on_is_found_again(windows, first: Bench):
    second = choose(another(windows, first), "Work on a copy here")
    second.cell("Grams", 1).fill("9")
    second.settled().kept()
    link = second.saved().get_by_role("link", name="vanillin")
    assert f"document={first.desk}" in link.get_attribute("href")
    desk = first.desk
    first.page.close()
    link.click()
    second.page.wait_for_url(f"**document={desk}")
    second.ready()
    until(lambda: second.cell("Grams", 1).input_value() == "1")
