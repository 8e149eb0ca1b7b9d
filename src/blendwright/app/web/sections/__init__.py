"""The page's questions, one module each; the row of tabs stands in this order.

A section is a key of the texts (`tab.<key>`, `section.<key>`) and a function that lays it out when
it is first opened. To add one: write a module with a `SECTION`, and put it into the list.
"""

from __future__ import annotations

from blendwright.app.web.sections import (
    batch,
    burn,
    carriers,
    compare,
    dose,
    fix,
    materials,
    notes,
    papers,
    trust,
    volumes,
    warm,
)
from blendwright.app.web.sections.section import Section

SECTIONS: tuple[Section, ...] = (
    trust.SECTION,
    fix.SECTION,
    warm.SECTION,
    dose.SECTION,
    carriers.SECTION,
    burn.SECTION,
    volumes.SECTION,
    papers.SECTION,
    compare.SECTION,
    notes.SECTION,
    materials.SECTION,
    batch.SECTION,
)

__all__ = ["SECTIONS", "Section"]
