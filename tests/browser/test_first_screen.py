"""The first screen: four answers and the row of questions stay in view, whatever is scrolled."""

from __future__ import annotations

import pytest

from tests.browser.conftest import Bench

SIZES = [(1280, 800), (820, 1180), (390, 844)]
ANSWERS = ("dissolves", "clear", "burns", "how_much")
IN_VIEW = """(where) => [...document.querySelectorAll(where)].every((one) => {
  const box = one.getBoundingClientRect();
  return box.height > 0 && box.top >= -1 && box.bottom <= innerHeight + 1;
})"""


def in_view(bench: Bench, where: str) -> bool:
    return bool(bench.page.evaluate(IN_VIEW, where))


@pytest.mark.parametrize("size", SIZES)
def test_the_answers_and_the_questions_are_in_view_while_the_last_row_is_typed(
    windows, size: tuple[int, int]
):
    bench = windows(size=size).open().example()
    last = bench.cell("Material", 17)
    last.scroll_into_view_if_needed()
    last.press_sequentially("water")
    for key in ANSWERS:
        assert in_view(bench, f'[data-answer="{key}"]'), key
    assert in_view(bench, ".tabs")
    if size[0] > 640:  # all of them without scrolling; a phone's row is pushed
        assert bench.page.evaluate(
            "(() => { const row = document.querySelector('.tabs');"
            " return row.scrollWidth <= row.clientWidth; })()"
        )
    bench.cell("Grams", 17).fill("1")
    bench.settled()


@pytest.mark.parametrize("size", SIZES)
def test_each_answer_has_a_word_a_figure_and_what_is_behind_it(windows, size: tuple[int, int]):
    bench = windows(size=size).open().example()
    for key, words in (
        ("dissolves", ("fully dissolved", "°C")),
        ("clear", ("chance of layers", "%")),
        ("burns", ("category", "flash point", "°C (")),
        ("how_much", ("mL", "°C")),
    ):
        assert all(word in bench.answer(key) for word in words), key
    behind = {"burns": "numbers", "how_much": "volumes"}
    for key, question in behind.items():
        bench.page.locator(f'[data-answer="{key}"]').click()
        bench.page.locator(f"#question-{question}").wait_for()
        assert bench.page.locator(f"#tab-{question}").get_attribute("aria-selected") == "true"


def test_warnings_stand_in_full_and_at_most_four_cautions(bench: Bench):
    bench.example()
    shown = bench.page.locator(".do-now .answers > div .finding:visible")
    grave = [str(one) for one in shown.all_inner_texts()]
    assert 0 < sum(words.startswith("Caution") for words in grave) <= 4
    assert any(words.startswith("Warning") for words in grave)
    folded = bench.page.locator(".do-now details .finding.warning")
    assert folded.count() == 0


@pytest.mark.parametrize("size", SIZES)
def test_every_field_says_what_it_is_at_every_width(windows, size: tuple[int, int]):
    """By a label of its own on a narrow screen, by the head of its column on a wide one."""
    bench = windows(size=size).open().example()
    own = bench.page.locator("li.line .cell-label:visible").count()
    heads = bench.page.locator(".line-heads:visible").count()
    assert bool(own) != bool(heads)
    assert own in (0, 5 * bench.page.locator("li.line").count())


def test_dark_follows_the_system(windows):
    bench = windows(color_scheme="dark").open()
    red, green, blue = bench.page.evaluate(
        "getComputedStyle(document.body).backgroundColor.match(/[0-9]+/g).map(Number)"
    )[:3]
    assert max(red, green, blue) < 60


def test_a_choice_keeps_its_question_open(bench: Bench):
    bench.example()
    inside = bench.question("dose")
    inside.get_by_label("Drink", exact=True).click()
    bench.page.get_by_role("option", name="Wine").click()
    assert inside.is_visible()
    inside.get_by_role("button", name="Dose", exact=True).click()
    bench.answered("dose").get_by_role("table").first.wait_for(timeout=60_000)
    assert inside.is_visible()


def test_saved_formulas_are_deleted_and_own_materials_edited_on_the_page(bench: Bench):
    bench.row(1, "vanillin", "1")
    bench.settled().save("To be deleted")
    dialog = bench.saved()
    dialog.get_by_role("button", name="Delete To be deleted · 1").click()
    sure = bench.page.get_by_role("dialog", name="Delete To be deleted · 1")
    sure.get_by_role("button", name="Delete", exact=True).click()
    dialog.get_by_text("To be deleted · 1 is deleted.").wait_for()
    assert not dialog.get_by_role("button", name="Open To be deleted · 1").count()
    bench.page.keyboard.press("Escape")
    dialog.wait_for(state="hidden")

    own = bench.question("materials")
    own.get_by_label("Material", exact=True).fill("plum base")
    own.get_by_label("Density, g/mL at 20 °C").fill("0.9")
    own.get_by_label("Flash point, closed cup, °C").fill("20")
    own.get_by_role("button", name="Keep it").click()
    own.get_by_text("plum base is kept.").wait_for(timeout=60_000)
    own.get_by_role("button", name="Edit plum base").click()
    own.get_by_label("Density, g/mL at 20 °C").fill("0.95")
    own.get_by_role("button", name="Keep it").click()
    own.get_by_text("density 0.95 g/mL, flash point 20 °C").wait_for(timeout=60_000)
    own.get_by_role("button", name="Delete plum base").click()
    sure = bench.page.get_by_role("dialog", name="Delete plum base")
    sure.get_by_role("button", name="Delete", exact=True).click()
    own.get_by_text("plum base is deleted.").wait_for(timeout=60_000)
