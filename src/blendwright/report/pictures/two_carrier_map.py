"""Where in the triangle of aromatics and two carriers is it one clear liquid?

Read it as any triangle: each corner is 100 % of what it names, and each edge's scale counts towards
the corner that it names. Contours at 20, 40 and 80 % chance of layers
(verdict/dissolution_and_layers.py).
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from blendwright.estimate import per_cent, to_celsius
from blendwright.mixture.parameter_sets import Array
from blendwright.questions.advice.carrier_map import CarrierMap, triangle
from blendwright.report.pictures.canvas import (
    INK,
    MIDDLE,
    PALE,
    PAPER,
    QUIET,
    FOOT_cm,
    INCH_cm,
    MARGIN_cm,
    SMALL_pt,
    TEXT_pt,
    WIDTH_cm,
    fit,
    foot_note,
    number,
    place,
    sheet,
    width_cm,
)
from blendwright.verdict.dissolution_and_layers import CLEAR_BELOW, SPLITS_ABOVE, SURELY_CLEAR_BELOW

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.tri import Triangulation

HEIGHT = math.sqrt(3.0) / 2.0
LEVELS = (SURELY_CLEAR_BELOW, CLEAR_BELOW, SPLITS_ABOVE)
DASHES = ("solid", "dashed", "dotted")
SIDE_cm = 8.2
OVER_cm, UNDER_cm = 0.75, 1.7  # for scales and corner names
LEGEND_ROW_cm = 0.4
TICK = 0.018
SEEN_SHARE = 1e-3  # of the whole: fewer crystals are not seen
FINE_STEPS = 60  # to look for a region's widest place
ROOM_FOR_WORDS = 0.07  # of the side, all round; a narrower region is named in the legend only
_OWN: dict[str, Any] = {
    "marker": "*", "ms": 13.0, "color": INK, "markeredgecolor": PAPER, "markeredgewidth": 1.0,
    "ls": "none", "zorder": 8,
}  # fmt: skip
_CRYSTALS: dict[str, Any] = {"marker": "x", "ms": 4.0, "mew": 0.9, "color": INK, "ls": "none"}
_UNTOLD_CRYSTALS: dict[str, Any] = {**_CRYSTALS, "marker": "o", "mfc": PAPER}
HERE = "you are here"
HERE_GAP_cm = 0.3
UNCERTAIN_HATCH, LAYERS_HATCH, UNTOLD_HATCH = "////", "", "xxxx"


def two_carrier_map(found: CarrierMap, title: str) -> Figure:
    """The triangle: aromatics at the top, first carrier at the left, second at the right."""
    legend_entries = _entries(found)
    legend_cm = max(len(column) for column in legend_entries) * LEGEND_ROW_cm
    triangle_cm = SIDE_cm * HEIGHT + OVER_cm + UNDER_cm
    with sheet(title, triangle_cm + legend_cm) as figure:
        wide_cm = WIDTH_cm - 2 * MARGIN_cm
        axes = place(figure, (MARGIN_cm, FOOT_cm + legend_cm, wide_cm, triangle_cm))
        side = (wide_cm / SIDE_cm - 1.0) / 2.0
        axes.set_xlim(-side, 1.0 + side)
        axes.set_ylim(-UNDER_cm / SIDE_cm, HEIGHT + OVER_cm / SIDE_cm)
        axes.set_axis_off()
        _draw_field(axes, found)
        _draw_frame(axes, found.names)
        _draw_crystals(axes, found)
        _draw_words(axes, found)
        if found.own is not None:
            _draw_own(axes, found.own)
        _legend(figure, legend_entries, legend_cm)
        foot_note(
            figure,
            f"at {number(to_celsius(found.temperature_K))} °C; calculated every "
            f"{number(100.0 / found.steps, 0 if 100 % found.steps == 0 else 1)} %",
        )
    return figure


def _flat(shares: Array) -> tuple[Array, Array]:
    """Where blends lie in a triangle of side 1."""
    return shares[:, 2] + 0.5 * shares[:, 0], HEIGHT * shares[:, 0]


def _mesh(found: CarrierMap) -> Triangulation:
    """The grid's small triangles; those with a corner that can't be told are masked."""
    from matplotlib.tri import Triangulation

    x, y = _flat(found.shares)
    mesh = Triangulation(x, y, _cells(found.steps))
    mesh.set_mask(~np.isfinite(found.chance)[mesh.triangles].all(axis=1))
    return mesh


def _draw_field(axes: Axes, found: CarrierMap) -> None:
    from matplotlib.patches import Polygon

    told = np.isfinite(found.chance)
    if not told.all():
        corners = [(0.0, 0.0), (1.0, 0.0), (0.5, HEIGHT)]
        axes.add_patch(
            Polygon(corners, facecolor=PAPER, edgecolor=QUIET, hatch=UNTOLD_HATCH, lw=0, zorder=0)
        )
    mesh = _mesh(found)
    if mesh.mask is not None and mesh.mask.all():
        return
    chance = np.where(told, found.chance, 0.0)
    axes.tricontourf(
        mesh, chance, levels=(-0.001, LEVELS[0], LEVELS[-1], 1.001),
        colors=(PAPER, PALE, MIDDLE), hatches=("", UNCERTAIN_HATCH, LAYERS_HATCH), zorder=1,
    )  # fmt: skip
    shown = chance[told]
    drawn = [k for k, level in enumerate(LEVELS) if shown.min() < level < shown.max()]
    for k in drawn:
        axes.tricontour(
            mesh, chance, levels=[LEVELS[k]], colors=INK, linestyles=DASHES[k], linewidths=1.2,
            zorder=3,
        )  # fmt: skip


def _cells(steps: int) -> Array:
    """The small triangles of the grid, in the order of `advice.carrier_map.triangle`."""
    index: dict[tuple[int, int], int] = {}
    for i in range(steps + 1):
        for j in range(steps + 1 - i):
            index[i, j] = len(index)
    cells = []
    for i in range(steps):
        for j in range(steps - i):
            cells.append((index[i, j], index[i, j + 1], index[i + 1, j]))
            if j + 1 < steps - i:
                cells.append((index[i, j + 1], index[i + 1, j + 1], index[i + 1, j]))
    return np.array(cells)


def _draw_frame(axes: Axes, names: tuple[str, str, str]) -> None:
    edge = np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0], [1.0, 0.0, 0.0]])
    axes.plot(*_flat(edge), color=INK, lw=1.0, zorder=4)
    # each scale: which share it counts, along which edge, and which way its ticks point
    scales = ((0, 2, 0.0, "left"), (1, 0, 120.0, "right"), (2, 1, 240.0, "right"))
    for counted, other, degrees, align in scales:
        dx, dy = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
        for percent in range(20, 100, 20):
            share = np.zeros((2, 3))
            share[:, counted] = percent / 100.0
            share[0, other] = share[1, 3 - counted - other] = 1.0 - percent / 100.0
            (x0, x1), (y0, y1) = _flat(share)
            axes.plot([x0, x1], [y0, y1], color=QUIET, lw=0.4, ls=(0, (1, 3)), zorder=2)
            axes.plot([x0, x0 + TICK * dx], [y0, y0 + TICK * dy], color=INK, lw=0.8, zorder=4)
            axes.text(
                x0 + 1.6 * TICK * dx, y0 + 1.6 * TICK * dy, f"{percent}", size=SMALL_pt, ha=align,
                va="center" if counted == 0 else "bottom" if counted == 1 else "top",
            )  # fmt: skip
    aside = 0.1
    along_cm = 0.62 * SIDE_cm
    named = [fit(name, along_cm - 2.2, SMALL_pt)[0] for name in names]
    for words, x, y, degrees in (
        (f"← {named[0]}, % by weight", 0.75 + aside, HEIGHT / 2 + aside / 2, -60.0),
        (f"← {named[1]}, % by weight", 0.25 - aside, HEIGHT / 2 + aside / 2, 60.0),
        (f"{named[2]}, % by weight →", 0.5, -0.9 * aside, 0.0),
    ):
        axes.text(
            x, y, words, size=SMALL_pt, rotation=degrees, rotation_mode="anchor", ha="center",
            va="center",
        )  # fmt: skip
    _name_corners(axes, names)


def _name_corners(axes: Axes, names: tuple[str, str, str]) -> None:
    """Under or over its corner, moved inwards where a long name would run off the sheet."""
    left, right = axes.get_xlim()
    low = -UNDER_cm / SIDE_cm + 0.02
    room_cm = WIDTH_cm / 2.0 - 1.5 * MARGIN_cm
    for name, x, y in ((names[0], 0.5, HEIGHT + 0.03), (names[1], 0.0, low), (names[2], 1.0, low)):
        words = fit(name, room_cm, TEXT_pt, bold=True)[0]
        half = 0.5 * width_cm(words, TEXT_pt, bold=True) / SIDE_cm
        at = min(max(x, left + half), right - half)
        axes.text(at, y, words, size=TEXT_pt, weight="bold", ha="center", va="bottom")


def _draw_crystals(axes: Axes, found: CarrierMap) -> None:
    for mask, look in ((_stay(found), _CRYSTALS), (_untold(found), _UNTOLD_CRYSTALS)):
        if mask.any():
            axes.plot(*_flat(found.shares[mask]), zorder=6, clip_on=False, **look)


def _own_label(own: tuple[float, float, float]) -> tuple[float, float, float]:
    """Where "you are here" begins and ends beside the formula's mark, and how high: on the side
    with more room."""
    x, y = (float(values[0]) for values in _flat(np.array([own])))
    wide = (width_cm(HERE, TEXT_pt, bold=True) + HERE_GAP_cm) / SIDE_cm
    gap = HERE_GAP_cm / SIDE_cm
    return (x + gap, x + wide, y) if x <= 0.5 else (x - wide, x - gap, y)


def _draw_own(axes: Axes, own: tuple[float, float, float]) -> None:
    x, y = _flat(np.array([own]))
    axes.plot(x, y, **_OWN)
    left, _, height = _own_label(own)
    axes.text(
        left, height, HERE, size=TEXT_pt, weight="bold", va="center", zorder=8,
        bbox={"facecolor": PAPER, "lw": 0, "pad": 1.0},
    )  # fmt: skip


def _stay(found: CarrierMap) -> NDArray[np.bool_]:
    return np.nan_to_num(found.undissolved) > SEEN_SHARE


def _untold(found: CarrierMap) -> NDArray[np.bool_]:
    return np.isnan(found.undissolved)


def _draw_words(axes: Axes, found: CarrierMap) -> None:
    """Each region's name where it is widest, away from the person's own mark."""
    from matplotlib.tri import LinearTriInterpolator

    fine = triangle(FINE_STEPS)
    at = np.column_stack(_flat(fine))
    chance = LinearTriInterpolator(_mesh(found), np.nan_to_num(found.chance))(at[:, 0], at[:, 1])
    told = ~np.ma.getmaskarray(chance)
    level = np.ma.getdata(chance)
    regions = (
        ("clear", told & (level < LEVELS[0])),
        ("uncertain", told & (level >= LEVELS[0]) & (level <= LEVELS[-1])),
        ("layers", told & (level > LEVELS[-1])),
        ("unknown", ~told),
    )
    own = np.array([[-9.0, 0.0]])
    if found.own is not None:
        left, right, height = _own_label(found.own)
        label = np.linspace(left, right, 9)
        mark = np.column_stack(_flat(np.array([found.own])))
        own = np.vstack([mark, np.column_stack([label, np.full_like(label, height)])])
    for words, region in regions:
        inside = at[region]
        if not len(inside):
            continue
        room = np.min(
            [
                _distance(inside, at[~region]),
                _distance(inside, own),
                fine[region].min(axis=1) * HEIGHT,
            ],
            axis=0,
        )
        best = int(np.argmax(room))
        if room[best] >= ROOM_FOR_WORDS:
            axes.text(
                float(inside[best, 0]), float(inside[best, 1]), words, size=TEXT_pt, weight="bold",
                ha="center", va="center", zorder=7, bbox={"facecolor": PAPER, "lw": 0, "pad": 1.2},
            )  # fmt: skip


def _distance(these: Array, others: Array) -> Array:
    """Distance of each of these to the nearest other one."""
    if not len(others):
        return np.full(len(these), np.inf)
    return np.asarray(cKDTree(others).query(these)[0])


def _entries(found: CarrierMap) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """The legend's two columns: regions, then lines and marks; what isn't on the map is left out.

    An entry with a hatch is a patch, any other a line.
    """
    edge = {"edgecolor": INK, "lw": 0.6}
    first: list[dict[str, Any]] = [
        {
            "label": f"clear: chance below {per_cent(LEVELS[0])}",
            "facecolor": PAPER,
            "hatch": "",
            **edge,
        },
        {
            "label": "uncertain: try a small batch",
            "facecolor": PALE,
            "hatch": UNCERTAIN_HATCH,
            **edge,
        },
        {
            "label": f"layers: chance above {per_cent(LEVELS[-1])}",
            "facecolor": MIDDLE,
            "hatch": LAYERS_HATCH,
            **edge,
        },
    ]
    if not np.isfinite(found.chance).all():
        first.append({"label": "unknown", "facecolor": PAPER, "hatch": UNTOLD_HATCH, **edge})
    second: list[dict[str, Any]] = [
        {"label": f"chance of layers {per_cent(level)}", "color": INK, "lw": 1.2, "ls": dashes}
        for level, dashes in zip(LEVELS, DASHES, strict=True)
    ]
    marks = (
        (found.own is not None, "your formula", _OWN),
        (found.own is None, _elsewhere(found), {"ls": "none"}),
        (_stay(found).any(), "crystals stay undissolved", _CRYSTALS),
        (_untold(found).any(), "crystals unknown", _UNTOLD_CRYSTALS),
    )
    for there, words, look in marks:
        if there:
            column = first if len(first) < len(second) else second
            column.append({"label": words, **look})
    return first, second


def _elsewhere(found: CarrierMap) -> str:
    """That the formula has no point on the map, and what it is in."""
    whence = f", in {' and '.join(found.replaced)}" if found.replaced else ""
    return fit(f"not shown: your formula{whence}", WIDTH_cm / 2.0 - 1.0, SMALL_pt)[0]


def _legend(
    figure: Figure, columns: tuple[list[dict[str, Any]], list[dict[str, Any]]], legend_cm: float
) -> None:
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    height_cm = float(figure.get_size_inches()[1]) * INCH_cm
    for entries, x_cm in zip(columns, (MARGIN_cm, WIDTH_cm / 2.0 + 0.2), strict=True):
        handles = [Patch(**e) if "hatch" in e else Line2D([], [], **e) for e in entries]
        figure.legend(
            handles=handles, loc="upper left", borderpad=0.0, borderaxespad=0.0, handlelength=2.6,
            labelspacing=0.45,
            bbox_to_anchor=(x_cm / WIDTH_cm, (FOOT_cm + legend_cm) / height_cm),
        )  # fmt: skip
