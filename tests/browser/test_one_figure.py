"""One question has one figure on the page, wherever it stands; and an answer says what it is of."""

from __future__ import annotations

import re

import pytest

from tests.browser.conftest import ANSWER_ms, Bench

STALE = "document.querySelector('#question-%s .stale') !== null"


@pytest.fixture
def cold(bench: Bench) -> Bench:
    """The example on another bench than the usual one, in thinner air."""
    bench.example()
    bench.page.get_by_label("Bench, °C").fill("18")
    bench.page.get_by_label("Air, kPa").fill("90")
    bench.page.get_by_text("On the bench at 18 °C, the air at 90 kPa").wait_for()
    return bench.settled()


def saved_and_compared(bench: Bench) -> None:
    bench.save()
    compare = bench.question("compare")
    compare.get_by_label("Saved versions").click()
    bench.page.get_by_role("option").first.click()
    bench.page.keyboard.press("Escape")
    compare.get_by_role("button", name="Put them side by side").click()
    compare.get_by_role("row", name="Flash point, closed cup").wait_for(timeout=ANSWER_ms)


def cells(bench: Bench, row: str) -> list[str]:
    found = bench.page.locator("#question-compare").get_by_role("row", name=row)
    return list(found.get_by_role("cell").all_inner_texts())


def test_the_flash_point_is_one_figure(cold: Bench):
    value = cold.number("flash_point_closed_cup_C")
    span = cold.page.locator('[data-number="flash_point_closed_cup_C"] + td').text_content()
    assert value in cold.answer("burns")
    burn = cold.question("burn")
    burn.locator(".verdict").wait_for(timeout=ANSWER_ms)
    assert burn.locator(".verdict").inner_text() == f"Flash point, closed cup: {value} ({span})"
    first = burn.get_by_role("row", name="1 ×", exact=False).first
    assert first.get_by_role("cell").all_inner_texts()[:2] == [value, span]
    saved_and_compared(cold)
    assert cells(cold, "Flash point, closed cup") == [f"{value} ({span})"] * 2
    cold.question("numbers")
    cold.page.locator(".answers .picture.stale").first.wait_for(state="detached")
    picture = cold.page.locator(".answers .picture img").first
    picture.wait_for(timeout=ANSWER_ms)
    assert f"flash point, closed cup: {value} ({span})" in picture.get_attribute("alt")


def test_a_measured_flash_point_moves_the_figure_everywhere(cold: Bench):
    before = cold.flash_C
    inside = cold.question("notes")
    inside.get_by_label("Value", exact=True).fill(f"{before + 8:.0f}")
    inside.get_by_label("± (90 %)").fill("3")
    inside.get_by_role("button", name="Write it down").click()
    cold.page.get_by_text("Counted in, from your bench").first.wait_for(timeout=ANSWER_ms)
    value = cold.settled().number("flash_point_closed_cup_C")
    assert cold.flash_C > before
    burn = cold.question("burn")
    burn.locator(".verdict", has_text=value).wait_for(timeout=ANSWER_ms)
    saved_and_compared(cold)
    assert all(cell.startswith(value) for cell in cells(cold, "Flash point, closed cup"))
    carriers = cold.question("carriers")
    carriers.get_by_label("Carriers, one a line").fill("triacetin")
    carriers.get_by_role("button", name="Put them side by side").click()
    row = carriers.get_by_role("row", name="as written")
    row.wait_for(timeout=ANSWER_ms)
    assert value in row.get_by_role("cell").all_inner_texts()
    fix = cold.question("fix")
    fix.get_by_label("Flash point at least, °C").fill("30")
    fix.get_by_role("button", name="Find changes").click()
    fix.get_by_text("As it is:").wait_for(timeout=4 * ANSWER_ms)
    assert f"flash point {value} " in fix.get_by_text("As it is:").inner_text()


def test_volumes_and_densities_say_at_which_temperature_they_stand(cold: Bench):
    total = cold.page.locator("[data-total]").inner_text()
    inside = cold.question("volumes")
    fills = inside.get_by_text("At 20 °C the blend fills")
    fills.wait_for(timeout=ANSWER_ms)
    at_20 = re.search(r"fills ([\d.]+ mL)", fills.inner_text())[1]  # type: ignore[index]
    assert total == f"50.00 g in all, {at_20} at 20 °C"
    for name, key in (("Density at 18 °C", "density_g_mL"), ("Volume at 18 °C", "volume_mL")):
        row = cold.page.locator("table.numbers tr", has_text=name)
        assert row.locator("td").first.text_content() == cold.number(key)
    # measured at the bench's temperature, the section's own figures are those of the numbers
    inside.get_by_label("Measured at, °C").fill("18")
    inside.get_by_role("button", name="Calculate").click()
    bottom = inside.get_by_role("row", name="Total")
    inside.get_by_text("other values in the fields").wait_for(state="detached", timeout=ANSWER_ms)
    volume, density = (float(cold.number(key).split()[0]) for key in ("volume_mL", "density_g_mL"))
    dense, mL = (float(bottom.get_by_role("cell").nth(place).inner_text()) for place in (1, 2))
    assert (round(mL, 2), round(density, 3)) == (volume, dense)


def test_versions_side_by_side_say_at_which_conditions_each_stands(cold: Bench):
    saved_and_compared(cold)
    cold.page.get_by_label("Bench, °C").fill("30")
    cold.settled()
    cold.page.wait_for_function(STALE % "compare", timeout=ANSWER_ms)
    compare = cold.question("compare")
    compare.get_by_role("button", name="Put them side by side").click()
    compare.get_by_text("30 °C, 90 kPa").wait_for(timeout=ANSWER_ms)
    assert cells(cold, "Asked at") == ["30 °C, 90 kPa", "18 °C, 90 kPa"]
    assert not cold.page.evaluate(STALE % "compare")


def test_an_answer_is_stale_once_the_formula_is_another_one(cold: Bench):
    saved_and_compared(cold)
    carriers = cold.question("carriers")
    carriers.get_by_role("button", name="Draw the map").click()
    carriers.locator("img[alt^=Map]").wait_for(timeout=ANSWER_ms)
    dose = cold.question("dose")
    dose.get_by_role("button", name="Dose", exact=True).click()
    cold.answered("dose").get_by_role("table").first.wait_for(timeout=ANSWER_ms)
    asked_of = ("compare", "carriers", "dose")
    assert not any(cold.page.evaluate(STALE % key) for key in asked_of)
    cold.cell("Grams", 1).fill("1.3")
    cold.settled()
    assert all(cold.page.evaluate(STALE % key) for key in asked_of)
    cold.page.get_by_role("button", name="Undo").click()
    for key in asked_of:
        cold.page.wait_for_function(f"!({STALE % key})")


def test_an_answer_is_stale_once_a_field_beside_it_is_another_one(cold: Bench):
    warm = cold.question("warm")
    warm.locator(".verdict").wait_for(timeout=ANSWER_ms)
    assert not cold.page.evaluate(STALE % "warm")
    warm.get_by_label("Minutes").fill("60")
    warm.get_by_text("This answer is of other values in the fields. Ask again.").wait_for()
    assert cold.page.evaluate(STALE % "warm")
    warm.get_by_role("button", name="Calculate").click()
    warm.get_by_text("60 minutes at").first.wait_for(timeout=ANSWER_ms)
    cold.page.wait_for_function(f"!({STALE % 'warm'})")


def test_a_picture_of_the_formula_before_is_marked_until_it_is_drawn_anew(cold: Bench):
    pictures = cold.page.locator(".answers .picture img")
    pictures.nth(1).wait_for(timeout=ANSWER_ms)
    before = [pictures.nth(place).get_attribute("src") for place in (0, 1)]
    cold.page.evaluate(
        """() => {
          window.unmarked = [];
          const frames = [...document.querySelectorAll('.answers .picture')];
          const was = frames.map((one) => one.querySelector('img').src);
          window.watch = setInterval(() => {
            const fresh = document.querySelector('.bench-head .state').innerText === 'Up to date'
              && document.querySelector('[data-total]').innerText.startsWith('52');
            frames.forEach((one, place) => {
              if (fresh && one.querySelector('img').src === was[place]
                && !one.classList.contains('stale')) window.unmarked.push(place);
            });
          }, 5);
        }"""
    )
    cold.page.get_by_label("Make up to, g").fill("52")
    cold.page.wait_for_function(
        """(before) => [...document.querySelectorAll('.answers .picture img')]
          .every((one, place) => one.src !== before[place])""",
        arg=before,
        timeout=ANSWER_ms,
    )
    assert cold.page.evaluate("window.unmarked") == []
    cold.page.wait_for_function(
        "document.querySelectorAll('.answers .picture.stale').length === 0", timeout=ANSWER_ms
    )
