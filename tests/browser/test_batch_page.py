"""A whole list on the page: worked through with a bar, stopped, refused, kept."""

from __future__ import annotations

import csv
import io

from tests.browser.conftest import Bench
from tests.browser.test_accessible import grave


def a_list(count: int) -> bytes:
    rows = ["formula,material,grams"]
    for number in range(count):
        rows += [
            f"pear-{number},ethyl butyrate,{1.0 + 0.01 * number:.2f}",
            f"pear-{number},propylene glycol,8",
        ]
    return "\n".join(rows).encode()


def choose(bench: Bench, name: str, content: bytes) -> None:
    inside = bench.question("batch")
    with bench.page.expect_file_chooser() as chooser:
        inside.get_by_role("button", name="Choose a list").click()
    chooser.value.set_files({"name": name, "mimeType": "text/csv", "buffer": content})


def test_a_list_is_answered_and_its_bad_row_told(bench: Bench):
    inside = bench.question("batch")
    inside.get_by_label("Ask only this").click()
    bench.choose("flash point")
    bench.choose("density")
    bench.page.keyboard.press("Escape")
    choose(bench, "pears.csv", a_list(6) + b"\nodd,<b>pear</b>,1\n")
    inside.get_by_text("pears.csv: 6 of 7 formulas answered.").wait_for(timeout=120_000)
    inside.get_by_text("unknown material '<b>pear</b>'").wait_for()
    assert bench.page.locator("b").count() == 0
    assert "\n".join(grave(bench)) == ""
    file = bench.download(inside.get_by_role("link", name="Save pears-answers.csv"))
    rows = list(csv.DictReader(io.StringIO(file.read_text())))
    assert [row["formula"] for row in rows][:2] == ["pear-0", "pear-1"]
    assert float(rows[0]["flash_point_closed_cup_C"]) > 0.0
    assert "cloud_temperature_C" not in rows[0]


def test_a_long_list_shows_how_far_it_is_and_can_be_stopped(bench: Bench):
    choose(bench, "many.csv", a_list(10_000))
    inside = bench.question("batch")
    inside.get_by_text("of 10,000 formulas").wait_for(timeout=120_000)
    bar = inside.get_by_role("progressbar")
    assert bar.get_attribute("aria-label") == "How far the list is"
    assert 0.0 < float(bar.get_attribute("aria-valuenow")) < 1.0
    assert "left" in inside.get_by_text("of 10,000 formulas").inner_text()
    inside.get_by_role("button", name="Stop").click()
    inside.get_by_text("Stopped. Nothing of it was kept.").wait_for(timeout=30_000)
    choose(bench, "few.csv", a_list(1))
    inside.get_by_text("few.csv: 1 of 1 formulas answered.").wait_for(timeout=120_000)


def test_what_is_no_list_is_refused_in_words(bench: Bench):
    inside = bench.question("batch")
    choose(bench, "big.csv", b"x" * 5_100_000)
    inside.get_by_text("The list is larger than 5 MB").wait_for(timeout=60_000)
    choose(bench, "list.exe", b"MZ")
    inside.get_by_text("list.exe is none of").wait_for(timeout=60_000)
    choose(bench, "broken.parquet", b"no such thing")
    inside.get_by_text("not a whole Parquet file").wait_for(timeout=60_000)
    choose(bench, "columns.csv", b"a,b\n1,2\n")
    inside.get_by_text("the table has no column formula").wait_for(timeout=60_000)


def test_a_list_can_be_dropped_on_the_section_and_leaves_the_formula_alone(bench: Bench):
    bench.row(1, "ethyl butyrate", "1.6")
    inside = bench.question("batch")
    inside.get_by_role("button", name="Choose a list").wait_for()
    bench.page.evaluate(
        """(text) => {
          const files = new DataTransfer();
          files.items.add(new File([text], 'dropped.csv'));
          document.querySelector('.zone').dispatchEvent(
            new DragEvent('drop', {dataTransfer: files, bubbles: true, cancelable: true}));
        }""",
        a_list(2).decode(),
    )
    inside.get_by_text("dropped.csv: 2 of 2 formulas answered.").wait_for(timeout=120_000)
    assert bench.materials() == ["ethyl butyrate"]
