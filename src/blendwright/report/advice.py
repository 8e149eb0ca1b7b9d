"""Advice and carriers on the terminal: what to do first, then what it costs."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from blendwright.advice.advise import Advice, State
from blendwright.advice.carriers import InCarrier
from blendwright.estimate import Estimate
from blendwright.report.dose import DOSE_WORDS
from blendwright.report.terminal import number
from blendwright.verdict.cautions import CAUTIONS

_LIQUID = {"clear": "clear", "may_cloud": "hazy?", "splits": "layers", "unknown": "?"}
SEEN_g = 0.005
CARRIER_WIDTH = 20


def print_advice(advice: Advice, out: Console) -> None:
    """The ways, the smallest first; each with its grams where they change."""
    out.print(Text(f"{advice.name}: wanted " + " and ".join(g.words for g in advice.goals), "bold"))
    out.print()
    out.print(Text("As it is: " + _stands(advice.now)))
    out.print()
    if advice.is_met:
        out.print(Text("It is that already, by the best estimate. Nothing to change."))
    for place, way in enumerate(advice.ways, start=1):
        out.print(Text(f"{place}. {way.words}", style="bold"))
        out.print(Padding(Text(f"price: {'; '.join(way.price)}"), (0, 0, 0, 3)))
        if way.kind not in ("warm", "two_bottles"):
            out.print(Padding(Text("then: " + _stands(way.state)), (0, 0, 0, 3)))
    for note in advice.notes:
        out.print(Text(note))
    out.print()
    out.print(
        Text("By the best estimate, checked by a fresh assessment; try a small batch.", style="dim")
    )
    out.print(Text(CAUTIONS[0], style="dim"))


def _stands(state: State) -> str:
    parts, here = [], f"{state.temperature_K - 273.15:.0f} °C"
    if state.chance_of_layers is not None:
        parts.append(f"chance of layers {state.chance_of_layers:.0%} at {here}")
    if state.dissolves_K is not None:
        parts.append(f"last crystals go at {state.dissolves_K - 273.15:.0f} °C")
    if state.flash_K is not None and state.flash_low_K is not None:
        parts.append(
            f"flash point {state.flash_K - 273.15:.0f} °C (from {state.flash_low_K - 273.15:.0f})"
        )
    return ", ".join(parts) or "unknown"


def print_carriers(name: str, carriers: Sequence[InCarrier], out: Console) -> None:
    """One line a carrier."""
    out.print(Text(f"{name}: the same aromatics in other carriers", style="bold"))
    out.print()
    bench = f"{carriers[0].bench_K - 273.15:.0f} °C"
    heads = ("Carrier", "4 °C", bench, "gone at", "flash °C", "GHS", "g/mL", "in water")
    table = Table.grid(padding=(0, 2))
    for place in range(len(heads)):
        words = place in (0, 1, 2, 7)
        table.add_column(
            max_width=CARRIER_WIDTH if place == 0 else None,
            no_wrap=place > 0,
            justify="left" if words else "right",
        )
    table.add_row(*(Text(head, style="bold") for head in heads))
    for row in carriers:
        table.add_row(
            row.carrier,
            _place(row.cold, row.cold_crystals_g),
            _place(row.bench, row.bench_crystals_g),
            _celsius(row.dissolves),
            _span(row.flash),
            row.category,
            _density(row.density),
            DOSE_WORDS[row.in_water],
        )
    out.print(table)
    out.print()
    out.print(
        Text(
            "+ x: crystals stay. Gone at: °C where the last ones dissolve. Flash: best estimate "
            "and low end, °C. g/mL at the bench. In water: two drops in 100 mL at 20 °C, a usual "
            "tasting dose (common practice, no source). Whether the flavour is as good is for the "
            "tongue.",
            style="dim",
        )
    )
    for row in carriers:
        if row.counted:
            out.print(Text(f"Counted in {row.carrier}: {'; '.join(row.counted)}.", style="dim"))
    out.print(Text(CAUTIONS[0], style="dim"))


def _place(word: str, crystals_g: float | None) -> str:
    crystals = crystals_g is not None and crystals_g > SEEN_g
    return f"{_LIQUID[word]} + x" if crystals else _LIQUID[word]


def _celsius(estimate: Estimate) -> str:
    edge = estimate.at_the_edge()
    if edge.value is None:
        return {"not_applicable": "none", "unknown": "?"}.get(edge.status, "-")
    return number(edge.value, "°C")


def _span(estimate: Estimate) -> str:
    edge = estimate.at_the_edge()
    if edge.value is None or edge.low is None:
        return {"not_applicable": "none", "unknown": "?"}.get(edge.status, "> 350")
    return f"{edge.value:.0f} ({edge.low:.0f})"


def _density(estimate: Estimate) -> str:
    edge = estimate.at_the_edge()
    return f"{edge.value:.3f}" if edge.value is not None else "?"
