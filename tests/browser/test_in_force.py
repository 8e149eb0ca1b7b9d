"""A grey figure in a field is what counts while the field is empty; nothing else stands there."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.browser.conftest import ANSWER_ms, Bench, Server, until

GREY = {
    # in words
    "Warm to, °C": "as needed",
    "Measured at, °C": "as at the bench",
    "Filled at, °C": "as measured",
    "Make so many g": "as written",
    "mL in a bottle": "whole batch",
    "Store at": "15 to 25 °C",
    # figures: each is tried below
    "Beaker, cm wide": "6",
    "Loss, %": "0",
    "It stands at, °C": "20",
    "Density at, °C": "20",
    "± (90 %)": "5.9",
}
FIELDS = """() => Object.fromEntries(
  [...document.querySelectorAll('.question input, .question textarea, .about-formula input')]
    .filter((one) => one.placeholder)
    .map((one) => [one.getAttribute('aria-label'), one.placeholder]))"""
BOTTLES = {"Bottles, count x mL": "2x30", "Measured at, °C": "25"}
# what to fill in, where the grey text is words; the bench is at 18 °C
TRIED = (
    ("warm", "Beaker, cm wide", "Calculate", {}, ""),
    ("volumes", "Measured at, °C", "Calculate", {}, "18"),
    ("volumes", "Filled at, °C", "Calculate", BOTTLES, "25"),
    ("volumes", "Loss, %", "Calculate", BOTTLES, ""),
    ("dose", "It stands at, °C", "Dose", {}, ""),
)


@pytest.fixture
def pear(bench: Bench) -> Bench:
    bench.row(1, "ethyl butyrate", "1.6")
    bench.row(2, "vanillin", "0.4")
    bench.row(3, "propylene glycol", "8")
    return bench.settled()


def asked(bench: Bench, key: str, button: str) -> str:
    """A section's answer in words, asked now."""
    inside = bench.question(key)
    bench.answered(key)
    inside.get_by_role("button", name=button, exact=True).click()
    bench.page.wait_for_timeout(150)
    bench.answered(key)
    without_pictures = """(answer) => [...answer.children]
      .filter((one) => one.tagName !== 'FIGURE').map((one) => one.innerText).join(' ')"""
    return str(inside.locator("> .answer").evaluate(without_pictures))


def test_every_grey_figure_is_known_to_be_in_force(pear: Bench):
    keys = pear.page.evaluate(
        "[...document.querySelectorAll('.question')].map((one) => one.id.slice(9))"
    )
    for key in keys:
        pear.question(key)
    pear.question("warm").locator(".verdict").wait_for(timeout=ANSWER_ms)
    until(lambda: set(pear.page.evaluate(FIELDS)) == set(GREY))
    assert pear.page.evaluate(FIELDS) == GREY


@pytest.mark.parametrize(("key", "label", "button", "with_it", "figure"), TRIED)
def test_left_empty_a_field_counts_as_its_grey_figure(
    pear: Bench, key: str, label: str, button: str, with_it: dict[str, str], figure: str
):
    pear.page.get_by_label("Bench, °C").fill("18")
    pear.settled()
    inside = pear.question(key)
    for other, text in with_it.items():
        inside.get_by_label(other).fill(text)
    field = inside.get_by_label(label, exact=True)
    field.fill("")
    empty = asked(pear, key, button)
    assert empty
    grey = figure or field.get_attribute("placeholder")
    field.fill(grey)
    assert asked(pear, key, button) == empty
    field.fill(f"{float(grey) + 5:g}")
    assert asked(pear, key, button) != empty


def test_the_usual_precision_is_the_grey_one(pear: Bench):
    inside = pear.question("notes")
    grey = float(inside.get_by_label("± (90 %)").get_attribute("placeholder"))
    inside.get_by_label("Value", exact=True).fill("41")
    inside.get_by_role("button", name="Write it down").click()
    inside.get_by_text(f"Written down: flash point 41 ± {grey:.0f} °C").wait_for(timeout=ANSWER_ms)


def test_what_a_dilution_is_in_stands_grey_where_it_is_not_written(pear: Bench):
    pear.cell("Strength, %", 1).fill("10")
    pear.settled()
    carrier = pear.cell("in", 1)
    until(lambda: carrier.get_attribute("placeholder") == "propylene glycol")
    before = pear.number("density_g_mL"), pear.flash_C
    carrier.fill("propylene glycol")
    pear.settled()
    assert (pear.number("density_g_mL"), pear.flash_C) == before
    carrier.fill("ethanol")
    pear.settled()
    assert (pear.number("density_g_mL"), pear.flash_C) != before


def test_with_a_mistake_in_a_row_no_figure_of_the_formula_before_is_left(pear: Bench):
    until(lambda: pear.cell("Millilitres at 20 °C", 1).get_attribute("placeholder"))
    pear.cell("Grams", 2).fill("0..4")
    pear.state("1 row needs correcting")
    for row in (1, 2, 3):
        assert not pear.cell("Millilitres at 20 °C", row).get_attribute("placeholder")
    assert not "".join(pear.page.locator("li.line .share").all_inner_texts()).strip()
    assert not pear.page.locator("[data-total]").inner_text()


def test_a_batch_size_that_nothing_is_made_up_to_says_so(pear: Bench):
    said = pear.page.get_by_text("Not used: no row has q.s.")
    pear.page.get_by_label("Make up to, g").fill("50")
    said.wait_for()
    pear.cell("Grams", 3).fill("q.s.")
    said.wait_for(state="hidden")
    pear.settled()
    assert "50.00 g" in pear.page.locator("[data-total]").inner_text()


def test_a_condition_that_cannot_be_read_says_what_counts_instead(pear: Bench):
    before = pear.flash_C
    for label, text, told in (
        ("Bench, °C", "200", "20 °C counts. Give −40 to 150."),
        ("Air, kPa", "high", "101.325 kPa counts. Give 10 to 120."),
    ):
        field = pear.page.get_by_label(label)
        was = field.input_value()
        field.fill(text)
        pear.page.get_by_text(told).wait_for()
        pear.state(f"Can't be read: {label}.")
        assert field.get_attribute("aria-invalid") == "true"
        assert pear.flash_C == before
        field.fill(was)
        pear.state("Up to date")
        pear.page.get_by_text(told).wait_for(state="detached")
        assert field.get_attribute("aria-invalid") != "true"


def test_the_settings_file_counts_on_the_page(chromium: Any, tmp_path: Path, monkeypatch):
    file = tmp_path / "settings.toml"
    file.write_text("temperature_C = 18\naltitude_m = 1000\ndrop_mL = 0.03\nbalance_g = 0.1\n")
    monkeypatch.setenv("BLENDWRIGHT_SETTINGS", str(file))
    folder = tmp_path / "work"
    folder.mkdir()
    server = Server(folder).start()
    context = chromium.new_context()
    try:
        bench = Bench(context.new_page(), server, [], []).open()
        for _ in range(2):
            assert bench.page.get_by_label("Bench, °C").input_value() == "18"
            assert bench.page.get_by_label("Air, kPa").input_value() == "89.8746"
            bench.example()
            assert bench.page.get_by_text("On the bench at 18 °C, the air at 89.8746 kPa").count()
            bench.page.get_by_role("button", name="New", exact=True).click()
        bench.example()
        inside = bench.question("volumes")
        inside.get_by_text("A drop is 0.03 mL").wait_for(timeout=ANSWER_ms)
        assert inside.get_by_label("Balance shows, g").input_value() == "0.1"
        inside.get_by_text("On a balance of 0.1 g", exact=True).wait_for()
    finally:
        context.close()
        server.stop()
