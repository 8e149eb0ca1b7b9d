"""The flame pictogram of GHS (GHS02) from the standard's geometry, drawn by this program.

A square set on one of its points, a red frame wide enough to be seen, a black symbol on white:
GHS rev. 9, 1.4.10.4.2 (from memory). The standard names the colour red and no shade of it, and
lays down no outline of the flame; both are this program's own. It stands for flammable liquids of
categories 1 to 3; category 4 has none (GHS rev. 9, table 2.6.2, from memory).
"""

from __future__ import annotations

CATEGORIES = ("1", "2", "3")
HALF_DIAGONAL = 50.0  # of the square, in the drawing's own units
FRAME = 6.5  # the frame's width
RED, BLACK, WHITE = "#d40000", "#000000", "#ffffff"
FLAME = (
    "M 2 -32 C 5 -21 17 -14 17 3 C 17 12 11 18 2 19 L -3 19 C -12 18 -17 11 -17 3 "
    "C -17 -4 -13 -8 -12 -15 C -8 -12 -6.5 -8.5 -6.5 -5 C -1 -11 4 -20 2 -32 Z"
)
HEART = (
    "M 1 -7 C 3 0 9 3 9 10 C 9 15 5 17 1 17 C -4 17 -8 14 -8 9.5 C -8 6 -6 4 -5 0 "
    "C -2.5 2 -1.5 4 -1.5 6.5 C 1 3 2.5 -1 1 -7 Z"
)
LINE = (-19.0, 22.0, 38.0, 4.0)  # the line under the flame: left, top, width, height


def flame_pictogram() -> bytes:
    """The pictogram as an SVG file; its size is set where it is used."""
    corner = HALF_DIAGONAL - FRAME / 2.0 * 2.0**0.5  # the frame's middle line
    square = f"M 0 {-corner:.2f} L {corner:.2f} 0 L 0 {corner:.2f} L {-corner:.2f} 0 Z"
    left, top, width, height = LINE
    size = 2.0 * HALF_DIAGONAL
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{-HALF_DIAGONAL:g} {-HALF_DIAGONAL:g} '
        f'{size:g} {size:g}"><path d="{square}" fill="{WHITE}" stroke="{RED}" '
        f'stroke-width="{FRAME:g}" stroke-linejoin="miter"/>'
        f'<path d="{FLAME}" fill="{BLACK}"/><path d="{HEART}" fill="{WHITE}"/>'
        f'<rect x="{left:g}" y="{top:g}" width="{width:g}" height="{height:g}" fill="{BLACK}"/>'
        "</svg>"
    ).encode()
