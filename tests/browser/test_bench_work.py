"""The bench's work: order of weighing, balance, bottles; carriers in one picture."""

from __future__ import annotations

from tests.browser.conftest import Bench


def test_the_work_sheet_has_order_balance_and_bottles(bench: Bench):
    bench.row(1, "ethyl butyrate", "1.6")
    bench.row(2, "vanillin", "0.4")
    bench.row(3, "propylene glycol", "8")
    bench.settled()
    inside = bench.question("volumes")
    inside.get_by_role("row", name="1. propylene glycol (the first part)").wait_for(timeout=60_000)
    assert "0.400 g" in inside.get_by_role("row", name="2. vanillin").inner_text()
    assert "10.000 g" in inside.get_by_role("row", name="4. propylene glycol").inner_text()
    assert "weigh it" in inside.get_by_role("row", name="vanillin").first.inner_text()
    inside.get_by_label("Bottles, count x mL").fill("4x30")
    inside.get_by_label("Brim volume, mL").fill("30.5")
    inside.get_by_label("Balance shows, g").fill("0.1")
    inside.get_by_role("button", name="Calculate").click()
    inside.get_by_text("4 bottles of 30 mL: make 120 mL").wait_for(timeout=60_000)
    inside.get_by_text("at most").first.wait_for()
    inside.get_by_text("On a balance of 0.1 g").wait_for()
    inside.get_by_label("Make so many g").fill("500")
    inside.get_by_role("button", name="Calculate").click()
    inside.get_by_text("Give grams or bottles, not both.").wait_for(timeout=60_000)


def test_carriers_stand_in_one_picture_with_its_data(bench: Bench):
    bench.row(1, "ethyl butyrate", "1.6")
    bench.row(2, "vanillin", "0.4")
    bench.row(3, "propylene glycol", "8")
    bench.settled()
    inside = bench.question("carriers")
    inside.get_by_label("Carriers, one a line").fill("triacetin\nethanol")
    inside.get_by_role("button", name="Put them side by side").click()
    image = inside.locator("img").first
    image.wait_for(timeout=120_000)
    assert "triacetin: fully dissolved above" in image.get_attribute("alt")
    for kind, start in (("SVG", b"<?xml"), ("PNG", b"\x89PNG"), ("CSV", b"carrier,dissolves")):
        button = inside.get_by_role("button", name=f"Carriers side by side as {kind}")
        assert bench.download(button).read_bytes().startswith(start)
