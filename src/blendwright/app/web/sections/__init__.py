"""The page's further questions, one module each.

A section is a key of the texts (`section.<key>`) and a function that lays it out when it is first
opened. To add one: write a module with a `SECTION`, and put it into the list.
"""

from __future__ import annotations

from blendwright.app.web.sections import (
    batch,
    burn,
    carriers,
    compare,
    dose,
    fix,
    material,
    notes,
    own,
    papers,
    saved,
    take_along,
    volumes,
    warm,
)
from blendwright.app.web.sections.section import Section

SECTIONS: tuple[Section, ...] = (
    fix.SECTION,
    warm.SECTION,
    burn.SECTION,
    volumes.SECTION,
    dose.SECTION,
    carriers.SECTION,
    compare.SECTION,
    notes.SECTION,
    material.SECTION,
    own.SECTION,
    papers.SECTION,
    batch.SECTION,
    saved.SECTION,
    take_along.SECTION,
)

__all__ = ["SECTIONS", "Section"]
