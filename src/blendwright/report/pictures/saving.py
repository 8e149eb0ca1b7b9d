"""A figure into an SVG or PNG file, the same bytes every time."""

from __future__ import annotations

import io
from pathlib import Path
from typing import TYPE_CHECKING

from blendwright.report.pictures.canvas import DPI, drawing
from blendwright.version import __version__

if TYPE_CHECKING:
    from matplotlib.figure import Figure

FORMATS = ("svg", "png")


def picture_bytes(figure: Figure, kind: str) -> bytes:
    """The file's content; `kind` is "svg" or "png". Raises ValueError for any other."""
    if kind not in FORMATS:
        raise ValueError(
            f"a picture can't be saved as {kind!r}; possible are {' and '.join(FORMATS)}"
        )
    maker = f"blendwright {__version__}"
    metadata: dict[str, str | None] = (
        {"Date": None, "Creator": maker, "Title": str(figure.get_label())}
        if kind == "svg"
        else {"Software": maker}
    )
    out = io.BytesIO()
    with drawing():
        figure.savefig(out, format=kind, dpi=DPI, metadata=metadata)
    return out.getvalue()


def save(figure: Figure, path: str | Path) -> None:
    """Write a picture; its suffix, .svg or .png, says which kind.

    Raises ValueError for any other suffix, OSError where it can't be written.
    """
    path = Path(path)
    suffix = path.suffix.lower()
    if suffix.lstrip(".") not in FORMATS:
        raise ValueError(
            f"{path.name}: a picture's file ends in "
            f"{' or '.join('.' + kind for kind in FORMATS)}, not {suffix or 'nothing'!r}"
        )
    path.write_bytes(picture_bytes(figure, suffix.lstrip(".")))
