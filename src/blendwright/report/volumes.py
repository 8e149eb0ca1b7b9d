"""The bench's numbers on the screen: grams, millilitres and drops; weighing order; bottles."""

from __future__ import annotations

from rich.console import Console
from rich.text import Text

from blendwright.estimate import Estimate, per_cent, to_celsius
from blendwright.formula.conditions import BENCH_K
from blendwright.questions.volumes.drops import drops_per_mL
from blendwright.questions.volumes.rounding import Rounding, RoundingEffect
from blendwright.questions.volumes.volumes import BenchSheet, PipettedRow
from blendwright.questions.volumes.weighing_order import ORDER_RULE
from blendwright.report.terminal import LABELS, number, numbers_table, print_findings, volume_cell


def print_volumes(sheet: BenchSheet, out: Console) -> None:
    """The whole sheet: what it fills and what goes into a bottle first, then the rows."""
    scaled = "" if abs(sheet.factor - 1.0) < 1e-9 else f", {sheet.factor:.4g} times as written"
    name, total_g = sheet.weighing.formula.name, sheet.weighing.total_g
    out.print(Text(f"{name}: {total_g:.5g} g{scaled}", style="bold"))
    _print_totals(sheet, out)
    _print_bottles(sheet, out)
    out.print()
    print_findings(sheet.findings, out)
    _print_rows(sheet, out)
    _print_drops(sheet, out)
    out.print()
    _print_steps(sheet, out)
    if sheet.rounding is not None:
        _print_rounding(sheet.rounding, out)


def _print_rows(sheet: BenchSheet, out: Console) -> None:
    digits = _grams_digits(sheet)
    here = f"mL, {to_celsius(sheet.order.temperature_K):.3g} °C"
    table = numbers_table(("Material", "g", "g/mL", here, "90 %", "drops"))
    for line in sheet.rows:
        table.add_row(
            line.row.label,
            f"{line.row.grams:.{digits}f}",
            f"{line.density.value / 1e3:.3f}" if line.density.value else "?",
            volume_cell(line.volume),
            _half_width(line.volume),
            _drops_cell(line),
        )
    table.add_row(
        "total",
        f"{sheet.weighing.total_g:.{digits}f}",
        f"{sheet.density.value / 1e3:.3f}" if sheet.density.value else "?",
        volume_cell(sheet.total),
        _half_width(sheet.total),
        "",
    )
    out.print(table)
    solids = [line.row.label for line in sheet.rows if line.is_crystal]
    if solids:
        words = f"For {', '.join(solids)} the mL are the volume once dissolved."
        out.print(Text(words, style="dim"))
    out.print()


def _grams_digits(sheet: BenchSheet) -> int:
    """As many as the balance shows; 3 without one."""
    if sheet.rounding is None:
        return 3
    text = f"{sheet.rounding.division_g:.10f}".rstrip("0")
    return len(text.partition(".")[2])


def _half_width(estimate: Estimate) -> str:
    if not estimate.is_ok:
        return ""
    _, low, high = estimate.in_display_units().interval()
    return f"±{0.5 * (high - low):.3f}"


def _drops_cell(line: PipettedRow) -> str:
    if line.is_crystal:
        return "weigh it"
    return f"{line.drops.value:.0f}" if line.drops.value is not None else "?"


def _print_totals(sheet: BenchSheet, out: Console) -> None:
    here_K = sheet.order.temperature_K
    at = {here_K: sheet.total, BENCH_K: sheet.total_20C, sheet.order.fill_K: sheet.total_at_fill}
    for kelvin, total in at.items():
        here = f"{to_celsius(kelvin):.3g} °C"
        if total.is_ok:
            value, low, high = total.in_display_units().interval()
            out.print(Text(f"It fills {value:.2f} mL at {here} ({low:.2f} to {high:.2f} mL)."))
        else:
            out.print(Text(f"Its volume at {here} is unknown: {'; '.join(total.notes)}."))


def _print_drops(sheet: BenchSheet, out: Console) -> None:
    per_mL = drops_per_mL(sheet.drop)
    drop_mL = sheet.drop.interval()[0] * 1e6
    usual = sheet.drop.sources == ("common-practice",)
    practice = " (common practice, no source): count your own" if usual else ""
    out.print(
        f"One drop counts as {drop_mL:.3g} mL, {per_mL.interval()[0]:.3g} drops per mL: "
        f"{sheet.drop.method}{practice}. Other liquids make other drops."
    )
    dose = sheet.dose
    grams = dose.mass.in_display_units()
    weighs = f", {grams.value:.2g} g" if grams.value is not None else ""
    measured = f"{dose.volume.interval()[0] * 1e6:.3g} mL{weighs}"
    if dose.is_first_tasting:
        out.print(
            "A usual first tasting dose, two drops in 100 mL of 10 % sugar solution (common "
            f"practice, no source), is {measured}."
        )
    else:
        value, low, high = dose.drops.interval()
        out.print(f"A dose of {measured} is {value:.2g} drops ({low:.2g} to {high:.2g}).")


def _print_steps(sheet: BenchSheet, out: Console) -> None:
    digits = _grams_digits(sheet)
    table = numbers_table(("Weigh in this order", "add g", "display g"))
    for position, step in enumerate(sheet.steps, start=1):
        table.add_row(
            f"{position}. {step.words}",
            f"{step.grams:.{digits}f}",
            f"{step.running_total_g:.{digits}f}",
        )
    out.print(table)
    out.print(Text(f"{ORDER_RULE} Tare the empty beaker once: the display runs on.", style="dim"))
    out.print()


def _print_rounding(found: Rounding, out: Console) -> None:
    digits = len(f"{found.division_g:.10f}".rstrip("0").partition(".")[2])
    table = numbers_table((f"Rounded to {found.division_g:g} g", "wanted", "weighed", "error"))
    for row in found.rows:
        table.add_row(
            row.material,
            f"{row.wanted_g:.4f}",
            f"{row.grams:.{digits}f}",
            f"{100.0 * row.error:+.1f} %",
        )
    out.print(table)
    out.print()
    effects = numbers_table(("Effect of rounding", "wanted", "weighed", "change"))
    for effect in found.effects:
        effects.add_row(*_effect_cells(effect))
    out.print(effects)
    if all(effect.is_within for effect in found.effects):
        words = "Every change is smaller than half of the estimate's own interval."
        out.print(Text(words, style="dim"))
    else:
        moved = ", ".join(LABELS[e.name].lower() for e in found.effects if not e.is_within)
        out.print(Text(f"Changed by more than half of the estimate's interval: {moved}."))
    out.print()


def _effect_cells(effect: RoundingEffect) -> tuple[str, str, str, str]:
    wanted, weighed = effect.wanted.in_display_units(), effect.weighed.in_display_units()
    cells = [
        f"{number(e.value, e.unit)} {e.unit}" if e.value is not None else e.status.replace("_", " ")
        for e in (wanted, weighed)
    ]
    change = ""
    if wanted.value is not None and weighed.value is not None:
        change = f"{weighed.value - wanted.value:+.2g}"
    return LABELS[effect.name], cells[0], cells[1], change


def _print_bottles(sheet: BenchSheet, out: Console) -> None:
    found = sheet.filling
    if found is None:
        return
    bottles = found.bottles
    value, low, high = found.in_each.in_display_units().interval()
    made = sheet.total_at_fill.in_display_units().value
    loss = f", {bottles.needed_mL:g} mL with {per_cent(bottles.loss)} loss" if bottles.loss else ""
    out.print(
        Text(
            f"{bottles.count} bottles of {bottles.fill_mL:g} mL: weigh {value:.2f} g ({low:.2f} to "
            f"{high:.2f} g) into each at {to_celsius(found.fill_K):.3g} °C. They need "
            f"{bottles.total_mL:g} mL{loss}; the batch makes "
            f"{'an unknown volume' if made is None else f'{made:.1f} mL'}."
        )
    )
