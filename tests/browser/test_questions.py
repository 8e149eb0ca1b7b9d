"""The further questions: fix, warm, dose, carriers, compare, material, own bottles, saved work."""

from __future__ import annotations

from tests.browser.conftest import Bench


def test_what_would_fix_it_is_tried_with_one_click_and_undone(bench: Bench):
    bench.row(1, "vanillin", "6")
    bench.row(2, "water", "15")
    bench.row(3, "propylene glycol", "5")
    bench.settled()
    before = bench.page.locator('[data-answer="dissolves"] strong').inner_text()
    assert before.startswith("No")
    inside = bench.question("fix")
    inside.get_by_role("button", name="Find changes").click()
    answer = bench.answered("fix")
    answer.get_by_role("button", name="Try it").first.click(timeout=60_000)
    bench.page.wait_for_function(
        "(before) => document.querySelector('[data-answer=dissolves] strong').innerText !== before",
        arg=before,
        timeout=30_000,
    )
    bench.settled()
    assert bench.page.locator('[data-answer="dissolves"] strong').inner_text() in (
        "Yes",
        "Probably",
    )
    assert "as it was before" in inside.inner_text()
    bench.page.get_by_role("button", name="Undo").click()
    bench.page.wait_for_function(
        "(before) => document.querySelector('[data-answer=dissolves] strong').innerText === before",
        arg=before,
        timeout=30_000,
    )


def test_warming_tells_its_window_and_what_is_lost(bench: Bench):
    bench.example()
    inside = bench.question("warm")
    bench.answered("warm").locator(".verdict").wait_for(timeout=60_000)
    assert "No warming needed" in inside.locator(".verdict").inner_text()
    inside.get_by_label("Warm to, °C").fill("40")
    inside.get_by_role("button", name="Calculate").click()
    inside.get_by_text("The 40 °C that you asked about").first.wait_for(timeout=60_000)
    assert "ethyl acetate" in inside.get_by_role("table").inner_text()
    inside.locator("img").wait_for(timeout=60_000)
    data = bench.download(inside.get_by_role("button", name="Lost while warm as CSV"))
    assert data.read_text().startswith("material,open_pct")
    picture = bench.download(inside.get_by_role("button", name="Lost while warm as PNG"))
    assert picture.read_bytes().startswith(b"\x89PNG")
    inside.get_by_label("Warm to, °C").fill("400")
    inside.get_by_role("button", name="Calculate").click()
    inside.get_by_text("Give a number from 20 to 150").wait_for(timeout=60_000)


def test_a_dose_into_a_drink(bench: Bench):
    bench.example()
    inside = bench.question("dose")
    inside.get_by_label("mL of concentrate").fill("0.1")
    inside.get_by_role("button", name="Dose", exact=True).click()
    answer = bench.answered("dose")
    answer.get_by_text("chance of haze").wait_for(timeout=60_000)
    assert "mg/kg" in answer.inner_text()
    inside.get_by_label("Drink", exact=True).click()
    bench.page.get_by_role("option", name="Another drink …").click()
    inside.get_by_label("Another drink, like").fill("petrol")
    inside.get_by_role("button", name="Dose", exact=True).click()
    answer.locator(".problem").wait_for(timeout=60_000)


def test_carriers_side_by_side_and_the_map_of_two(bench: Bench):
    bench.example()
    inside = bench.question("carriers")
    inside.get_by_label("Carriers, one a line").fill("triacetin")
    inside.get_by_role("button", name="Put them side by side").click()
    inside.get_by_role("rowheader", name="triacetin").wait_for(timeout=60_000)
    image = inside.locator("img[alt^=Map]")
    for pair, where in (
        ("", "Your formula: 20 % aromatics"),  # in what the formula is in, unless asked otherwise
        ("triacetin + ethanol", "Your formula is not on it: it is in propylene glycol."),
    ):
        if pair:
            inside.get_by_label("Map of two carriers").fill(pair)
        inside.get_by_role("button", name="Draw the map").click()
        bench.page.wait_for_function(
            "(where) => document.querySelector('img[alt^=Map]')?.alt.includes(where)",
            arg=where,
            timeout=60_000,
        )
    assert "triacetin and ethanol" in image.get_attribute("alt")


def test_saved_versions_are_brought_back_and_compared(bench: Bench):
    bench.row(1, "ethyl butyrate", "1.6")
    bench.row(2, "propylene glycol", "8.4")
    bench.settled()
    bench.save("Pear base")
    bench.page.get_by_text("Saved Pear base, version 1.").wait_for()
    bench.cell("Grams", 1).fill("0.4")
    bench.settled().save()
    bench.page.get_by_text("Saved Pear base, version 2.").wait_for()

    compare = bench.question("compare")
    compare.get_by_label("Saved versions").click()
    bench.choose("Pear base · 1")
    bench.choose("Pear base · 2")
    bench.page.keyboard.press("Escape")
    compare.get_by_role("button", name="Put them side by side").click()
    row = compare.get_by_role("row", name="Flash point, closed cup")
    row.wait_for(timeout=60_000)
    cells = row.get_by_role("cell")
    assert cells.count() == 3
    assert cells.nth(0).inner_text() != cells.nth(1).inner_text()
    assert {cells.nth(0).inner_text()} & {cells.nth(i).inner_text() for i in (1, 2)}
    shown = [cells.nth(place).inner_text() for place in range(3)]
    marked = [
        cells.nth(place).evaluate("e => e.classList.contains('differs')") for place in range(3)
    ]
    assert marked == [cell != shown[0] for cell in shown]
    assert "differs" in row.get_by_role("rowheader").inner_text()
    same = compare.get_by_role("row", name="Asked at")
    assert "differs" not in same.inner_text()

    bench.saved().get_by_role("button", name="Open Pear base · 1").click()
    bench.page.wait_for_function("document.querySelector('li.line input.grams').value === '1.6'")


def test_a_materials_card_has_its_sources(bench: Bench):
    bench.row(1, "vanillin", "1")
    bench.settled()
    bench.page.get_by_role("button", name="More about row 1").click()
    bench.page.get_by_role("button", name="What is known of it").click()
    inside = bench.answered("materials")
    inside.get_by_role("heading", name="vanillin").wait_for(timeout=60_000)
    assert "121-33-5" in inside.inner_text()
    inside.get_by_text("Sources (").click()
    assert inside.locator("details li").count() > 3


def test_a_material_of_ones_own_is_kept_and_used(windows):
    bench = windows().open()
    inside = bench.question("materials")
    inside.get_by_label("Material", exact=True).fill("Gran's <b>pear</b> base")
    inside.get_by_label("Density, g/mL at 20 °C").fill("0.95")
    inside.get_by_role("button", name="Keep it").click()
    inside.get_by_text("needs its flash_point").wait_for(timeout=60_000)
    flash = inside.get_by_label("Flash point, closed cup, °C")
    assert flash.get_attribute("aria-invalid") == "true"  # said at its field
    inside.get_by_label("Flash point, closed cup, °C").fill("31")
    inside.get_by_role("button", name="Keep it").click()
    inside.get_by_text("base is kept.").wait_for(timeout=60_000)
    bench.row(1, "Gran's <b>pear</b> base", "2")
    bench.settled()
    assert bench.cell("Millilitres at 20 °C", 1).get_attribute("placeholder") == "2.105"
    assert bench.page.locator("b").count() == 0
