"""The program is gone: the page says so, keeps what is typed, and hands it over afterwards."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from tests.browser.conftest import ANSWER_ms, Bench, Server, until, written
from tests.browser.test_accessible import grave

NOTE = "The program isn’t running any more."


@pytest.fixture(scope="module")
def mortal(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """A server that may be killed; each test leaves one that runs, or the next one starts it."""
    made = Server(tmp_path_factory.mktemp("mortal"))
    yield made
    made.stop()


@pytest.fixture
def bench(chromium: Any, mortal: Server) -> Iterator[Bench]:
    """A window of its own browser, with a formula that is up to date."""
    server = mortal if mortal.is_running else mortal.start()
    context = chromium.new_context(reduced_motion="reduce")
    made = Bench(context.new_page(), server, [], []).open()
    made.row(1, "ethyl butyrate", "1.6")
    made.row(2, "propylene glycol", "8.4")
    made.settled().kept()
    yield made
    context.close()


def state(bench: Bench) -> list[str]:
    """What the header says."""
    return list(bench.page.locator(".bench-head .state:visible").all_inner_texts())


def gone(bench: Bench) -> Bench:
    bench.server.kill()
    bench.page.get_by_role("alert").get_by_text(NOTE).wait_for()
    return bench


def back(bench: Bench) -> Bench:
    """Started again: the window finds it by itself."""
    bench.server.start()
    bench.page.locator("body.away").wait_for(state="detached", timeout=ANSWER_ms)
    return bench.ready()


def test_without_the_program_nothing_is_up_to_date(bench: Bench):
    quiet = "getComputedStyle(document.querySelector('.tile strong')).color"
    before = bench.page.evaluate(quiet)
    gone(bench)
    assert state(bench) == ["Not running"]
    assert bench.page.evaluate(quiet) != before
    hint = "getComputedStyle(document.querySelector('input.volume'), '::placeholder').color"
    assert bench.page.evaluate(hint) == "rgba(0, 0, 0, 0)"
    assert "\n".join(grave(bench.still())) == ""
    for size in ((820, 1180), (390, 844)):
        bench.page.set_viewport_size({"width": size[0], "height": size[1]})
        assert bench.page.get_by_role("alert").get_by_text(NOTE).is_visible()
    back(bench).settled()
    assert state(bench) == ["Up to date"]
    assert not bench.page.get_by_text(NOTE).is_visible()


def test_what_was_typed_meanwhile_is_sent_to_the_program_that_was_started_again(bench: Bench):
    gone(bench)
    bench.cell("Grams", 1).fill("2,5")
    bench.cell("Material", 3).fill("vanillin")
    bench.cell("Grams", 3).press_sequentially("0.4")
    bench.page.get_by_label("Name", exact=True).first.fill("Pear")
    bench.page.get_by_label("Bench, °C").fill("18")
    bench.page.get_by_label("Air, kPa").fill("95")
    assert written(bench.server.folder, bench.desk)[0] == ("ethyl butyrate", "1.6")  # type: ignore[index]
    back(bench).settled()
    bench.page.get_by_text("What you typed meanwhile is in the formula again").wait_for()
    assert bench.materials() == ["ethyl butyrate", "propylene glycol", "vanillin"]
    assert [bench.cell("Grams", row).input_value() for row in (1, 2, 3)] == ["2,5", "8.4", "0.4"]
    assert bench.page.get_by_label("Name", exact=True).first.input_value() == "Pear"
    assert bench.page.get_by_label("Bench, °C").input_value() == "18"
    assert bench.page.get_by_label("Air, kPa").input_value() == "95"
    assert "11.30 g" in bench.page.locator("[data-total]").inner_text()
    assert written(bench.server.folder, bench.desk)[2] == ("vanillin", "0.4")  # type: ignore[index]
    until(lambda: bench.page.evaluate("localStorage.length") == 0)
    bench.page.get_by_role("button", name="Undo").click()
    bench.page.wait_for_function("document.querySelector('li.line input.grams').value === '1.6'")


def test_it_waits_for_a_window_that_was_closed_meanwhile(bench: Bench):
    gone(bench)
    bench.cell("Grams", 1).fill("3")
    bench.page.goto("about:blank")
    bench.server.start()
    bench.open().settled()
    bench.page.wait_for_function("document.querySelector('li.line input.grams').value === '3'")
    bench.kept()


def test_a_short_break_of_the_connection_loses_nothing_either(bench: Bench):
    bench.page.evaluate("window.socket.io.engine.close()")
    bench.cell("Grams", 1).press("End")
    bench.page.keyboard.type("5")
    bench.page.locator("body.away").wait_for(state="detached", timeout=ANSWER_ms)
    bench.settled().kept()
    assert bench.cell("Grams", 1).input_value() == "1.65"
    assert written(bench.server.folder, bench.desk)[0] == ("ethyl butyrate", "1.65")  # type: ignore[index]


def test_a_half_filled_question_is_filled_again(bench: Bench):
    inside = bench.question("materials")
    inside.get_by_label("Material", exact=True).fill("Pear base")
    inside.get_by_label("Data sheet or supplier").fill("bottle of May")
    gone(bench)
    inside.get_by_label("Lot").fill("7")
    back(bench)
    for label, text in (("Material", "Pear base"), ("Lot", "7"),
                        ("Data sheet or supplier", "bottle of May")):  # fmt: skip
        field = inside.get_by_label(label, exact=True)
        field.wait_for(timeout=ANSWER_ms)
        until(lambda field=field, text=text: field.input_value() == text)
    inside.get_by_label("Flash point, closed cup, °C").fill("31")
    inside.get_by_label("Density, g/mL at 20 °C").fill("0.95")
    inside.get_by_role("button", name="Keep it").click()
    inside.get_by_text("Pear base is kept.").wait_for(timeout=ANSWER_ms)


def test_what_needs_the_program_is_stopped_while_it_is_away(bench: Bench):
    gone(bench)
    bench.page.get_by_role("button", name="New", exact=True).click(force=True)
    bench.page.keyboard.press("Control+z")
    bench.paste("linalool\t1\ngeraniol\t2")
    bench.drop("other.csv", b"material,grams\nwater,1\n")
    bench.page.locator("#tab-burn").click(force=True)
    assert not bench.page.locator("#question-burn").is_visible()
    back(bench).settled()
    assert bench.materials() == ["ethyl butyrate", "propylene glycol"]
