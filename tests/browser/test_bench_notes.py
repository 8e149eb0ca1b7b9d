"""Observations from the bench: written down, counted in, taken back."""

from __future__ import annotations

import json

from typer.testing import CliRunner

from blendwright.app.cli.main import app
from tests.browser.conftest import Bench
from tests.browser.test_accessible import grave

FORMULA = "material,grams\nethyl butyrate,1.6\npropylene glycol,8.4\n"


def written(bench: Bench) -> Bench:
    bench.row(1, "ethyl butyrate", "1.6")
    bench.row(2, "propylene glycol", "8.4")
    return bench.settled()


def note_flash(bench: Bench, celsius: str, plus_or_minus: str = "3") -> None:
    inside = bench.question("notes")
    inside.get_by_label("Value", exact=True).fill(celsius)
    inside.get_by_label("± (90 %)").fill(plus_or_minus)
    inside.get_by_label("Note", exact=True).fill("<b>twice</b>")
    inside.get_by_role("button", name="Write it down").click()
    inside.get_by_text(f"Written down: flash point {celsius}").wait_for(timeout=60_000)


def test_a_measured_flash_point_moves_the_answer_as_the_command_does(windows, tmp_path):
    bench = written(windows().open())
    alone = bench.flash_C
    note_flash(bench, f"{alone + 6:.0f}")
    bench.page.get_by_text("Counted in, from your bench").wait_for(timeout=60_000)
    bench.settled()
    seen = bench.flash_C
    assert seen > alone
    inside = bench.question("notes")
    inside.get_by_text("This blend: counts 100 %").wait_for(timeout=60_000)
    assert bench.page.locator("b").count() == 0
    assert "\n".join(grave(bench)) == ""

    file = tmp_path / "seen.csv"
    file.write_text(FORMULA)
    # here and not in a process of its own: in machine code, as on the page, to the last digit
    seen_before = str(bench.server.folder / "observations.sqlite")
    told = CliRunner().invoke(app, ["assess", str(file), "--json", "--observations", seen_before])
    assert told.exit_code == 0, told.output
    command = json.loads(told.stdout)["estimates"]["flash_point_closed_cup_C"]
    assert round(command["value"]) == seen
    take = bench.question("papers")
    page = json.loads(
        bench.download(take.get_by_role("button", name="Assessment as JSON")).read_text()
    )
    assert page["estimates"]["flash_point_closed_cup_C"] == command
    assert page["observations"][0]["note"] == "<b>twice</b>"

    bench.question("notes").get_by_role("button", name="Take back: flash point").click()
    bench.page.get_by_role("dialog").get_by_role("button", name="Take back", exact=True).click()
    inside.get_by_text("Nothing written down yet.").wait_for(timeout=60_000)
    bench.page.wait_for_function(
        "(alone) => parseFloat(document.querySelector"
        "('[data-number=flash_point_closed_cup_C]').textContent) === alone",
        arg=alone,
        timeout=60_000,
    )


def test_a_button_stays_under_the_finger_while_answers_come_in(bench: Bench):
    written(bench)
    inside = bench.question("notes")
    inside.get_by_label("Value", exact=True).fill("41")
    inside.get_by_role("button", name="Write it down").click()
    button = inside.get_by_role("button", name="Take back: flash point").element_handle()
    inside.get_by_text("This blend: counts 100 %").wait_for(timeout=60_000)
    bench.cell("Grams", 1).fill("1.7")
    bench.settled()
    inside.get_by_text("A similar blend: counts").wait_for(timeout=60_000)
    assert button.evaluate("node => node.isConnected")
    button.click()
    bench.page.get_by_role("dialog").get_by_role("button", name="Take back", exact=True).click()
    inside.get_by_text("Nothing written down yet.").wait_for(timeout=60_000)


def test_what_cannot_be_is_refused_with_its_range(bench: Bench):
    written(bench)
    inside = bench.question("notes")
    inside.get_by_role("button", name="Write it down").click()
    inside.get_by_text("Give the value that was seen.").wait_for(timeout=60_000)
    inside.get_by_label("Value", exact=True).fill("4000")
    inside.get_by_role("button", name="Write it down").click()
    inside.get_by_text("Give a number from −60 to 350").wait_for(timeout=60_000)
    inside.get_by_label("Value", exact=True).fill("40")
    inside.get_by_label("Date, as").fill("tomorrow")
    inside.get_by_role("button", name="Write it down").click()
    inside.get_by_text("Write the date like").wait_for(timeout=60_000)
    inside.get_by_text("Nothing written down yet.").wait_for()


def test_a_density_keeps_its_temperature(bench: Bench):
    written(bench)
    inside = bench.question("notes")
    inside.get_by_label("What was seen").click()
    bench.page.get_by_role("option", name="Density").click()
    inside.get_by_label("Value", exact=True).fill("1.01")
    inside.get_by_label("Density at, °C").fill("22")
    inside.get_by_role("button", name="Write it down").click()
    inside.get_by_text("Written down: density 1.0100 ± 0.0010 g/mL at 22 °C").wait_for(
        timeout=60_000
    )
    inside.get_by_role("button", name="Take back: density").click()
    bench.page.get_by_role("dialog").get_by_role("button", name="Take back", exact=True).click()
    inside.get_by_text("Nothing written down yet.").wait_for(timeout=60_000)


def test_warming_and_what_makes_it_burn_follow_what_was_measured(bench: Bench):
    """Asked before, they are asked again when it is written down and when it is taken back."""
    written(bench)
    asked = ("warm", "burn")
    before = {}
    for key in asked:
        said = bench.question(key).locator(".verdict")
        said.wait_for(timeout=60_000)
        before[key] = said.inner_text()
    note_flash(bench, "5")
    for key in asked:
        place = bench.question(key)
        place.get_by_text("Counted in, from your bench").wait_for(timeout=60_000)
        place.get_by_text("flash point 5 ± 3 °C").first.wait_for()
        assert place.locator(".verdict").inner_text() != before[key]
    assert abs(bench.settled().flash_C - 5) <= 2
    assert f"{bench.flash_C:.0f}" in bench.question("burn").locator(".verdict").inner_text()
    inside = bench.question("notes")
    inside.get_by_role("button", name="Take back: flash point").click()
    bench.page.get_by_role("dialog").get_by_role("button", name="Take back", exact=True).click()
    inside.get_by_text("Nothing written down yet.").wait_for(timeout=60_000)
    for key in asked:
        place = bench.question(key)
        place.locator(".verdict", has_text=before[key]).wait_for(timeout=60_000)
        assert place.get_by_text("Counted in, from your bench").count() == 0
