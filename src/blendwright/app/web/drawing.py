"""The page's pictures, drawn in a background worker: each with its words and its data.

A maker gives a figure, a sentence for those who don't see it, and the numbers as a table. What it
leans on is imported in the worker that draws.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from blendwright.app.web import figures
from blendwright.app.web.answers import Request, blend_of
from blendwright.app.web.jobs import drivers, two_carriers, warming
from blendwright.estimate import Estimate, per_cent, to_celsius
from blendwright.report.flash_shares import flash_shares

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from blendwright.questions.advice.carriers import InCarrier
    from blendwright.questions.warming import WarmBath
    from blendwright.verdict.contributions import Contribution

PictureParts = tuple["Figure", str, str]  # the figure, what it says, its data as CSV


@dataclass(frozen=True)
class RenderedPicture:
    """A picture's file, what it shows in words, and its data."""

    content: bytes
    words: str
    data: str


def draw(kind: str, maker: Callable[..., PictureParts], *arguments: Any) -> RenderedPicture:
    """Make a picture as "svg" or "png"."""
    from blendwright.report.pictures import picture_bytes

    figure, words, data = maker(*arguments)
    return RenderedPicture(picture_bytes(figure, kind), words, data)


def thermometer(request: Request) -> PictureParts:
    """Freezer, fridge, bench, last crystals, clouding, flash point, the window between."""
    from blendwright.questions.warming import WarmBath
    from blendwright.report.pictures.command_pictures import warming_picture

    found, cloud = warming(request, WarmBath()), blend_of(request).cloud
    named = (
        ("fully dissolved above", found.window.dissolution),
        ("clouds below", cloud),
        ("flash point, closed cup", found.window.flash),
    )
    words = "; ".join(f"{name}: {_words(estimate)}" for name, estimate in named)
    return (
        warming_picture(found, cloud),
        f"Temperatures of {found.weighing.formula.name}: {words}.",
        _table(
            ("what", "value", "low", "high", "unit", "status"),
            ((name, *_cells(estimate)) for name, estimate in named),
        ),
    )


def shares_by_row(rows: tuple[Contribution, ...], title: str) -> PictureParts:
    """Who makes up the vapour, and who makes it flash."""
    from blendwright.report.pictures import shares

    told = flash_shares(rows).sentence
    return (
        shares(rows, title),
        f"Shares of the vapour and of what makes it flash: {told or 'not known'}.",
        _table(
            ("material", "vapour_pct", "flash_pct"),
            ((r.material, f"{r.vapour_pct:.2f}", f"{r.flammability_pct:.2f}") for r in rows),
        ),
    )


def dilution(request: Request) -> PictureParts:
    """The flash point as the formula is let down in its carrier."""
    from blendwright.report.pictures.command_pictures import dilution_picture

    found = drivers(request)
    points = [(f"{100.0 / p.factor:.1f}", *_cells(p.flash), p.liquid) for p in found.curve]
    ends = f"{_words(found.curve[0].flash)} as it is, {_words(found.curve[-1].flash)} at a tenth"
    return (
        dilution_picture(found),
        f"Flash point against the share of the formula in {found.carrier}: {ends}.",
        _table(("share_pct", "value", "low", "high", "unit", "status", "liquid"), points),
    )


def warming_losses(request: Request, bath: WarmBath) -> PictureParts:
    """What each row loses while warm, covered and open."""
    from blendwright.report.pictures import RowLossBars, losses

    found = warming(request, bath)
    covered, opened = found.beakers
    rows = [
        RowLossBars(o.material, o.share, c.share)
        for c, o in zip(covered.rows, opened.rows, strict=True)
    ]
    at = f"{bath.minutes:g} minutes at {to_celsius(found.at_K):.0f} °C"
    worst = max(rows, key=lambda row: row.open.value or 0.0)
    return (
        losses(rows, f"{found.weighing.formula.name}: {at}"),
        f"Losses in {at}; the most, left open: {worst.row}, {_words(worst.open)}.",
        _table(
            (
                "material",
                *(f"{w}{e}_pct" for w in ("open", "covered") for e in ("", "_low", "_high")),
            ),
            ((row.row, *_cells(row.open)[:3], *_cells(row.covered)[:3]) for row in rows),
        ),
    )


def carriers_compared(found: tuple[InCarrier, ...], title: str) -> PictureParts:
    """The aromatics in each carrier: fully dissolved above, flash point, looks."""
    from blendwright.report.pictures import CarrierRow, carrier_rows

    rows = [
        CarrierRow(
            one.carrier, one.dissolves, one.flash,
            f"fridge {_looks(one.cold)}, bench {_looks(one.bench)}",
        )
        for one in found
    ]  # fmt: skip
    told = "; ".join(
        f"{one.carrier}: fully dissolved above {_words(one.dissolves)}, flash {_words(one.flash)}"
        for one in found
    )
    data = (
        (
            one.carrier, *_cells(one.dissolves), *_cells(one.flash), one.cold, one.bench,
            one.in_water, one.category, one.treat_as,
        )
        for one in found
    )  # fmt: skip
    ends = ("", "_low", "_high", "_unit", "_status")
    heads = [f"{what}{end}" for what in ("dissolves", "flash_point") for end in ends]
    last = (
        "at_4C",
        f"at_{to_celsius(found[0].bench_K):g}C",
        "two_drops_in_100_mL_of_water",
        "ghs_category",
        "ghs_treat_as",
    )
    return (
        carrier_rows(rows, title, found[0].bench_K),
        f"These aromatics in {len(found)} carriers. {told}.",
        _table(("carrier", *heads, *last), data),
    )


def _looks(word: str) -> str:
    return {"splits": "layers", "may_cloud": "may cloud"}.get(word, word)


def carrier_triangle(request: Request, pair: str, kelvin: float) -> PictureParts:
    """Where the aromatics stay one clear liquid in two carriers."""
    from blendwright.report.pictures import two_carrier_map

    found = two_carriers(request, pair, kelvin)
    data = (
        (*(f"{share:.3f}" for share in point), f"{chance:.3f}", f"{solid:.4f}")
        for point, chance, solid in zip(found.shares, found.chance, found.undissolved, strict=True)
    )
    clear = float((found.chance < 0.2).mean())
    here = f"Your formula is not on it: it is in {' and '.join(found.replaced)}."
    if found.own is not None:
        own = [_share(*one) for one in zip(found.names, found.own, strict=True)]
        here = f"Your formula: {', '.join(own)}."
    return (
        two_carrier_map(found, request.sheet.name or "formula"),
        f"Map of {found.names[0]} in {found.names[1]} and {found.names[2]} at "
        f"{to_celsius(kelvin):.0f} °C: {per_cent(clear)} of the blends are clear (chance of "
        f"layers below 20 %). {here}",
        _table((*found.names, "chance_of_layers", "undissolved_share"), data),
    )


def _share(name: str, share: float) -> str:
    return f"{per_cent(share)} {name}"


def _words(estimate: Estimate) -> str:
    """As the page writes it beside the picture."""
    value, span = figures.cells(estimate)
    return f"{value} ({span})" if estimate.is_ok else value.replace("_", " ")


def _cells(estimate: Estimate) -> tuple[str, str, str, str, str]:
    shown = estimate.in_display_units()
    if not shown.is_ok:
        return "", "", "", shown.unit, shown.status
    value, low, high = shown.interval()
    return f"{value:.4g}", f"{low:.4g}", f"{high:.4g}", shown.unit, shown.status


def _table(heads: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(heads)
    writer.writerows(rows)
    return out.getvalue()
