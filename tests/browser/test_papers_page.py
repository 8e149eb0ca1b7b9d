"""Papers made on the page: opened in a tab of their own under a strict policy, or saved."""

from __future__ import annotations

import io
import json
import zipfile
from typing import Any

from tests.browser.conftest import Bench
from tests.browser.test_accessible import grave


def asked(bench: Bench, kind: str = "") -> Any:
    inside = bench.question("papers")
    if kind:
        inside.get_by_role("radio", name=kind).click()
    inside.get_by_role("button", name="Make them").click()
    bench.answered("papers")
    inside.get_by_role("link", name="Save").wait_for(timeout=60_000)
    return inside


def test_papers_open_to_print_and_run_nothing(windows):
    bench = windows().open()
    bench.row(1, "ethyl butyrate", "1.6")
    bench.row(2, "vanillin", "0.4")
    bench.row(3, "propylene glycol", "8")
    bench.page.get_by_label("Name", exact=True).first.fill("<script>alert(1)</script> pear")
    bench.settled()
    inside = bench.question("papers")
    for paper in ("Data sheet", "Labels"):
        inside.get_by_role("checkbox", name=paper).click()
    inside.get_by_text("What else you measured").click()
    inside.get_by_label("One a line").fill("flash point=41 °C, ISO 2719\npH=4.1")
    inside.get_by_label("Lot").fill("PC-014")
    inside = asked(bench)
    assert "\n".join(grave(bench)) == ""
    with (
        bench.page.context.expect_page() as opened,
        bench.page.context.expect_event("response", lambda r: "/downloads/" in r.url) as answered,
    ):
        inside.get_by_role("link", name="Open it in a new tab").click()
    policy = answered.value.headers["content-security-policy"]
    assert "default-src 'none'" in policy
    paper = opened.value
    errors: list[str] = []
    paper.on("console", lambda m: errors.append(m.text) if m.type == "error" else None)
    paper.wait_for_url("**/downloads/**", wait_until="load")
    paper.reload()
    words = paper.locator("body").inner_text()
    assert "<script>alert(1)</script> pear" in words
    assert "PC-014" in words
    assert "41 °C, ISO 2719" in words
    assert paper.locator("script").count() == 0
    assert errors == []
    address = paper.url
    paper.close()

    stranger = windows().open()
    assert stranger.page.request.get(address).status == 404


def test_papers_as_workbook_and_data(bench: Bench):
    bench.row(1, "ethyl butyrate", "1.6")
    bench.row(2, "propylene glycol", "8.4")
    bench.settled()
    inside = asked(bench, "XLSX")
    book = bench.download(inside.get_by_role("link", name="Save")).read_bytes()
    assert "xl/workbook.xml" in zipfile.ZipFile(io.BytesIO(book)).namelist()
    inside.get_by_role("radio", name="JSON").click()
    inside.get_by_role("button", name="Make them").click()
    inside.get_by_role("link", name=".json").wait_for(timeout=60_000)
    data = json.loads(bench.download(inside.get_by_role("link", name="Save")).read_text())
    assert data["schema"] == "blendwright/report/1"
    bench.cell("Grams", 1).fill("2")
    inside.get_by_text("as it was before").wait_for(timeout=60_000)


def test_nothing_chosen_and_a_wrong_date_are_told(bench: Bench):
    bench.row(1, "ethyl butyrate", "1.6")
    bench.settled()
    inside = bench.question("papers")
    for paper in ("Bench sheet", "Technical sheet"):
        inside.get_by_role("checkbox", name=paper).click()
    inside.get_by_role("button", name="Make them").click()
    inside.get_by_text("Choose at least one paper.").wait_for(timeout=60_000)
