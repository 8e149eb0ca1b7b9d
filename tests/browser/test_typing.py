"""Type a formula, watch the answer; mend, paste, drop, undo, carry on after a crash."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from blendwright import assess, read_formula
from blendwright.app.web.sheet import Sheet
from blendwright.formula import read_formula_bytes
from tests.browser.conftest import ANSWER_ms, Bench, Server, until, written

EXAMPLE = Path("examples/orchard-pear-cardamom.csv")


def test_a_typed_formula_shows_its_flash_point(bench: Bench):
    bench.row(1, "ethyl butyrate", "1.6")
    bench.row(2, "propylene glycol", "8.4")
    bench.settled()
    expected = assess(
        read_formula_bytes(b"material,grams\nethyl butyrate,1.6\npropylene glycol,8.4\n", "x.csv")
    ).estimates["flash_point_closed_cup"]
    value, low, high = (kelvin - 273.15 for kelvin in expected.interval())
    assert bench.flash_C == float(f"{value:.0f}")
    assert f"flash point {value:.0f} °C ({low:.0f} to {high:.0f} °C)" in bench.answer("burns")
    assert "10.00 g" in bench.page.locator("[data-total]").inner_text()
    assert bench.cell("Millilitres at 20 °C", 1).get_attribute("placeholder") == "1.821"
    assert not bench.errors


def test_more_of_the_light_ester_lowers_the_flash_point(bench: Bench):
    bench.row(1, "ethyl butyrate", "1")
    bench.row(2, "triacetin", "20")
    bench.settled()
    before = bench.flash_C
    bench.cell("Grams", 1).fill("6")
    bench.page.wait_for_function(
        "(before) => document.querySelector('[data-number=flash_point_closed_cup_C]')"
        ".innerText.split(' ')[0] !== before",
        arg=f"{before:.0f}",
        timeout=30_000,
    )
    assert bench.flash_C < before


def test_an_error_sits_on_its_row_and_is_mended_with_one_click(bench: Bench):
    bench.row(1, "vannilin", "0.9")
    bench.row(2, "ethanol", "9")
    bench.state("1 row needs correcting")
    row = bench.page.locator("li.line").nth(0)
    row.get_by_text("unknown material 'vannilin'").wait_for()  # once the wider library is asked
    assert bench.cell("Material", 1).get_attribute("aria-invalid") == "true"
    note = bench.cell("Material", 1).get_attribute("aria-describedby")
    assert bench.page.locator(f"#{note}").inner_text()
    assert bench.cell("Material", 2).get_attribute("aria-invalid") is None
    row.get_by_role("button", name="Use vanillin", exact=True).click()
    bench.settled()
    assert bench.cell("Material", 1).input_value() == "vanillin"
    assert "unknown" not in row.inner_text()
    assert not bench.errors


def test_a_number_that_is_none_is_told_on_its_row(bench: Bench):
    bench.row(1, "vanillin", "1..2")
    bench.state("1 row needs correcting")
    assert "is not a number" in bench.page.locator("li.line").nth(0).inner_text()
    bench.cell("Grams", 1).fill("1.2")
    bench.settled()


def test_while_it_is_calculated_the_answer_is_visibly_stale(bench: Bench):
    bench.example()
    bench.page.evaluate(
        """() => {
          window.seen = [];
          new MutationObserver(() => window.seen.push(
            [document.querySelector('.bench-head .state').innerText,
             document.querySelector('.answers').classList.contains('stale')]))
            .observe(document.body, {subtree: true, childList: true, attributes: true,
                                     characterData: true});
        }"""
    )
    bench.cell("Grams", 1).fill("1.3")
    bench.page.wait_for_function(
        "window.seen.some((one) => one[1]) && window.seen.at(-1).join() === 'Up to date,false'",
        timeout=30_000,
    )
    seen = bench.page.evaluate("window.seen")
    assert ["updating …", True] in seen
    assert seen[-1] == ["Up to date", False]


def test_thirty_rows_are_pasted(bench: Bench):
    names = ["ethyl butyrate", "vanillin", "linalool", "triacetin", "propylene glycol"]
    bench.paste("\n".join(f"{names[i % 5]}\t{i + 1}.5" for i in range(30)))
    bench.settled()
    assert len(bench.materials()) == 30
    assert bench.cell("Grams", 30).input_value() == "30.5"
    assert "480.00 g" in bench.page.locator("[data-total]").inner_text()
    bench.page.get_by_role("button", name="Undo").click()
    bench.page.wait_for_function("document.querySelectorAll('li.line').length === 1")


def test_a_broken_file_is_refused_with_words_and_changes_nothing(bench: Bench):
    bench.example()
    before = bench.materials()
    said = bench.page.locator(".problem.pre")
    bench.drop("broken.xlsx", b"PK\x03\x04" + b"\x00" * 500)
    said.get_by_text("can't be read").wait_for(timeout=ANSWER_ms)
    assert "broken.xlsx was not opened" in said.inner_text()
    bench.drop("numbers.csv", b"material,grams\nvanillin,much\nethanol,more\n")
    said.get_by_text("'more' is not a number").wait_for(timeout=ANSWER_ms)
    assert bench.materials() == before
    bench.drop("pear.csv", EXAMPLE.read_bytes())
    said.get_by_text("not a number").wait_for(state="hidden")


def test_a_formula_exported_and_dropped_again_is_equal(bench: Bench):
    bench.drop("pear.csv", EXAMPLE.read_bytes())
    bench.settled()
    original = read_formula(EXAMPLE)
    inside = bench.question("papers")
    for kind, name in (("CSV", "again.csv"), ("XLSX", "again.xlsx")):
        file = bench.download(inside.get_by_role("button", name=f"Formula as {kind}"))
        content = file.read_bytes()
        back = read_formula_bytes(content, name)
        assert Sheet.from_formula(back) == Sheet.from_formula(original)
        bench.page.get_by_role("button", name="New", exact=True).click()
        bench.page.wait_for_function("document.querySelectorAll('li.line').length === 1")
        bench.drop(name, content)
        bench.settled()
        assert bench.materials() == [row.material for row in original.rows]


def test_the_assessment_as_json_is_that_of_the_command(bench: Bench):
    import json

    bench.drop("pear.csv", EXAMPLE.read_bytes())
    bench.settled()
    button = bench.question("papers").get_by_role("button", name="Assessment as JSON")
    data = json.loads(bench.download(button).read_text())
    expected = assess(read_formula(EXAMPLE)).to_dict()
    assert data["formula"]["name"] == expected["formula"]["name"]  # type: ignore[index]
    assert data["findings"] == expected["findings"]
    assert data["verdicts"] == expected["verdicts"]


def test_a_name_a_synonym_and_a_number_are_offered_while_one_types(bench: Bench):
    said = {"benzaldehyde": "100-52-7", "artificial almond oil": "benzaldehyde",
            "100-52-7": "benzaldehyde"}  # fmt: skip
    for row, (name, told) in enumerate(said.items(), start=1):
        field = bench.cell("Material", row)
        assert field.evaluate("(field) => field.list") is None
        field.press_sequentially(name)
        offered = field.evaluate(
            "(field, name) => [...field.list.options].find((one) => one.value === name)?.text", name
        )
        assert offered == told
        bench.cell("Grams", row).fill("1")
    bench.settled()
    assert "3.00 g" in bench.page.locator("[data-total]").inner_text()
    density = bench.number("density_g_mL")
    bench.page.get_by_role("button", name="New", exact=True).click()
    bench.page.wait_for_function("document.querySelectorAll('li.line').length === 1")
    bench.row(1, "benzaldehyde", "3")
    bench.settled()
    assert bench.number("density_g_mL") == density


def test_what_is_typed_fast_arrives_whole(bench: Bench):
    bench.example()
    grams = bench.cell("Grams", 1)
    grams.fill("")
    grams.press_sequentially("1.23456789", delay=15)
    bench.cell("Material", 2).fill("")
    bench.cell("Material", 2).press_sequentially("hexyl acetate", delay=15)
    bench.settled().kept()
    assert grams.input_value() == "1.23456789"
    assert bench.cell("Material", 2).input_value() == "hexyl acetate"
    assert written(bench.server.folder, bench.desk)[:2] == [  # type: ignore[index]
        ("ethyl acetate", "1.23456789"),
        ("hexyl acetate", "2.10"),
    ]


def test_a_row_is_dragged_to_another_place(bench: Bench):
    names = ["ethyl butyrate", "vanillin", "propylene glycol"]
    bench.paste("\n".join(f"{name}\t{n + 1}" for n, name in enumerate(names)))
    bench.settled()
    grip = bench.page.locator("li.line .grip")
    grip.nth(2).drag_to(grip.nth(0))
    first = "document.querySelector('li.line input.material').value"
    bench.page.wait_for_function(f"{first} === 'propylene glycol'")
    bench.settled().kept()
    assert bench.materials() == [names[2], *names[:2]]
    assert [bench.cell("Grams", row).input_value() for row in (1, 2, 3)] == ["3", "1", "2"]
    bench.cell("Grams", 1).fill("9")  # the cells belong to their rows
    bench.kept()
    assert bench.materials() == [names[2], *names[:2]]
    bench.page.keyboard.press("Control+z")
    bench.page.keyboard.press("Control+z")
    bench.page.wait_for_function(f"{first} === 'ethyl butyrate'")
    assert bench.materials() == names


def test_undo_and_redo_by_keys(bench: Bench):
    bench.row(1, "vanillin", "1")
    bench.settled()
    bench.page.keyboard.press("Control+z")
    bench.page.wait_for_function("document.querySelector('li.line input.grams').value === ''")
    bench.page.keyboard.press("Control+Shift+z")
    bench.page.wait_for_function("document.querySelector('li.line input.grams').value === '1'")


def test_the_keyboard_is_enough(bench: Bench):
    page = bench.page
    bench.cell("Material", 1).focus()
    page.keyboard.type("ethyl butyrate")
    page.keyboard.press("Tab")
    page.keyboard.type("1.6")
    page.locator("li.line").nth(1).wait_for()
    rest = ("Millilitres at 20 °C, row 1", "Strength, %, row 1", "in, row 1", "Material, row 2")
    for label in rest:  # Enter steps along the row, then to the next one
        page.keyboard.press("Enter")
        assert page.evaluate("document.activeElement.ariaLabel") == label
    page.keyboard.type("propylene glycol")
    page.keyboard.press("Enter")
    page.keyboard.type("8.4")
    page.keyboard.press("Shift+Enter")
    assert page.evaluate("document.activeElement.ariaLabel") == "Material, row 2"
    bench.settled()
    page.keyboard.press("Alt+ArrowUp")
    page.wait_for_function(
        "document.querySelector('li.line input.material').value === 'propylene glycol'"
    )
    assert page.evaluate("document.activeElement.ariaLabel") == "Material, row 1"
    # the row's own dialog, and out of it again
    page.get_by_role("button", name="More about row 2").focus()
    page.keyboard.press("Enter")
    page.get_by_role("dialog").get_by_text("Row 2: ethyl butyrate").wait_for()
    page.keyboard.press("Escape")
    page.get_by_role("dialog").wait_for(state="hidden")
    # a question is opened, asked and answered
    page.locator("#tab-numbers").focus()
    while page.evaluate("document.activeElement.id") != "tab-volumes":
        page.keyboard.press("ArrowRight")
    page.keyboard.press("Enter")
    bench.answered("volumes").get_by_role("table").first.wait_for()


def test_every_field_and_button_is_reached_by_tab(bench: Bench):
    bench.row(1, "vanillin", "1")
    bench.settled()
    page = bench.page
    page.evaluate("document.activeElement.blur()")
    reached = set()
    for _ in range(80):
        page.keyboard.press("Tab")
        reached.add(
            page.evaluate("document.activeElement.ariaLabel || document.activeElement.innerText")
        )
    for wanted in ("Material, row 1", "Strength, %, row 2", "More about row 1", "Scale …"):
        assert wanted in reached
    assert "Numbers" in reached
    assert any(words.startswith("Burns") for words in reached)


def test_scaling_and_making_up_to_weight(bench: Bench):
    bench.example()
    bench.page.get_by_role("button", name="Scale …").click()
    dialog = bench.page.get_by_role("dialog")
    dialog.get_by_label("or to a total of, g").fill("200")
    dialog.get_by_role("button", name="Scale", exact=True).click()
    bench.page.locator("[data-total]").get_by_text("200.00 g").wait_for(timeout=30_000)
    assert bench.cell("Grams", 1).input_value() == "4.8"
    assert bench.cell("Grams", 16).input_value() == "q.s."


def test_a_tablet_of_768_pixels_stacks_and_nothing_sticks_out(windows):
    bench = windows(size=(768, 1024), has_touch=True).open()
    bench.example()
    wide = bench.page.evaluate(
        "[document.documentElement.scrollWidth, document.documentElement.clientWidth]"
    )
    assert wide[0] <= wide[1]
    left = bench.page.locator(".side.formula").bounding_box()
    answers = bench.page.locator("#answers").bounding_box()
    assert answers["y"] + answers["height"] <= left["y"]
    small = bench.page.evaluate(
        """() => [...document.querySelectorAll('button, input, summary, select')]
          .filter((e) => e.offsetParent && e.type !== 'file' && e.type !== 'radio')
          .map((e) => [(e.closest('.q-field__control') || e).getBoundingClientRect(), e])
          .filter(([box]) => box.width && box.height < 43.5)
          .map(([box, e]) => e.outerHTML.slice(0, 80) + ' ' + box.height)"""
    )
    assert small == []
    bench.cell("Grams", 1).tap()
    bench.page.keyboard.type("9")
    bench.page.locator(".bench-head .state").get_by_text("Up to date").wait_for(timeout=30_000)


def test_print_leaves_out_the_controls(bench: Bench):
    bench.example()
    bench.page.emulate_media(media="print")
    assert not bench.page.get_by_role("button", name="Scale …").is_visible()
    assert bench.page.locator('[data-answer="burns"]').is_visible()
    assert bench.cell("Material", 1).is_visible()


def test_offline_nothing_is_asked_of_the_network(windows, server: Server):
    bench = windows()
    refused: list[str] = []

    def only_here(route) -> None:
        if route.request.url.startswith((server.url, "data:", "blob:")):
            route.continue_()
        else:
            refused.append(route.request.url)
            route.abort()

    bench.page.route("**/*", only_here)
    bench.open().example()
    bench.question("burn")
    bench.answered("burn").locator("img").wait_for(timeout=60_000)
    bench.question("numbers")
    bench.page.locator(".answers .picture img").nth(1).wait_for(timeout=60_000)
    assert refused == []
    assert not bench.errors
    assert len(bench.asked) > 5


def restart(bench: Bench) -> None:
    """The server again, and its page anew: the old one would load itself in the midst of that."""
    bench.page.goto("about:blank")
    bench.server.start()
    bench.open().settled()


@pytest.fixture
def mortal(tmp_path: Path) -> Iterator[Server]:
    """A server of its own, which the test kills."""
    server = Server(tmp_path)
    yield server
    server.stop()


def test_killed_and_started_again_it_has_all_that_was_kept(tmp_path, chromium, mortal: Server):
    server = mortal.start()
    context = chromium.new_context()
    bench = Bench(context.new_page(), server, [], [])
    bench.open()
    bench.row(1, "ethyl butyrate", "1.6")
    bench.row(2, "propylene glycol", "8.4")
    bench.settled()
    bench.save("Pear base")
    server.kill()
    restart(bench)
    assert bench.materials() == ["ethyl butyrate", "propylene glycol"]
    assert re.match(r"-?\d+ °C", bench.number("flash_point_closed_cup_C"))

    # once more, in the midst of writing: a keystroke each 25 ms
    typed = [f"1.{end}" for end in range(1000, 1040)]
    bench.page.evaluate(
        """(texts) => {
          const field = document.querySelector('li.line input.grams');
          const next = () => {
            if (!texts.length) return;
            field.value = texts.shift();
            field.dispatchEvent(new Event('input', {bubbles: true}));
            setTimeout(next, 25);
          };
          next();
        }""",
        typed,
    )
    desk = bench.desk
    until(lambda: first_grams(tmp_path, desk) in typed)
    before = first_grams(tmp_path, desk)
    server.kill()
    with closing(sqlite3.connect(tmp_path / "work.sqlite3")) as db:
        assert db.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    after = first_grams(tmp_path, desk)
    assert typed.index(after) >= typed.index(before)
    last = f"document.querySelector('li.line input.grams').value === '{typed[-1]}'"
    bench.page.wait_for_function(last)
    restart(bench)
    bench.page.wait_for_function(last)  # what came after the last save was kept by the browser
    until(lambda: first_grams(tmp_path, desk) == typed[-1])
    bench.saved().get_by_role("button", name="Open Pear base · 1").click()
    bench.page.wait_for_function("document.querySelector('li.line input.grams').value === '1.6'")
    context.close()
    server.stop()
    assert not (tmp_path / ".nicegui").exists()


def first_grams(folder: Path, desk: str) -> str:
    kept = written(folder, desk)
    assert kept
    return kept[0][1]


def test_the_framework_watches_no_cell(bench: Bench):
    """What makes each drawing of the page quick still holds with the framework installed."""
    watched = bench.page.evaluate(
        """() => Object.values(mounted_app.elements)
          .filter((one) => Vue.isReactive(one)).map((one) => one.tag)"""
    )
    assert set(watched) <= {"nicegui-input", "q-option-group", "nicegui-dialog"}


def test_what_of_a_pasted_table_is_not_used_is_said_above_what_to_do(bench: Bench):
    bench.paste(
        "Ingredient\tWeight (g)\tDilution\tSolvent\tSupplier\n"
        "hexanal\t10\t10 %\tethanol\tNord\npropylene glycol\t90\t\t\t\nTotal\t100\t\t\t"
    )
    bench.settled()
    told = bench.page.get_by_role("status", name="How the table was read")
    told.get_by_text("'Supplier' (1 row)").wait_for()
    assert bench.page.get_by_label("in, row 1").input_value() == "ethanol"
    assert bench.page.locator("li.line").count() == 3  # two rows, and an empty one
    above = told.bounding_box()["y"]
    assert above < bench.page.locator(".do-now .answers .findings").first.bounding_box()["y"]
    told.get_by_role("button", name="Seen; hide this").click()
    told.wait_for(state="hidden")
    bench.page.get_by_role("button", name="Undo").click()
    told.wait_for()


def test_a_pasted_table_that_means_two_things_changes_nothing(bench: Bench):
    bench.row(1, "vanillin", "1")
    bench.settled()
    bench.paste("material\tgrams\t%\nhexanal\t5\t12\npropylene glycol\t45\t88")
    bench.page.get_by_text("which is 10 % of the formula by the amounts").wait_for()
    assert bench.page.get_by_label("Material, row 1").input_value() == "vanillin"


def test_a_doubtful_number_is_asked_about(bench: Bench):
    bench.row(1, "vanillin", "1,250")
    bench.page.get_by_role("button", name="Use 1.25", exact=True).click()
    bench.settled()
    assert bench.page.get_by_label("Grams, row 1").input_value() == "1.25"
