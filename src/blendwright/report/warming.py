"""Warming on the terminal: the window in one sentence, the losses, then what to do."""

from __future__ import annotations

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from blendwright.estimate import Estimate, per_cent, to_celsius
from blendwright.questions.warming import InBeaker, RowLoss, Warming
from blendwright.report.terminal import (
    estimate_cells,
    numbers_table,
    print_findings,
    print_observations,
)
from blendwright.verdict.warming import LEAST_RATIO

SHOWN_SHARE = 0.01  # of a row, in the beaker that loses most
HARDLY_ANY = 0.0005
LEAST_PCT = 0.1  # a smaller share is shown as less than this
HOURS_FROM_min, DAYS_FROM_min = 600.0, 4320.0


def verdict_sentence(warming: Warming) -> str:
    """The window and its temperatures in one sentence, and the temperature asked for."""
    found = warming.window
    bench = f"{to_celsius(warming.bench_K):.0f} °C"
    low_end = "the flash point's low end" if found.held is None else found.low_end_words
    margin = f"{found.margin_K:.0f} °C below {low_end}"
    if found.highest_K is None:
        most = f"flash point: {estimate_cells(found.flash)[0]}"
    elif found.highest_K <= warming.bench_K:
        most = f"no warming is safe, as {margin} is {to_celsius(found.highest_K):.0f} °C"
    else:
        most = f"up to {to_celsius(found.highest_K):.0f} °C keeps {margin}"
    target = "" if found.target_K is None else f"{to_celsius(found.target_K):.0f} °C"
    sentence = {
        "safe window": f"Safe to warm to {target}; {most}.",
        "narrow": f"Safe only within narrow limits; {most}. {found.advice}",
        "none": f"No safe warming: {found.why}. Do not warm it.",
        "not needed": f"No warming needed: it dissolves at {bench}; {most}.",
        "unknown": f"Whether warming is safe is unknown: {found.why}. Do not warm it.",
    }[found.word]
    if warming.bath.to_K is None:
        return sentence
    word = {True: "keeps", False: "does not keep", None: "is not known to keep"}
    return (
        f"{sentence} The {to_celsius(warming.bath.to_K):.0f} °C that you asked about "
        f"{word[warming.keeps_margin]} the margin."
    )


def print_warming(warming: Warming, covers: tuple[str, ...], out: Console) -> None:
    """The whole report; `covers` names the beakers shown."""
    weighing = warming.weighing
    out.print(
        Text(
            f"{weighing.formula.name}: {weighing.total_g:.4g} g, warming from "
            f"{to_celsius(warming.bench_K):.0f} °C, {warming.pressure_Pa / 1e3:.1f} kPa",
            style="bold",
        )
    )
    out.print(Text(verdict_sentence(warming)))
    out.print()
    beakers = [beaker for beaker in warming.beakers if beaker.cover in covers]
    _print_losses(warming, beakers, out)
    print_findings(warming.findings, out)
    _print_numbers(warming, beakers, out)
    print_observations(warming.observations, out)
    out.print(Text("How this was calculated", style="bold"))
    for note in warming.notes:
        out.print(Padding(Text(f"- {note}"), (0, 0, 0, 2)))
    out.print(Text("Cautions", style="bold"))
    for caution in warming.cautions:
        out.print(Padding(Text(f"- {caution}"), (0, 0, 0, 2)))
    out.print(
        Text(
            f"blendwright {warming.version}, data {warming.data_version}; "
            "methods and sources: --json",
            style="dim",
        )
    )


def _setting(warming: Warming) -> str:
    freeboard = warming.bath.freeboard_m
    depth = warming.depth_m
    rim = (
        "full to the brim when open, 5 cm below the lid when covered"
        if freeboard is None
        else f"{freeboard * 100:.3g} cm below the rim"
    )
    deep = "" if depth is None else f", {depth * 100:.2g} cm deep"
    return (
        f"{warming.bath.minutes:g} minutes at {to_celsius(warming.at_K):.0f} °C, stirred, in a "
        f"beaker {warming.diameter_m * 100:.2g} cm wide{deep}, {rim}:"
    )


def _print_losses(warming: Warming, beakers: list[InBeaker], out: Console) -> None:
    out.print(Text(_setting(warming)))
    table = numbers_table(
        ("Material", "g", *(head for b in beakers for head in (f"{b.cover}, g", "%", "interval")))
    )
    hidden = 0
    by_row = list(zip(*(beaker.rows for beaker in beakers), strict=True))
    worst = max((row.share.value or 0.0 for rows in by_row for row in rows), default=0.0)
    least = min(SHOWN_SHARE, worst)  # the worst is always shown
    for rows in by_row:
        shares = [row.share.value for row in rows]
        if all(share is not None and share < least for share in shares):
            hidden += 1
            continue
        first = rows[0]
        cells = [cell for row in rows for cell in _loss_cells(row)]
        table.add_row(first.material, f"{first.mass_kg * 1e3:.3f}", *cells)
    known = all(row.share.is_ok for rows in by_row for row in rows)
    if known and worst < HARDLY_ANY:
        out.print(f"No row loses more than {per_cent(HARDLY_ANY, 2)}.")
        out.print()
        return
    out.print(table)
    if hidden:
        rows_lose = "1 row loses" if hidden == 1 else f"{hidden} rows lose"
        out.print(f"{rows_lose} less than {per_cent(least, 1)}.")
    out.print()


def _loss_cells(row: RowLoss) -> tuple[str, str, str]:
    if not row.share.is_ok or row.lost.value is None:
        return "?", "?", "unknown"
    value, low, high = (share * 100.0 for share in row.share.interval())
    shown = [_two_figures(pct) if pct >= LEAST_PCT else "<0.1" for pct in (value, low, high)]
    return f"{row.lost.value * 1e3:.3f}", shown[0], f"{shown[1]}-{shown[2]}"


def _print_numbers(warming: Warming, beakers: list[InBeaker], out: Console) -> None:
    found = warming.window
    at = f"{to_celsius(warming.at_K):.0f} °C"
    bench = f"{to_celsius(warming.bench_K):.0f} °C"
    moved = {
        "  the liquid, vessel 1/10 full": warming.part_filled_flash,
        "  after a day, bottle open": warming.bottle_flash_after,
        **{f"  after the beaker, {b.cover}": b.flash_after for b in beakers},
    }
    lines: list[tuple[str, Estimate]] = [
        ("Fully dissolved above", found.dissolution),
        ("Flash point, closed cup", found.flash),
        *moved.items(),
        ("Vapour reaches limit at", warming.reaches_lower_limit),
        (f"Vapour/limit at {bench}", warming.at_bench.ratio),
    ]
    if warming.at_K != warming.bench_K:
        lines.append((f"Vapour/limit at {at}", warming.when_warm.ratio))
    lines += [
        (f"Lower limit at {at}", warming.when_warm.lower_limit),
        (f"Upper limit at {at}", warming.when_warm.upper_limit),
    ]
    if warming.top_note is not None:
        lines += [(f"10 % of top-note lost, {b.cover}", b.ten_per_cent) for b in beakers]
    table = Table.grid(padding=(0, 2))
    table.add_column(no_wrap=True)
    table.add_column(justify="right", no_wrap=True)
    table.add_column()
    table.add_row(Text("Numbers", style="bold"), "", Text("90 % interval", style="bold"))
    for label, estimate in lines:
        value, span = _cells(estimate)
        shift = warming.shift_K(estimate) if label in moved else None
        table.add_row(label, value, span if shift is None else f"{span}, {shift:+.1f} °C")
    out.print(table)
    if warming.top_note is not None:
        out.print(Text(f"The top-note is {warming.top_note}."))
    out.print()


def _cells(estimate: Estimate) -> tuple[str, str]:
    """As elsewhere, but ratios and times in two figures, times in the unit that suits them."""
    display = estimate.in_display_units()
    if not display.is_ok or display.unit not in ("ratio", "min"):
        return estimate_cells(estimate)
    value, low, high = display.interval()
    if display.unit == "ratio":
        if high < LEAST_RATIO:
            return f"<{LEAST_RATIO} times", ""
        return f"{_two_figures(value)} times", f"{_two_figures(low)} to {_two_figures(high)}"
    unit, minutes = "min", 1.0
    if value >= DAYS_FROM_min:
        unit, minutes = "days", 1440.0
    elif value >= HOURS_FROM_min:
        unit, minutes = "h", 60.0
    shown = [_two_figures(number / minutes) for number in (value, low, high)]
    return f"{shown[0]} {unit}", f"{shown[1]} to {shown[2]}"


def _two_figures(number: float) -> str:
    return f"{number:.0f}" if abs(number) >= 10.0 else f"{number:.2g}"
