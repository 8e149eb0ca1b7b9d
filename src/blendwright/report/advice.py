"""Advice and carriers on the terminal: what to do first, then what it costs."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Console
from rich.padding import Padding
from rich.text import Text

from blendwright.estimate import Estimate, to_celsius
from blendwright.questions.advice.advise import Advice, RecipeState, Way
from blendwright.questions.advice.carriers import InCarrier
from blendwright.report.terminal import number, numbers_table
from blendwright.report.thermometer import dissolved_mark
from blendwright.verdict import listed
from blendwright.verdict.cautions import CAUTIONS, USE_IN_FOOD

_LIQUID = {"clear": "clear", "may_cloud": "hazy?", "splits": "layers", "unknown": "?"}
_IN_WATER = {
    "clear": "clear",
    "trace": "trace",
    "may_cloud": "hazy?",
    "hazy": "hazy",
    "oil_ring": "oil ring",
    "oil_sinks": "oil sinks",
    "crystals": "crystals",
    "unknown": "?",
}
SEEN_g = 0.005


def print_advice(advice: Advice, out: Console) -> None:
    """The ways in their order, or what comes nearest; each with its grams where they change."""
    out.print(Text(f"{advice.name}: wanted " + " and ".join(g.words for g in advice.goals), "bold"))
    if advice.is_met:
        out.print(Text("It meets that already, by the best estimate. Nothing to change."))
    for place, way in enumerate(advice.ways, start=1):
        _print_way(f"{place}.", way, out)
    for note in advice.notes:
        out.print(Text(f"{note[:1].upper()}{note[1:]}."))
    for way in advice.nearest:
        _print_way("-", way, out)
    out.print(Text("As it is: " + stands(advice.now)))
    out.print()
    out.print(
        Text("Best estimates, each checked by a new assessment; try a small batch.", style="dim")
    )
    for caution in (CAUTIONS[0], USE_IN_FOOD):
        out.print(Text(caution, style="dim"))


def _print_way(mark: str, way: Way, out: Console) -> None:
    """What to do; then what the same strength needs, where it stands, and its price."""
    out.print(Text(f"{mark} {way.words}", style="bold"))
    lines = [] if way.kind == "warm" else [f"then: {stands(state)}" for state in way.states]
    lines += [f"strength: {way.strength}"] if way.strength else []
    lines += [f"price: {'; '.join(way.price)}"]
    for line in lines:
        out.print(Padding(Text(line), (0, 0, 0, 3)))


def stands(state: RecipeState) -> str:
    """Where a formula stands, in one line."""
    parts, here = [], f"{to_celsius(state.temperature_K):.0f} °C"
    if state.chance_of_layers is not None:
        parts.append(f"chance of layers {state.chance_of_layers * 100.0:.0f} % at {here}")
    if state.dissolves_K is not None:
        at_K = state.dissolves_K
        best = Estimate.ok(at_K, at_K, at_K, "K", "best estimate")
        parts.append(dissolved_mark(best).figure_words)
    if state.flash_K is not None and state.flash_low_K is not None:
        flash_C, low_C = to_celsius(state.flash_K), to_celsius(state.flash_low_K)
        parts.append(f"flash point {flash_C:.0f} °C (low end {low_C:.0f})")
    return ", ".join(parts) or "unknown"


def print_carriers(name: str, carriers: Sequence[InCarrier], out: Console) -> None:
    """One line a carrier."""
    out.print(Text(f"{name}: the same aromatics in other carriers", style="bold"))
    bench = f"{to_celsius(carriers[0].bench_K):.3g} °C"
    for sentence in _best(carriers, bench):
        out.print(Text(sentence))
    out.print()
    table = numbers_table(
        ("Carrier", "4 °C", bench, "dissolved", "flash", "GHS", "g/mL", "in water")
    )
    for row in carriers:
        table.add_row(
            row.carrier,
            _place(row.cold, row.cold_crystals_g),
            _place(row.bench, row.bench_crystals_g),
            _celsius(row.dissolves),
            _span(row.flash),
            row.treat_as,
            _density(row.density),
            _IN_WATER[row.in_water],
        )
    out.print(table)
    out.print()
    out.print(
        Text(
            "+x: crystals stay. Dissolved: fully above this temperature, °C. Flash point: "
            "best estimate and low end, °C. GHS: the category to treat it as. g/mL at the bench. "
            "In water: two drops in 100 mL at 20 °C, a usual tasting dose (common practice, no "
            "source). Taste decides whether the flavour is as good.",
            style="dim",
        )
    )
    for row in carriers:
        if row.counted:
            out.print(Text(f"Counted in {row.carrier}: {'; '.join(row.counted)}.", style="dim"))
    out.print(Text(CAUTIONS[0], style="dim"))


def _best(carriers: Sequence[InCarrier], bench: str) -> list[str]:
    """Which carriers keep it clear and dissolved, and which of them flashes highest."""
    good = [row for row in carriers if _is_clear(row) and not row.now]
    if not good:
        return [f"None of these carriers keeps it clear and dissolved at 4 °C and {bench}."]
    names = listed([row.carrier for row in good])
    told = [f"Clear and dissolved at 4 °C and {bench} in: {names}."]
    known = [row for row in good if row.flash.is_ok]
    if known:
        high = max(known, key=lambda row: row.flash.interval()[1])
        value, low, _ = (to_celsius(kelvin) for kelvin in high.flash.interval())
        told.append(
            f"Highest flash point of these: {high.carrier}, {value:.0f} °C (low end {low:.0f})."
        )
    return told


def _is_clear(row: InCarrier) -> bool:
    """Clear and without crystals at both temperatures; an unknown is not clear."""
    places = ((row.cold, row.cold_crystals_g), (row.bench, row.bench_crystals_g))
    return all(word == "clear" and (g is not None and g <= SEEN_g) for word, g in places)


def _place(word: str, crystals_g: float | None) -> str:
    crystals = crystals_g is not None and crystals_g > SEEN_g
    return f"{_LIQUID[word]}+x" if crystals else _LIQUID[word]


def _celsius(estimate: Estimate) -> str:
    shown = estimate.in_display_units()
    if shown.value is None:
        return {"not_applicable": "none", "unknown": "?"}.get(shown.status, "-")
    return number(shown.value, "°C")


def _span(estimate: Estimate) -> str:
    shown = estimate.in_display_units()
    if shown.value is None or shown.low is None:
        return {"not_applicable": "none", "unknown": "?"}.get(shown.status, "> 350")
    return f"{shown.value:.0f} ({shown.low:.0f})"


def _density(estimate: Estimate) -> str:
    shown = estimate.in_display_units()
    return f"{shown.value:.3f}" if shown.value is not None else "?"
