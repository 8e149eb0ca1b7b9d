"""Papers as one HTML file: no script, nothing fetched, made to be printed on A4 or Letter.

Jinja2 escapes every text; a number carries its unrounded value in a `data` element. Pictures are
data URIs, so that what is in them can't run either.
"""

from __future__ import annotations

import base64
import re
from collections.abc import Sequence
from functools import cache

from jinja2 import Environment, PackageLoader, StrictUndefined

from blendwright.report.papers.contents import (
    Blanks,
    Cell,
    PaperSheet,
    Picture,
    PlainAnswers,
    Sentences,
    Table,
)
from blendwright.report.papers.dossier import Dossier
from blendwright.report.papers.label import Label
from blendwright.report.papers.pictogram import flame_pictogram

_ADDRESS = re.compile(r"\s*\(https?://[^()]*(?:\([^()]*\)[^()]*)*\)")
SECURITY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:"


def html_text(made: Sequence[PaperSheet | Label], dossier: Dossier) -> str:
    """The whole document; each paper begins a new page."""
    template = _environment().get_template("papers.html")
    return template.render(
        papers=made,
        title=_title(made[0]) if made else dossier.name,
        security=SECURITY,
        flame=flame_pictogram(),
    )


def _title(first: PaperSheet | Label) -> str:
    return f"{first.title}: {first.kind if isinstance(first, PaperSheet) else 'label'}"


@cache
def _environment() -> Environment:
    environment = Environment(
        loader=PackageLoader("blendwright.report.papers", "templates"),
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
        undefined=StrictUndefined,
        keep_trailing_newline=True,
    )
    kinds = {
        "answers": PlainAnswers,
        "table": Table,
        "sentences": Sentences,
        "blanks": Blanks,
        "picture": Picture,
        "label": Label,
    }
    for name, kind in kinds.items():
        environment.tests[name] = lambda value, kind=kind: isinstance(value, kind)
    environment.filters["data_uri"] = _data_uri
    environment.filters["full"] = repr
    environment.filters["without_addresses"] = _without_addresses
    return environment


def _without_addresses(cell: Cell) -> Cell:
    """A reference without web addresses: long ones can't be followed from paper, and the other
    formats have them. A DOI stays."""
    return Cell(_ADDRESS.sub("", cell.text), cell.number)


def _data_uri(svg: bytes) -> str:
    return f"data:image/svg+xml;base64,{base64.b64encode(svg).decode()}"
