"""The dose as a person at the bench reads it: clear or not first, then how much, then mg/kg."""

from __future__ import annotations

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from blendwright.estimate import per_cent, to_celsius
from blendwright.questions.drink.dosing import Dosed
from blendwright.questions.drink.finished_drink import InDrink
from blendwright.report.terminal import numbers_table, print_findings
from blendwright.verdict import listed
from blendwright.verdict.dissolution_and_layers import SURELY_CLEAR_BELOW
from blendwright.verdict.dosing import amount, two_digits

LEAST_DROP = 0.95
DOSE_WORDS = {
    "clear": "clear",
    "trace": "a trace of oil, hardly visible",
    "may_cloud": "may cloud",
    "hazy": "hazy",
    "oil_ring": "an oil ring",
    "oil_sinks": "oil at the bottom",
    "crystals": "crystals",
    "unknown": "unknown",
}


def print_dose(dosed: Dosed, out: Console) -> None:
    """The whole report."""
    celsius = to_celsius(dosed.temperature_K)
    out.print(
        Text(
            f"{dosed.weighing.formula.name}: {dosed.dose.words} of {dosed.drink.name}, "
            f"{celsius:.3g} °C",
            style="bold",
        )
    )
    answers = Table.grid(padding=(0, 2))
    answers.add_column(no_wrap=True)
    for question, answer in verdict_lines(dosed):
        answers.add_row(question, answer)
    out.print(answers)
    out.print()
    print_findings(dosed.findings, out)
    _print_rows("Pure material", dosed.materials, out)
    if dosed.has_dilutions:
        _print_rows("As weighed", dosed.rows, out)
    pure = {one.name for one in dosed.materials}
    if any(one.name not in pure for one in dosed.substances):
        _print_rows("By substance", dosed.substances, out)
    _print_drink(dosed, out)
    for sentence in dosed.said:
        out.print(Padding(Text(f"- {sentence}"), (0, 0, 0, 2)))


def verdict_lines(dosed: Dosed) -> list[tuple[str, str]]:
    """The plain answers: (question, answer)."""
    chance = dosed.appearance.chance
    word = DOSE_WORDS[dosed.word]
    if dosed.word == "clear" and chance is not None and chance >= SURELY_CLEAR_BELOW:
        word = f"probably {word}"
    likely = f" (chance of haze {per_cent(chance)})" if chance is not None else ""
    first = listed(dosed.first_out)
    if dosed.appearance.oil_kg_m3 > 0.0:
        comes = f"{amount(dosed.appearance.oil_kg_m3)} of oil by the best estimate, mostly {first}"
    elif dosed.appearance.crystals:
        comes = f"crystals of {listed(dosed.appearance.crystals)}"
    elif dosed.word == "unknown":
        comes = "unknown"
    else:
        comes = f"nothing; at a larger dose first {first}" if first else "nothing"
    return [
        ("Clear?", word + likely),
        ("Clear up to", largest_words(dosed)),
        ("Separates", comes),
    ]


def largest_words(dosed: Dosed) -> str:
    """The largest dose that stays clear, in mL and drops to the drink that was asked about."""
    found = dosed.largest_clear
    if found.status == "not_applicable":
        return f"any: {'; '.join(found.notes)}"
    if not found.is_ok:
        return f"{'unknown' if found.status == 'unknown' else 'none'}: {'; '.join(found.notes)}"
    value, low, high = (v * dosed.dose.per_mL / 1e3 for v in found.interval())
    drops = value / dosed.dose.drop_mL
    count = f"{two_digits(drops)} drops" if drops >= LEAST_DROP else "less than a drop"
    span = f"{two_digits(low)} to {two_digits(high)}"
    return f"{two_digits(value)} mL in {dosed.dose.per_mL:g} mL ({span}), {count}"


def _print_rows(head: str, rows: tuple[InDrink, ...], out: Console) -> None:
    """mg/kg of each; what comes out of it only where anything does."""
    oil = any(row.oil_mg_L > 0.0 for row in rows)
    solid = any(row.crystals_pct > 0.0 for row in rows)
    heads = [head, "mg/kg"]
    heads += ["as oil, mg/L", "% of it"] if oil else []
    heads += ["as crystals, %"] if solid else []
    table = numbers_table(heads)
    for row in rows:
        cells = [row.name, mg_kg_cell(row.mg_kg)]
        cells += [two_digits(row.oil_mg_L), f"{row.oil_pct:.0f}"] if oil else []
        cells += [f"{row.crystals_pct:.0f}"] if solid else []
        table.add_row(*cells)
    table.add_row("total", mg_kg_cell(sum(row.mg_kg for row in rows)), *[""] * (len(heads) - 2))
    out.print(table)
    out.print()


def mg_kg_cell(value: float) -> str:
    return f"{value:.3g}" if value < 999.5 else f"{value:.0f}"


def _print_drink(dosed: Dosed, out: Console) -> None:
    drink = dosed.finished
    grams, low, high = dosed.dose_mass.in_display_units().interval()
    holds = [f"{drink.flavour_g_L:.2g} g/L of concentrate"]
    holds += [f"{drink.ethanol_pct_vol:.3g} % vol"] if drink.ethanol_pct_vol >= 0.005 else []
    holds += [f"{drink.sugar_g_L:.3g} g/L sugar"] if drink.sugar_g_L else []
    out.print(
        Text(
            f"The dose weighs {grams:.3g} g ({low:.3g} to {high:.3g}). The finished drink holds "
            f"{', '.join(holds)}. One drop counts as {dosed.dose.drop_mL:g} mL (0.05 is common "
            "practice, no source): count your own."
        )
    )
    out.print()
